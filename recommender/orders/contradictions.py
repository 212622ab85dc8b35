"""What an order says twice in two ways, or of teeth that are gone: questions, and nothing of both is kept."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace

from recommender.domain import lexicon as lx
from recommender.orders.as_case import missing_in
from recommender.orders.found import AGAIN, LIKELY, PLACED
from recommender.orders.model import LISTS, ON_ROOTS, Proposal, Question

_ALLOY = "prescription.alloy"
# Retainers that are no clasp: a clasp may well be ruled out beside them.
_NO_CLASP = ("rest_only", "none", *ON_ROOTS)
_TORN = "other words of the order contradict a part of it"
_OUTWEIGHS = "more than one is said of this tooth"
_CLASPED = ("prescription.retainers[", "abutments[", "prescription.rests[")


def without_contradictions(held: Sequence[Proposal]) -> tuple[list[Proposal], list[Question]]:
    """The proposals without those that contradict each other, and a question for each contradiction."""
    questions: list[Question] = []
    dropped: set[int] = set()
    dropped_as_general: set[int] = set()
    outweighing: set[int] = set()
    by_path: dict[str, list[int]] = defaultdict(list)
    for index, one in enumerate(held):
        if one.path not in LISTS and not one.path.startswith("prescription.not"):
            by_path[one.path].append(index)
    for path, indices in by_path.items():
        values = [held[index].value for index in indices]
        if path.startswith("prescription.rests["):
            copied = {index for index in indices if held[index].marked == AGAIN}
            if set(values) == {"mesial", "distal"} and not copied:
                continue
            if "mesial_distal" in values and set(values) <= {"mesial", "distal", "mesial_distal"}:
                dropped_as_general |= {index for index in indices if held[index].value != "mesial_distal"}
                continue  # "a double rest (mesial and distal)"
            if copied and copied != set(indices) and len(set(values)) > 1:
                dropped_as_general |= copied  # "13 the same, with a cingulum rest"
                continue
        if path == "patient.allergy" and [] not in values:
            continue
        several = path.startswith("prescription.retainers[") and any(value != values[0] for value in values)
        if several and (general := _general(held, indices)):
            dropped_as_general |= general  # "Akers beside every gap, but 35 RPI"
            continue
        sound = {index for index in indices if held[index].value == "sound"}
        if sound and len({str(held[index].value) for index in indices if index not in sound}) == 1:
            dropped_as_general |= sound  # "a large filling, sound as far as I can tell"
            continue
        ranked = lx.document("order")["outweighs"].get(path.rsplit(".", 1)[-1], ())
        together = len({held[index].words.start for index in indices}) == 1
        if ranked and together and len(set(values)) > 1 and set(values) <= set(ranked):
            first = min(values, key=ranked.index)  # "root treated and filled"
            dropped_as_general |= {index for index in indices if held[index].value != first}
            outweighing |= {index for index in indices if held[index].value == first}
            continue
        if any(value != values[0] for value in values):
            dropped |= set(indices)
            named = " and ".join(dict.fromkeys(f'"{held[index].words.text}"' for index in indices))
            questions.append(
                Question(held[indices[-1]].words, f"contradicts itself: {named}", held[indices[0]].teeth)
            )
    held = [
        replace(one, marked=one.marked or _OUTWEIGHS) if index in outweighing else one
        for index, one in enumerate(held)
    ]
    clashes, more = _clashes(held)
    kept = [one for index, one in enumerate(held) if index not in dropped | dropped_as_general]
    kept = [one for one in kept if not _spared(one, held)]
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
    missing, questions = set(missing_in(held)), []
    absent = {tooth for one in held if one.path == "absent" for tooth in one.value}
    gone = {tooth for one in held if one.path == "planned_extractions" for tooth in one.value}
    clashes: dict[str, set[int]] = {
        name: set() for name in ("clasped", "missing", "not", "connector", "alloy")
    }
    denied = {one.teeth[0]: one for one in held if one.path.startswith("prescription.not.retainers[")}
    roots = {one.teeth[0] for one in held if one.path.endswith("].kind") and _on_root(one)}
    connectors = {value for one in held if one.path == "prescription.not.connector" for value in one.value}
    for one in held:
        tooth = one.teeth[0] if one.teeth else 0
        abutment = one.path.startswith("abutments[")
        if abutment and (tooth in roots or (tooth in gone and not one.path.endswith(".tooth"))):
            continue  # an implant under the denture; how a tooth is that is still to be extracted
        if one.path.startswith(_CLASPED) and tooth in missing | gone and not _on_root(one):
            questions.append(Question(one.words, "this tooth is also said to be missing", (tooth,)))
            clashes["clasped"].add(tooth)
            clashes["missing"] |= {tooth} - gone
        asked = one.path.startswith("prescription.retainers[") and tooth in denied
        asked = asked and one.marked not in PLACED.values()
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


def _general(held: Sequence[Proposal], indices: Sequence[int]) -> set[int]:
    """Of retainers of one tooth those in general words, where the others agree: by place, then by their make."""
    for marks in ((*PLACED.values(),), (*PLACED.values(), LIKELY)):
        general = {index for index in indices if held[index].marked in marks}
        if general and len({str(held[index].value) for index in indices if index not in general}) == 1:
            return general
    return set()


def _spared(one: Proposal, held: Sequence[Proposal]) -> bool:
    """Whether a clasp is asked for by place ("on all teeth beside the gaps") of a tooth that is to carry none."""
    by_place = one.path.startswith("prescription.retainers[") and one.marked in PLACED.values()
    return by_place and any(
        other.path == f"prescription.not.retainers[{one.teeth[0]}]" and {one.value, "any"} & set(other.value)
        for other in held
    )


def _on_root(one: Proposal) -> bool:
    return one.value in ON_ROOTS or (one.path.endswith(".kind") and one.value in ("root", "implant"))


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
