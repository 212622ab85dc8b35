"""The proposals of one arch put together as part of a case; contradictions become questions."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from recommender.domain import lexicon as lx
from recommender.domain.dentition import ARCH_ORDER, arch_of, position, runs
from recommender.domain.fields import split
from recommender.orders.consistent import consistent
from recommender.orders.corrected import corrected
from recommender.orders.found import LIKELY, PLACED, Found
from recommender.orders.model import Proposal, Question

# Retainers that stand on a tooth or root that counts as missing.
_ON_ROOTS = ("stud", "double_crown", "attachment")
LISTS = ("missing", "absent", "planned_extractions", "future_loss_likely")
_ALLOY = "prescription.alloy"
# Retainers that are no clasp: a clasp may well be ruled out beside them.
_NO_CLASP = ("rest_only", "none")
_OF_SPACE = "the space it is said of was not read for certain"
_ALL = "said of no space: taken for all"
_SINGLE = "an embrasure clasp lies between two teeth, and one is named"
_REST_ONLY = "a rest and no clasp"
_EXTRACTED = "to be extracted: taken for replaced"
_TORN = "other words of the order contradict a part of it"
_CLASPED = ("prescription.retainers[", "abutments[", "prescription.rests[")


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
    held = corrected(held, found.corrections)
    gone = set(_missing(held))
    held = [
        one for one in held if not (one.path.startswith("prescription.not.ret") and set(one.teeth) & gone)
    ]
    held = [one for one in held if not _beyond_the_gap(one, held, gone)]
    held, more = _without_contradictions(held)
    held = [_paired(one, held) for one in consistent(held)]
    held += _rests_only(held)
    held, spaces = _spans(held, arch)
    questions = [*questions, *more, *spaces]
    return Composed(_case(held, arch), _sorted(held), _once(questions))


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


def _rests_only(held: Sequence[Proposal]) -> list[Proposal]:
    """A tooth that has a rest and no clasp: both are proposed where an order states one of them in other words."""
    retainers, rests, ruled_out = (
        {one.teeth[0]: one for one in held if one.path.startswith(f"prescription.{name}[")}
        for name in ("retainers", "rests", "not.retainers")
    )
    made = [
        Proposal(f"prescription.retainers[{tooth}]", "rest_only", one.words, (tooth,), _REST_ONLY)
        for tooth, one in rests.items()
        if one.value != "none"
        and tooth not in retainers
        and "any" in getattr(ruled_out.get(tooth), "value", ())
    ]
    return made + [
        Proposal(f"prescription.not.retainers[{tooth}]", ["any"], one.words, (tooth,), _REST_ONLY)
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


def _missing(held: Sequence[Proposal]) -> list[int]:
    return [tooth for one in held if one.path == "missing" for tooth in one.value]


def _everywhere(found: Found, arch: str | None, held: Sequence[Proposal]) -> list[Proposal]:
    """A kind that is ruled out without a tooth is ruled out on every tooth of the arch that it could be used on."""
    made: list[Proposal] = []
    missing = set(_missing(held))
    for place, what, words in found.everywhere:
        if arch is None or place not in (None, arch):
            continue
        path, _, identifier = what.partition(":")
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
    return [
        Proposal(
            f"prescription.replacements[{tooth}]",
            identifier,
            words,
            (tooth,),
            "taken for every missing tooth",
        )
        for tooth in _missing(held)
        if tooth not in own  # "16 as a metal tooth, the rest in resin"
    ]


# contradictions


def _without_contradictions(held: Sequence[Proposal]) -> tuple[list[Proposal], list[Question]]:
    questions: list[Question] = []
    dropped: set[int] = set()
    dropped_as_general: set[int] = set()
    by_path: dict[str, list[int]] = defaultdict(list)
    for index, one in enumerate(held):
        if one.path not in LISTS and not one.path.startswith("prescription.not"):
            by_path[one.path].append(index)
    for path, indices in by_path.items():
        values = [held[index].value for index in indices]
        if path.startswith("prescription.rests[") and set(values) == {"mesial", "distal"}:
            continue
        if path == "patient.allergy" and [] not in values:
            continue
        if path.startswith("prescription.retainers[") and any(value != values[0] for value in values):
            general = {index for index in indices if held[index].marked in (*PLACED.values(), LIKELY)}
            if general and len({str(held[index].value) for index in indices if index not in general}) == 1:
                dropped_as_general |= general  # "Akers beside every gap, but 35 RPI"
                continue
        sound = {index for index in indices if held[index].value == "sound"}
        if sound and len({str(held[index].value) for index in indices if index not in sound}) == 1:
            dropped_as_general |= sound  # "a large filling, sound as far as I can tell"
            continue
        if any(value != values[0] for value in values):
            dropped |= set(indices)
            named = " and ".join(dict.fromkeys(f'"{held[index].words.text}"' for index in indices))
            questions.append(
                Question(held[indices[-1]].words, f"contradicts itself: {named}", held[indices[0]].teeth)
            )
    clashes, more = _clashes(held)
    kept = [one for index, one in enumerate(held) if index not in dropped | dropped_as_general]
    left = [(one, _without(one, clashes)) for one in kept]
    torn = {one.words.start for one, now in left if now is not one} | {
        held[index].words.start for index in dropped
    }
    return [
        replace(now, marked=_TORN)
        if (now.words.start in torn or (clashes["missing"] and now.path == "missing")) and not now.marked
        else now
        for _, now in left
        if now is not None
    ], [*questions, *more]


def _clashes(held: Sequence[Proposal]) -> tuple[dict[str, set[int]], list[Question]]:
    """Teeth said to be missing and to carry something, asked for and ruled out, missing and not to be replaced."""
    missing, questions = set(_missing(held)), []
    absent = {tooth for one in held if one.path == "absent" for tooth in one.value}
    gone = {tooth for one in held if one.path == "planned_extractions" for tooth in one.value}
    clashes: dict[str, set[int]] = {
        name: set() for name in ("clasped", "missing", "not", "connector", "alloy")
    }
    denied = {one.teeth[0]: one for one in held if one.path.startswith("prescription.not.retainers[")}
    connectors = {value for one in held if one.path == "prescription.not.connector" for value in one.value}
    for one in held:
        tooth = one.teeth[0] if one.teeth else 0
        finding = one.path.startswith("abutments[") and not one.path.endswith(".tooth")
        if finding and tooth in gone:
            continue  # how a tooth is that is still to be extracted
        if one.path.startswith(_CLASPED) and tooth in missing | gone and not _on_root(one):
            questions.append(Question(one.words, "this tooth is also said to be missing", (tooth,)))
            clashes["clasped"].add(tooth)
            clashes["missing"] |= {tooth} - gone
        asked = one.path.startswith("prescription.retainers[") and tooth in denied
        if asked and one.value not in _NO_CLASP and {one.value, "any"} & set(denied[tooth].value):
            questions.append(
                Question(one.words, f'asked for here, ruled out with "{denied[tooth].words.text}"')
            )
            clashes["not"].add(tooth)
        if one.path == "prescription.connector" and one.value in connectors:
            questions.append(Question(one.words, "asked for and ruled out"))
            clashes["connector"].add(0)
    allergies = {value for one in held if one.path == "patient.allergy" for value in one.value}
    for one in held:
        within = (
            set(lx.document("order")["allergens_in"].get(str(one.value), ())) if one.path == _ALLOY else set()
        )
        if within & allergies:
            questions.append(Question(one.words, f"this alloy holds {', '.join(sorted(within & allergies))}, to which "
                                      "the patient is said to be allergic"))  # fmt: skip
            clashes["alloy"].add(0)
    both = missing & absent
    for one in held:
        if one.path == "absent" and both & set(one.value) and set(one.value) - missing == set():
            clashes["missing"] |= both & set(one.value)
    return clashes, questions


def _on_root(one: Proposal) -> bool:
    return one.value in _ON_ROOTS or (one.path.endswith(".kind") and one.value in ("root", "implant"))


def _without(one: Proposal, clashes: dict[str, set[int]]) -> Proposal | None:
    tooth = one.teeth[0] if one.teeth else 0
    if one.path.startswith(_CLASPED) and tooth in clashes["clasped"] and not _on_root(one):
        return None
    named = one.path.startswith(("prescription.retainers[", "prescription.not.retainers["))
    if named and tooth in clashes["not"] and one.value not in _NO_CLASP:
        return None
    if clashes["alloy"] and one.path == _ALLOY:
        return None
    if clashes["connector"] and one.path in ("prescription.connector", "prescription.not.connector"):
        return None
    if one.path == "missing" and clashes["missing"] & set(one.value):
        left = [tooth for tooth in one.value if tooth not in clashes["missing"]]
        return Proposal("missing", left, one.words, tuple(left), one.marked) if left else None
    return one


def _extracted(held: Sequence[Proposal]) -> list[Proposal]:
    """A tooth that is to be extracted and of which nothing else is said is replaced, as on an immediate denture."""
    known = {tooth for one in held if one.path in ("missing", "absent") for tooth in one.value}
    return [
        Proposal("missing", left, one.words, tuple(left), _EXTRACTED)
        for one in held
        if one.path == "planned_extractions"
        and (left := [tooth for tooth in one.value if tooth not in known])
    ]


# spaces and the case itself


def _spans(held: Sequence[Proposal], arch: str | None) -> tuple[list[Proposal], list[Question]]:
    """What is said of a space goes to the run of missing teeth that it names, or to the only one there is."""
    made: list[Proposal] = []
    questions: list[Question] = []
    spaces = runs(arch, set(_missing(held))) if arch is not None else []
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


def _case(held: Sequence[Proposal], arch: str | None) -> dict[str, Any]:
    case: dict[str, Any] = {} if arch is None else {"arch": arch}
    missing_by_start = runs(arch, set(_missing(held))) if arch is not None else []
    for one in held:
        if one.path in LISTS:
            teeth = {*case.get(one.path, []), *one.value}
            order = ARCH_ORDER[arch] if arch is not None else sorted(teeth)
            case[one.path] = [tooth for tooth in order if tooth in teeth]
        elif one.path.startswith("prescription.not"):
            rule_out(case.setdefault("prescription", {}).setdefault("not", {}), one)
        else:
            put(case, one, missing_by_start)
    return case


def rule_out(ruled_out: dict[str, Any], one: Proposal) -> None:
    """Add a prohibition to ``prescription.not``, in place."""
    kind = one.path.removeprefix("prescription.not.").split("[", 1)[0]
    if kind == "connector":
        ruled_out["connector"] = list(dict.fromkeys([*ruled_out.get("connector", []), *one.value]))
    else:
        teeth = ruled_out.setdefault(kind, {})
        teeth[one.teeth[0]] = list(dict.fromkeys([*teeth.get(one.teeth[0], []), *one.value]))


def put(case: dict[str, Any], one: Proposal, spaces: Sequence[tuple[int, ...]]) -> None:
    """Set the field of a proposal in plain values of a case, in place; ``spaces`` are the runs of missing teeth."""
    steps = split(one.path)
    head = str(steps[0])
    if head in ("abutments", "spans"):
        tooth, names = int(steps[1]), [str(step) for step in steps[2:]]
        entries = case.setdefault(head, [])
        entry = next((e for e in entries if e.get("tooth") == tooth or tooth in e.get("teeth", ())), None)
        if entry is None:
            space = next((space for space in spaces if tooth in space), (tooth,))
            entry = {"tooth": tooth} if head == "abutments" else {"teeth": list(space)}
            entries.append(entry)
        if names != ["tooth"]:
            _deep(entry, names, one.value)
        return
    if one.path.startswith("prescription.rests["):
        rests = case.setdefault("prescription", {}).setdefault("rests", {})
        before = rests.get(one.teeth[0])
        rests[one.teeth[0]] = "mesial_distal" if {before, one.value} == {"mesial", "distal"} else one.value
        return
    _deep(case, list(steps), one.value)


def _deep(node: dict[Any, Any], steps: Sequence[Any], value: Any) -> None:
    for step in steps[:-1]:
        node = node.setdefault(step, {})
    if isinstance(value, list) and isinstance(node.get(steps[-1]), list):
        value = list(dict.fromkeys([*node[steps[-1]], *value]))
    node[steps[-1]] = value
