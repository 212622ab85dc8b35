"""The proposals of one arch put together as part of a case."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from recommender.domain.dentition import ARCH_ORDER, arch_of, position, runs
from recommender.orders.as_case import as_case, missing_in
from recommender.orders.consistent import consistent
from recommender.orders.contradictions import without_contradictions
from recommender.orders.corrected import corrected, not_these
from recommender.orders.found import Found
from recommender.orders.model import Proposal, Question
from recommender.orders.options import ONLY_A_REST

_OF_SPACE = "the space it is said of was not read for certain"
_ALL = "said of no space: taken for all"
_SINGLE = "an embrasure clasp lies between two teeth, and one is named"
_THIRD = 8
_THIRDS = "third molars hardly ever are replaced"
_EXTRACTED = "to be extracted: taken for replaced"


@dataclass
class Composed:
    """Part of a case with what it came from, and the questions that came up on the way."""

    case: dict[str, Any]
    proposals: list[Proposal]
    questions: list[Question]


def compose(found: Found, arch: str | None, only: bool) -> Composed:
    """Everything of one arch. ``only``: the order speaks of no other arch, so what names none belongs here."""
    held = [
        one
        for place, one in found.proposals
        if place == arch or (place is None and only) or (None in (place, arch) and _anywhere(one))
    ]
    questions = [
        one for place, one in found.questions if place == arch or (place is None and only) or place is None
    ]
    held += _everywhere(found, arch, held)
    held += _bases(found, arch, held)
    held += _extracted(held)
    held = not_these(corrected(held, found.corrections), found.not_these)
    gone = set(missing_in(held))
    held = [
        one for one in held if not (one.path.startswith("prescription.not.ret") and set(one.teeth) & gone)
    ]
    held = [one for one in held if not _beyond_the_gap(one, held, gone)]
    held, more = without_contradictions(held)
    held = [_beyond_replacing(_paired(one, held)) for one in consistent(held)]
    held += _rests_only(held)
    held, spaces = _spans(held, arch)
    questions = [*questions, *more, *spaces]
    return Composed(as_case(held, arch), _sorted(held), _once(questions))


def _paired(one: Proposal, held: Sequence[Proposal]) -> Proposal:
    """Marks an embrasure clasp on a tooth without one on its neighbour: it lies between two teeth."""
    if one.value != "embrasure" or not one.path.startswith("prescription.retainers[") or one.marked:
        return one
    order = ARCH_ORDER[arch_of(one.teeth[0])]
    at = order.index(one.teeth[0])
    beside = {order[place] for place in (at - 1, at + 1) if 0 <= place < len(order)}
    pairs = {
        other.teeth[0]
        for other in held
        if other.path.startswith("prescription.retainers[") and other.value == "embrasure"
    }
    return one if beside & pairs else replace(one, marked=_SINGLE)


def _beyond_replacing(one: Proposal) -> Proposal:
    """Marks third molars said to be missing apart from others: they hardly ever are replaced."""
    third = one.path == "missing" and not one.marked and all(position(tooth) == _THIRD for tooth in one.value)
    return replace(one, marked=_THIRDS) if third else one


def _rests_only(held: Sequence[Proposal]) -> list[Proposal]:
    """A tooth that has a rest and no clasp: both are proposed where an order states one of them in other words."""
    retainers, rests, ruled_out = (
        {one.teeth[0]: one for one in held if one.path.startswith(f"prescription.{name}[")}
        for name in ("retainers", "rests", "not.retainers")
    )
    made = [
        Proposal(f"prescription.retainers[{tooth}]", "rest_only", one.words, (tooth,), ONLY_A_REST)
        for tooth, one in rests.items()
        if one.value != "none"
        and tooth not in retainers
        and "any" in getattr(ruled_out.get(tooth), "value", ())
    ]
    return made + [
        Proposal(f"prescription.not.retainers[{tooth}]", ["any"], one.words, (tooth,), ONLY_A_REST)
        for tooth, one in retainers.items()
        if one.value == "rest_only" and tooth not in ruled_out
    ]


def _beyond_the_gap(one: Proposal, held: Sequence[Proposal], gone: set[int]) -> bool:
    """Whether a replacement is said of a group of teeth ("the front teeth in metal") and this one of them stands."""
    if not one.path.startswith("prescription.replacements[") or set(one.teeth) & gone:
        return False
    alike = (other for other in held if other.path.startswith("prescription.replacements["))
    return any(other.words == one.words and set(other.teeth) & gone for other in alike)


def _anywhere(proposal: Proposal) -> bool:
    return proposal.path.startswith(("patient.", "occlusion.", "records.", "prescription.alloy"))


def _once(questions: Sequence[Question]) -> list[Question]:
    return list(
        {(one.words.start, one.why): one for one in sorted(questions, key=lambda q: q.words.start)}.values()
    )


def _sorted(held: Sequence[Proposal]) -> list[Proposal]:
    return sorted(held, key=lambda one: (one.words.start, one.path))


def _everywhere(found: Found, arch: str | None, held: Sequence[Proposal]) -> list[Proposal]:
    """A kind that is ruled out without a tooth is ruled out on every tooth of the arch that it could be used on, save
    where it is asked for on one of them."""
    made: list[Proposal] = []
    missing = set(missing_in(held))
    for place, what, words in found.everywhere:
        if arch is None or place not in (None, arch):
            continue
        path, _, identifier = what.partition(":")
        if any(one.path.startswith(f"prescription.{path}[") and one.value == identifier for one in held):
            continue  # "no acetal clasps, better those of resin on 13": other teeth carry one
        wanted = missing if path == "replacements" else set(ARCH_ORDER[arch]) - missing
        for tooth in ARCH_ORDER[arch]:
            if tooth in wanted and position(tooth) < 8:
                mark = "ruled out without a tooth: taken for every tooth"
                made.append(
                    Proposal(f"prescription.not.{path}[{tooth}]", [identifier], words, (tooth,), mark)
                )
    return made


def _bases(found: Found, arch: str | None, held: Sequence[Proposal]) -> list[Proposal]:
    """A replacement named without a tooth is meant for all teeth of the arch that are replaced."""
    named = [(identifier, words) for place, identifier, words in found.bases if place in (None, arch)]
    if named and any(at <= named[-1][1].start for at in found.corrections):
        last = max(at for at in found.corrections if at <= named[-1][1].start)
        named = [one for one in named if one[1].start >= last]
    if len({identifier for identifier, _ in named}) != 1:
        return []
    identifier, words = named[0]
    own = {one.teeth[0] for one in held if one.path.startswith("prescription.replacements[")}
    spoken_of = (found.of_bases.get(words.start, frozenset()) & set(missing_in(held))) - own
    return [
        Proposal(
            f"prescription.replacements[{tooth}]",
            identifier,
            words,
            (tooth,),
            "the teeth named before" if spoken_of else "taken for every missing tooth",
        )
        for tooth in spoken_of or missing_in(held)
        if tooth not in own  # "16 as a metal tooth, the rest in resin"
    ]


def _extracted(held: Sequence[Proposal]) -> list[Proposal]:
    """A tooth that is to be extracted and of which nothing else is said is replaced, as on an immediate denture."""
    known = {tooth for one in held if one.path in ("missing", "absent") for tooth in one.value}
    return [
        Proposal("missing", left, one.words, tuple(left), _EXTRACTED)
        for one in held
        if one.path == "planned_extractions"
        and (left := [tooth for tooth in one.value if tooth not in known])
    ]


def _spans(held: Sequence[Proposal], arch: str | None) -> tuple[list[Proposal], list[Question]]:
    """What is said of a space goes to the run of missing teeth that it names, or to the only one there is."""
    made: list[Proposal] = []
    questions: list[Question] = []
    spaces = runs(arch, set(missing_in(held))) if arch is not None else []
    for one in held:
        if not one.path.startswith("spans["):
            made.append(one)
            continue
        fitting = [space for space in spaces if not one.teeth or set(one.teeth) & set(space)]
        if len(fitting) == 1:
            path = f"spans[{fitting[0][0]}].{one.path.split('.', 1)[1]}"
            unsure = any(p.path == "missing" and p.marked and set(p.value) & set(fitting[0]) for p in held)
            made.append(
                Proposal(path, one.value, one.words, fitting[0], one.marked or (_OF_SPACE if unsure else ""))
            )
        elif not one.teeth and len(fitting) > 1:
            made += [
                Proposal(
                    f"spans[{space[0]}].{one.path.split('.', 1)[1]}",
                    one.value,
                    one.words,
                    space,
                    one.marked or _ALL,
                )
                for space in fitting
            ]
        else:
            questions.append(Question(one.words, "of which space?"))
    return made, questions
