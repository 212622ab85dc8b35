"""What the dentist asked for, and where the figures of the case come from, as the letter says them."""

from collections.abc import Mapping, Sequence

from recommender.documents import blocks
from recommender.documents.survey_lines import tilts
from recommender.documents.wording import options_at
from recommender.domain.case import Case
from recommender.domain.designs import Prescription
from recommender.domain.statement import Arg, Choice, Statement, say, several, teeth
from recommender.wording.words import Words


def requested(case: Case, words: Words) -> list[blocks.Block]:
    """The prescription in one sentence, what it rules out, and its note in the dentist's own words."""
    asked = case.prescription
    if asked is None:
        return []
    parts = several(_parts(asked), "semicolon")
    lines = [say("letter.asked", parts=parts) if parts is not None else say("letter.asked_nothing")]
    unwanted = several(_ruled_out(asked), "semicolon")
    if unwanted is not None:
        lines.append(say("letter.ruled_out", parts=unwanted))
    found = [blocks.paragraph(words.text(say("papers.row", parts=several(lines, "space"))))]
    if asked.note:
        found.append(blocks.quoted(asked.note))
    return found


def _parts(asked: Prescription) -> list[Arg]:
    found: list[Arg] = [Choice("connector", asked.connector)] if asked.connector else []
    for kind, choices in (
        ("retainer", asked.retainers),
        ("rest", asked.rests),
        ("replacement", asked.replacements),
    ):
        found += options_at(kind, {tooth: str(option) for tooth, option in (choices or {}).items()})
    return [*found, *([Choice("alloy", asked.alloy)] if asked.alloy else [])]


def _ruled_out(asked: Prescription) -> list[Statement]:
    unwanted = asked.ruled_out
    if unwanted is None:
        return []
    found = [say("papers.row", parts=Choice("connector", option)) for option in unwanted.connector or ()]
    by_kind: tuple[tuple[str, Mapping[int, Sequence[str]]], ...] = (
        ("retainer", unwanted.retainers or {}),
        ("replacement", unwanted.replacements or {}),
    )
    for kind, choices in by_kind:
        for number, options in sorted(choices.items()):
            names = [say("letter.any_clasp") if one == "any" else Choice(kind, str(one)) for one in options]
            found.append(say("papers.at", what=several(names, "or"), teeth=teeth([number])))
    return found


def measured(case: Case) -> list[Statement]:
    """That figures were measured from a scan: of which teeth, at which path, and how it is found again."""
    scanned = case.survey
    if scanned is None or not scanned.confirmed:
        return []
    path = scanned.path
    front, side = tilts(path.tilt_ap_deg, path.tilt_lateral_deg) if path is not None else (None, None)
    tilted = say("letter.path", front=front, side=side) if path is not None else None
    marked = path is not None and path.tripod is not None
    return [
        say(
            "letter.measured",
            teeth=teeth(scanned.confirmed),
            path=tilted,
            tripod=say("letter.tripod") if marked else None,
        )
    ]
