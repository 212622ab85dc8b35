"""Proposals written into a case: lists of teeth, prohibitions, entries of teeth and spaces, fields."""

from collections.abc import Sequence
from typing import Any

from recommender.domain.dentition import ARCH_ORDER, runs
from recommender.domain.fields import split
from recommender.orders.model import LISTS, Proposal


def missing_in(held: Sequence[Proposal]) -> list[int]:
    """The teeth that proposals name as missing, in their order."""
    return [tooth for one in held if one.path == "missing" for tooth in one.value]


def as_case(held: Sequence[Proposal], arch: str | None) -> dict[str, Any]:
    """Part of a case with everything that is proposed for one arch."""
    case: dict[str, Any] = {} if arch is None else {"arch": arch}
    missing_by_start = runs(arch, set(missing_in(held))) if arch is not None else []
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
