"""A seeded generator of cases for tests and benchmarks of the store.

Drawn by chance and valid in form only: it has the shape of a laboratory's records and none of its knowledge.
Nothing made here is ever evidence for a choice.
"""

import random
from collections.abc import Iterator
from typing import Any, get_args

from recommender.domain import vocabulary as v
from recommender.domain.case import Case
from recommender.domain.dentition import ARCH_ORDER, neighbour, runs

_WORDS = (
    "smith", "bench", "wax", "cast", "survey", "strap", "relief", "finish", "polish", "clasp", "saddle", "lattice",
    "bräda", "齒", "née", "=sum'@",
)  # fmt: skip


def invented_cases(count: int, seed: int = 1, prefix: str = "inv") -> Iterator[Case]:
    """``count`` cases ``PREFIX-000000`` onwards; the same for the same seed."""
    for number in range(count):
        yield invented_case(f"{prefix}-{number:06d}", random.Random(f"{seed}/{number}"))


def invented_case(case_id: str, chance: random.Random) -> Case:
    """One case.

    Raises nothing: what is drawn always satisfies the checks across fields that a reader makes.
    """
    arch = chance.choice(["maxilla", "mandible"])
    order = ARCH_ORDER[arch]
    missing = sorted(chance.sample(order[1:15], chance.randint(1, 6)))
    absent = [tooth for tooth in (order[0], order[15]) if chance.random() < 0.4]
    spaces = runs(arch, missing)
    bordering = _bordering(arch, missing, absent)
    data: dict[str, Any] = {
        "format": 1,
        "id": case_id,
        "title": _text(chance),
        "arch": arch,
        "missing": missing,
        "absent": absent,
        "patient": {
            "age": chance.choice([*range(20, 90), "90+"]),
            "smile_line": _maybe(chance, v.SmileLine),
            "aesthetic_priority": _maybe(chance, v.Level3),
            "hygiene": _maybe(chance, v.Hygiene),
            "allergy": chance.choice([None, [], ["nickel"], ["cobalt", "nickel"]]),
        },
        "occlusion": {"opposing": _maybe(chance, v.Opposing), "load": _maybe(chance, v.Load)},
        "spans": [
            {
                "teeth": list(space),
                "clearance_mm": _mm(chance, 3, 9),
                "width_mm": _mm(chance, 6, 12) * len(space),
            }
            for space in spaces
        ],
        "abutments": [_abutment(chance, tooth) for tooth in bordering],
        "design": {
            "connector": chance.choice(v.connectors(arch)),
            "alloy": "cobalt_chromium",
            "retainers": [
                {
                    "tooth": tooth,
                    "assembly": chance.choice(v.RETAINERS),
                    "rest": chance.choice(["mesial", "distal"]),
                }
                for tooth in bordering
            ],
            "replacements": {tooth: chance.choice(v.REPLACEMENTS) for tooth in missing},
        },
        "outcome": _outcome(chance, bordering),
        "review": {"status": chance.choice(["draft", "approved", "approved", "retired"])},
    }
    return Case.model_validate(_without_none(data))


def _bordering(arch: str, missing: list[int], absent: list[int]) -> list[int]:
    order = ARCH_ORDER[arch]
    gone = {*missing, *absent}
    beside = {neighbour(tooth, side) for tooth in missing for side in ("mesial", "distal")}
    return [tooth for tooth in order if tooth in beside and tooth not in gone]


def _abutment(chance: random.Random, tooth: int) -> dict[str, Any]:
    zones = chance.sample(v.ZONES, chance.randint(2, 8))
    return {
        "tooth": tooth,
        "undercuts_mm": {zone: chance.choice([0.0, 0.1, 0.25, 0.5, 0.75]) for zone in zones},
        "crown_height_mm": _mm(chance, 4, 10),
        "mobility": chance.choice([None, 0, 0, 0, 1]),
        "bone_support": _maybe(chance, v.BoneSupport),
        "rest_seats": chance.choice([None, [], ["mesial"], ["mesial", "distal"]]),
        "vestibule_depth_mm": _mm(chance, 3, 10),
        "tissue_undercut": chance.choice([None, True, False]),
        "tilt": _maybe(chance, v.Tilt),
    }


def _outcome(chance: random.Random, bordering: list[int]) -> dict[str, Any] | None:
    if chance.random() < 0.4:
        return None
    months = chance.randint(1, 120)
    event = {"month": chance.randint(0, months), "event": chance.choice(get_args(v.EventKind))}
    if bordering and chance.random() < 0.7:
        event["tooth"] = chance.choice(bordering)
    return {
        "accepted": chance.random() < 0.9,
        "followed_months": months,
        "events": [event] * (chance.random() < 0.5),
    }


def _maybe(chance: random.Random, words: Any) -> str | None:
    return None if chance.random() < 0.25 else str(chance.choice(get_args(words)))


def _mm(chance: random.Random, low: int, high: int) -> float:
    return chance.randint(low * 4, high * 4) / 4


def _text(chance: random.Random) -> str:
    return "invented: " + " ".join(chance.choice(_WORDS) for _ in range(chance.randint(0, 8)))


def _without_none(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _without_none(inner) for key, inner in value.items() if inner is not None}
    return [_without_none(item) for item in value] if isinstance(value, list) else value
