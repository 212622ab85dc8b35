"""What the reader found in an order, field by field, against what a person reads in it."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

import yaml

from recommender.orders.read import read_order

HERE = Path(__file__).parent
ARCHES = {"maxilla": "maxilla", "mandible": "mandible", "unsettled": None}
TEETH_LISTS = ("missing", "absent", "planned_extractions", "future_loss_likely")


@dataclass
class Score:
    """Counts over one or many orders; ``faults`` says each in words."""

    stated: int = 0
    right: int = 0
    wrong: int = 0
    clear: int = 0
    asked_of_clear: int = 0
    to_ask: int = 0
    asked: int = 0
    faults: list[str] = field(default_factory=list)

    def add(self, other: "Score") -> None:
        """Add the counts of another score."""
        for name in ("stated", "right", "wrong", "clear", "asked_of_clear", "to_ask", "asked"):
            setattr(self, name, getattr(self, name) + getattr(other, name))
        self.faults += other.faults


@cache
def orders(name: str) -> list[dict[str, Any]]:
    """The orders of one file."""
    loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
    found: list[dict[str, Any]] = yaml.load((HERE / name).read_text(encoding="utf-8"), loader)["orders"]
    return found


def clear_case(text: str) -> dict[str, Any]:
    """The case that an order for one arch states, where nothing is asked about it."""
    (one,) = read_order(text)
    assert not one.ask, one.ask
    return dict(one.case)


def fields(case: Mapping[str, Any]) -> dict[str, Any]:
    """Leaves of part of a case by path: lists of teeth as sets, notes and bare abutments left out."""
    return dict(_leaves(case, ""))


def _leaves(value: Any, path: str) -> Iterator[tuple[str, Any]]:
    if path in TEETH_LISTS:
        yield path, frozenset(value)
    elif path in ("abutments", "spans") and isinstance(value, list):
        for entry in value:
            name = entry["tooth"] if path == "abutments" else min(entry["teeth"], key=_arch_order)
            for key, inner in entry.items():
                if key not in ("tooth", "teeth"):
                    yield from _leaves(inner, f"{path}.{name}.{key}")
    elif path in ("spans",):
        for tooth, entry in value.items():
            for key, inner in entry.items():
                yield from _leaves(inner, f"{path}.{tooth}.{key}")
    elif isinstance(value, dict):
        for key, inner in value.items():
            if (path == "" and key == "arch") or f"{path}.{key}" == "prescription.note":
                continue
            yield from _leaves(inner, f"{path}.{key}" if path else str(key))
    elif isinstance(value, list):
        yield path, tuple(sorted(map(str, value)))
    else:
        yield path, value


def _arch_order(tooth: int) -> int:
    from recommender.domain.dentition import ARCH_ORDER, arch_of

    return ARCH_ORDER[arch_of(tooth)].index(tooth)


def score(order: Mapping[str, Any]) -> Score:
    """One order read and held against what it states."""
    made = Score()
    found = {one.arch: one for one in read_order(str(order["text"]))}
    asks = any(one.ask for one in found.values())
    label = " ".join(str(order["text"]).split())[:70]
    numbering = order.get("numbering", "iso")
    for one in found.values():
        made.stated += 1
        if one.numbering == numbering:
            made.right += 1
        else:
            made.faults.append(f"{label}: numbering {one.numbering}, not {numbering}")
            made.wrong += one.numbering != "ambiguous"
    for key, arch in ARCHES.items():
        if key not in order and arch not in found:
            continue
        wanted = fields(order.get(key) or {})
        got = fields(found[arch].case) if arch in found else {}
        wanted = _by_first_tooth(wanted, found[arch].case) if arch in found else wanted
        if key in order:
            made.stated += 1
            made.right += arch in found
            if arch not in found:
                made.faults.append(f"{label}: no line for {key}")
        elif any(one in got for one in ("missing", "prescription.connector")):
            made.faults.append(f"{label}: a line for {key} that the order does not state")
            made.wrong += 1
        if _lacks_third_molars(wanted, got):
            got["absent"] = wanted["absent"]
        for path in _said_by_only_a_rest(wanted, got):
            del got[path]
        for path, value in wanted.items():
            made.stated += 1
            if got.get(path) == value:
                made.right += 1
            else:
                made.faults.append(f"{label}: {path} {_shown(got.get(path))}, not {_shown(value)}")
        marked = {_plain(one.path) for one in found[arch].proposals if one.marked} if arch in found else set()
        for path, value in got.items():
            if wanted.get(path) != value:
                if path not in wanted:
                    made.faults.append(f"{label}: {path} {_shown(value)} is not stated")
                # a list that lacks teeth is not right, but holds nothing that the order does not state
                partly = isinstance(value, frozenset) and value <= wanted.get(path, frozenset())
                made.wrong += path not in marked and not partly
                if path not in marked and not partly:
                    made.faults.append(f"{label}: WITHOUT A MARK {path} {_shown(value)}")
    if order.get("ask") == "either":  # a matter of taste
        pass
    elif order.get("ask"):
        made.to_ask, made.asked = 1, int(asks)
        if not asks:
            made.faults.append(f"{label}: does not ask")
    elif "ask" not in order:
        made.clear, made.asked_of_clear = 1, int(asks)
        if asks:
            why = "; ".join(f"{q.words.text!r} {q.why}" for one in found.values() for q in one.ask)
            made.faults.append(f"{label}: asks ({why})")
    return made


def _by_first_tooth(wanted: Mapping[str, Any], case: Mapping[str, Any]) -> dict[str, Any]:
    """The fields wanted, those of a space under its first tooth, whichever of its teeth an answer names."""
    first = {tooth: min(one["teeth"], key=_arch_order) for one in case.get("spans", ()) for tooth in one["teeth"]}
    made: dict[str, Any] = {}
    for path, value in wanted.items():
        head, _, rest = path.partition(".")
        tooth, _, name = rest.partition(".")
        named = first.get(int(tooth), tooth) if head == "spans" and tooth.isdigit() else tooth
        made[f"{head}.{named}.{name}" if head == "spans" else path] = value
    return made


def _lacks_third_molars(wanted: Mapping[str, Any], got: Mapping[str, Any]) -> bool:
    """Whether only third molars are missing from the teeth that are not replaced: they are gone by implication."""
    left = wanted.get("absent", frozenset()) ^ got.get("absent", frozenset())
    return bool(left) and "absent" in wanted and all(tooth % 10 == 8 for tooth in left)


def _said_by_only_a_rest(wanted: Mapping[str, Any], got: Mapping[str, Any]) -> list[str]:
    """Fields of an answer that say what was wanted once more: "no clasp, only a rest" rules the clasp out and asks
    for a rest without one, whichever of the two a person wrote down."""
    said = []
    for tooth in {path.rpartition(".")[2] for path in got}:
        asked, ruled_out = f"prescription.retainers.{tooth}", f"prescription.not.retainers.{tooth}"
        without = wanted.get(ruled_out) == ("any",) and f"prescription.rests.{tooth}" in wanted
        if wanted.get(asked) == "rest_only" and ruled_out not in wanted and got.get(ruled_out) == ("any",):
            said.append(ruled_out)
        elif without and asked not in wanted and got.get(asked) == "rest_only":
            said.append(asked)
    return said


def _plain(path: str) -> str:
    return path.replace("[", ".").replace("]", "")


def _shown(value: Any) -> str:
    return str(sorted(value)) if isinstance(value, frozenset) else str(value)


def score_of(*names: str) -> Score:
    """All orders of some files together."""
    total = Score()
    for name in names:
        for order in orders(name):
            total.add(score(order))
    return total


if __name__ == "__main__":
    import sys

    everything = score_of(*(sys.argv[1:] or sorted(path.name for path in HERE.glob("orders_*.yaml"))))
    print("\n".join(everything.faults))
    share = everything.right / max(1, everything.stated)
    print(f"fields stated {everything.stated}, right {everything.right} ({share:.1%})")
    print(f"taken over wrongly without a mark {everything.wrong}")
    print(f"clear orders {everything.clear}, asked about {everything.asked_of_clear}")
    print(f"orders to ask about {everything.to_ask}, asked about {everything.asked}")
