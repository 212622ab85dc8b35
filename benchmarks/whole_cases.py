"""Whole cases for benchmarks: the demo cases (invented themselves) varied by chance from a seed.

Teeth change sides, measured values move, values are taken out, other options are chosen, some designs fare
otherwise. The result has the shape of a laboratory's library and none of its knowledge: evidence of nothing.
"""

from collections.abc import Iterator, Sequence
from functools import cache
from typing import Any

import numpy as np

from benchmarks.mirrored import mirror_case
from recommender.domain.case import Case
from recommender.domain.dentition import ARCH_ORDER
from recommender.domain.errors import CaseError
from recommender.domain.intake import build
from recommender.domain.parsing import Document
from recommender.precedents.source import demo_source
from recommender.precedents.store.documents import as_data

# Shares by which a case is varied. Judgement: they make libraries that are neither copies nor noise.
GAPS, MOVED, OTHER_CHOICE, MORE_GONE = 0.2, 0.4, 0.15, 0.4
_MEASURED = ("patient", "occlusion", "records", "floor", "palate")
_EVENTS = (
    "sore_spot",
    "relined",
    "adjusted",
    "clasp_fracture",
    "retention_lost",
    "caries",
    "abutment_lost",
    "remade",
)


def varied_cases(count: int, seed: int = 1, prefix: str = "var", of: Sequence[str] = ()) -> Iterator[Case]:
    """``count`` cases ``PREFIX-0000000`` onwards, in order of id; the same for the same seed. ``of``: ids of the demo
    cases that are varied; all of them where none is named."""
    bases = _bases(tuple(of))
    for number in range(count):
        yield _varied(bases, f"{prefix}-{number:07d}", np.random.default_rng([seed, number]))


@cache
def _bases(of: tuple[str, ...] = ()) -> tuple[Case, ...]:
    found = [
        case
        for case in demo_source().cases()
        if case.missing and case.design is not None and (not of or case.id in of)
    ]
    return tuple(image for case in found for image in (case, mirror_case(case)))


def _varied(bases: Sequence[Case], case_id: str, rng: np.random.Generator) -> Case:
    # some kinds of case come far more often than others
    place = int(len(bases) * rng.random() ** 1.6)
    base = bases[(place * 89) % len(bases)]
    data = as_data(base)
    data |= {"id": case_id, "title": "Varied by chance from an invented case", "review": _review(rng)}
    for key in ("prescription", "dentist_answer", "source"):
        data.pop(key, None)
    for key in _MEASURED:
        if isinstance(data.get(key), dict):
            _vary(data[key], rng)
    for entry in (*(data.get("abutments") or ()), *(data.get("spans") or ())):
        _vary(entry, rng, keep=("tooth", "teeth", "kind"))
    _choose_otherwise(data["design"], rng)
    outcome = _outcome(rng)
    data.pop("outcome", None)
    if outcome is not None:
        data["outcome"] = outcome
    wider = _one_more_gone(data, rng) if rng.random() < MORE_GONE else None
    for attempt in (wider, data):
        if attempt is not None:
            try:
                return build(Document(case_id, attempt))
            except CaseError:
                continue
    return base.model_copy(update={"id": case_id})


def _vary(part: dict[str, Any], rng: np.random.Generator, keep: tuple[str, ...] = ()) -> None:
    for key in list(part):
        value = part[key]
        if key in keep:
            continue
        if isinstance(value, dict):
            _vary(value, rng)
            if not value:
                del part[key]
        elif rng.random() < GAPS:
            del part[key]
        elif isinstance(value, float) and rng.random() < MOVED:
            step = 0.05 if value <= 1 else 0.5
            part[key] = round(max(0.0, value + step * int(rng.integers(-2, 3))), 2)
        elif key == "age" and isinstance(value, int):
            part[key] = int(np.clip(value + rng.integers(-12, 13), 20, 89))


def _choose_otherwise(design: dict[str, Any], rng: np.random.Generator) -> None:
    pools = _choices()
    for entry in design.get("retainers") or ():
        if rng.random() < OTHER_CHOICE:
            entry["assembly"] = pools[int(rng.integers(len(pools)))]
            for key in ("undercut", "partner"):
                entry.pop(key, None)


@cache
def _choices() -> tuple[str, ...]:
    return tuple(
        str(item.assembly)
        for case in _bases()
        for item in (case.design.retainers or () if case.design else ())
        if item.partner is None
    )


def _one_more_gone(data: dict[str, Any], rng: np.random.Generator) -> dict[str, Any] | None:
    """The same with one more tooth gone that nothing in the case speaks of."""
    named = str([value for key, value in data.items() if key not in ("missing", "absent", "id")])
    gone = {*data["missing"], *(data.get("absent") or ())}
    free = [t for t in ARCH_ORDER[data["arch"]] if t not in gone and str(t) not in named]
    if not free:
        return None
    return data | {"absent": [*(data.get("absent") or ()), free[int(rng.integers(len(free)))]]}


def _review(rng: np.random.Generator) -> dict[str, Any]:
    return {"status": "approved" if rng.random() < 0.9 else "draft"}


def _outcome(rng: np.random.Generator) -> dict[str, Any] | None:
    if rng.random() < 0.5:
        return None
    months = int(rng.integers(1, 90))
    events = [
        {"month": int(rng.integers(0, months + 1)), "event": _EVENTS[int(rng.integers(len(_EVENTS)))]}
        for _ in range(int(rng.poisson(0.5)))
    ]
    found: dict[str, Any] = {"accepted": True, "followed_months": months}
    found |= {"still_worn": bool(rng.random() < 0.95)}
    return found | ({"events": events} if events else {})
