"""Proposals of an order brought into a case, one by one or many, and told whether they already stand in it."""

import copy
from collections.abc import Mapping, Sequence
from typing import Any

from recommender.domain.dentition import ARCH_ORDER, runs
from recommender.orders.as_case import put, rule_out
from recommender.orders.model import LISTS, Proposal

_ELSEWHERE = {"missing": "absent", "absent": "missing"}
_MOST_NOTE = 5000


def with_proposals(data: Mapping[str, Any], proposals: Sequence[Proposal], note: str = "") -> dict[str, Any]:
    """Plain values of a case (teeth as integers) with the proposals in it; the values handed in stay as they are.

    Lists of teeth and prohibitions grow, every other field is replaced. A tooth that becomes missing is no longer
    listed as absent, and the other way round. The note is added to the one that stands, once.
    """
    case = copy.deepcopy(dict(data))
    arch = str(case["arch"])
    for one in sorted(proposals, key=lambda one: one.path not in LISTS):
        if one.path in LISTS:
            teeth = {*case.get(one.path, []), *one.value}
            case[one.path] = [tooth for tooth in ARCH_ORDER[arch] if tooth in teeth]
            _leave(case, _ELSEWHERE.get(one.path, ""), set(one.value))
        elif one.path.startswith("prescription.not"):
            rule_out(case.setdefault("prescription", {}).setdefault("not", {}), one)
        else:
            put(case, one, runs(arch, set(case.get("missing", []))))
    if note and note not in case.get("prescription", {}).get("note", ""):
        held = case.setdefault("prescription", {})
        held["note"] = "; ".join(part for part in (held.get("note", ""), note) if part)[:_MOST_NOTE]
    return case


def stands_in(data: Mapping[str, Any], one: Proposal) -> bool:
    """Whether a case already says what a proposal says: taking it over again would change nothing."""
    if one.path in LISTS:
        return set(one.value) <= set(data.get(one.path) or ())
    return with_proposals(data, [one]) == dict(data)


def _leave(case: dict[str, Any], path: str, teeth: set[int]) -> None:
    if case.get(path):
        case[path] = [tooth for tooth in case[path] if tooth not in teeth]
