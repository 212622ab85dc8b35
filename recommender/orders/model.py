"""What the order reader hands over: for each arch proposed fields, prohibitions, questions, what stayed unread."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from recommender.domain import lexicon as lx
from recommender.domain.dentition import position, quadrant
from recommender.domain.labels import field_label, field_unit, word_label
from recommender.domain.statement import Choice, Field, Said, Statement, say, several, tooth


@dataclass(frozen=True, slots=True)
class Words:
    """A piece of the order: its text and the characters it covers."""

    text: str
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class Proposal:
    """One field that the order states: a path of the format, its value, the teeth, and the words it came from.

    ``marked`` says in words what a person should look at twice: a misspelling, a short form, something understood.
    """

    path: str
    value: Any
    words: Words
    teeth: tuple[int, ...] = ()
    marked: str = ""


@dataclass(frozen=True, slots=True)
class Question:
    """What a careful reader would ask the dentist before taking the words over.

    ``choice``: only which of several kinds is meant; all others leave the arch, the numbering or the teeth open, or
    name a contradiction.
    """

    words: Words
    why: str
    teeth: tuple[int, ...] = ()
    choice: bool = False


@dataclass(frozen=True)
class ArchOrder:
    """One arch of an order; ``arch`` is ``None`` where it is not settled. ``case``: part of a case, ISO teeth."""

    arch: str | None
    numbering: str
    because: str
    case: Mapping[str, Any]
    proposals: tuple[Proposal, ...]
    ask: tuple[Question, ...]
    unread: tuple[Words, ...]
    withheld: tuple[Words, ...] = field(default=())

    @property
    def ruled_out(self) -> Mapping[str, Any]:
        """What the order forbids, in the form of ``prescription.not``."""
        found: Mapping[str, Any] = self.case.get("prescription", {}).get("not", {})
        return found

    def document(self) -> dict[str, Any]:
        """The answer in the result format."""
        stated = [
            {
                "field": one.path,
                "words": one.words.text,
                "start": one.words.start,
                "end": one.words.end,
                "value": one.value,
                **(
                    {"teeth": {str(tooth): tooth_in_words(tooth) for tooth in one.teeth}} if one.teeth else {}
                ),
                **({"marked": one.marked} if one.marked else {}),
            }
            for one in self.proposals
        ]
        return {
            "format": 1,
            "arch": self.arch,
            "numbering": self.numbering,
            "case": dict(self.case),
            "not": dict(self.ruled_out),
            "ask": [{"words": one.words.text, "why": one.why} for one in self.ask],
            "from": stated,
            "unread": [one.text for one in (*self.unread, *self.withheld)],
            "numbering_because": self.because,
        }


def tooth_in_words(tooth: int) -> str:
    """An ISO tooth as it is said: ``upper left first premolar`` for 24 (names of ISO 3950's teeth in English)."""
    teeth = lx.document("teeth")
    place = next(phrase for phrase in teeth["quadrants"][quadrant(tooth)]["en"])
    return f"{place} {teeth['positions'][position(tooth)]['en'][0]}"


_OPTIONS = {
    "prescription.retainers": "retainer", "prescription.rests": "rest", "prescription.connector": "connector",
    "prescription.replacements": "replacement", "prescription.alloy": "alloy",
}  # fmt: skip
# Fields of a case that are lists of teeth.
LISTS = ("missing", "absent", "planned_extractions", "future_loss_likely")
# Kinds of abutment that lie under the denture.
IN_SADDLE = ("implant", "root")
# Retainers that stand on a tooth or root that counts as missing.
ON_ROOTS = ("stud", "double_crown", "attachment")


def said(one: Proposal) -> Statement:
    """What a proposal says, each tooth by number and name."""
    named = (say("order.tooth", tooth=tooth(one), name=Said(tooth_in_words(one))) for one in one.teeth)
    teeth = several(named)
    plain = one.path.split("[", 1)[0]
    if one.path in LISTS:
        return say(f"order.{one.path}", teeth=teeth or Said("–"))
    if plain.startswith("prescription.not"):
        kind = _OPTIONS[plain.replace(".not", "")]
        ruled = (say("order.any_clasp") if v == "any" else Choice(kind, v) for v in one.value)
        return say("order.ruled_out", options=several(ruled, "or"), teeth=teeth)
    if plain in _OPTIONS:
        return say(
            "order.on" if teeth else "order.as_asked",
            teeth=teeth,
            option=Choice(_OPTIONS[plain], str(one.value)),
        )
    if plain == "abutments" and one.path.endswith(".tooth"):
        return say("order.carries", teeth=teeth)
    value = Said(_value_in_words(one))
    if teeth and plain == "abutments":
        return say(
            "order.of_teeth", teeth=teeth, field=Said(field_label(one.path).split(", ", 1)[-1]), value=value
        )
    return say("order.field", field=Field(one.path), value=value)


def _value_in_words(one: Proposal) -> str:
    kind = lx.kind_of(".".join(part.split("[", 1)[0] for part in one.path.split(".")))
    if isinstance(one.value, bool):
        return "yes" if one.value else "no"
    if isinstance(one.value, list):
        return ", ".join(word_label(kind, str(value)) for value in one.value) or "none"
    if isinstance(one.value, str) and kind:
        return word_label(kind, one.value)
    unit = field_unit(one.path)
    return f"{one.value} {unit}".strip()
