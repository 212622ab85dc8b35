"""Designs nobody drew before: drawn by lot from the whole vocabulary, on dentitions drawn by lot. Invented, and often
unwise; each is one that the case format takes in and that a laboratory could be asked to draw."""

import random
from typing import Any

from recommender.domain import vocabulary as v
from recommender.domain.case import Case
from recommender.domain.dentition import ARCH_ORDER, neighbour, position, side_facing, side_of

_RETENTION = ("lattice", "mesh", "loops", "nail_heads", "metal")
_BACK_RESTS = ("mesial", "distal", "mesial_distal", "long", "onlay")
_FRONT_RESTS = ("cingulum", "incisal", "mesial", "distal")
_NO_TIP = ("attachment", "double_crown", "stud", "rest_only", "none")


def random_case(seed: int) -> Case:
    """A case with a design; the same for the same seed."""
    lot = random.Random(seed)
    arch = lot.choice(("maxilla", "mandible"))
    order = list(ARCH_ORDER[arch])
    missing = _missing(lot, order)
    absent = [tooth for tooth in (order[0], order[-1]) if tooth not in missing and lot.random() < 0.8]
    gone = {*missing, *absent}
    stands = [tooth for tooth in order if tooth not in gone]
    runs = _runs(order, missing)
    bordering = [t for run in runs for t in _borders(order, run) if t in stands]
    others = [t for t in stands if t not in bordering]
    held = list(dict.fromkeys(bordering)) + lot.sample(others, k=min(len(others), lot.randint(0, 2)))
    retainers, rests, plates, surveyed = [], {}, [], []
    for tooth in held:
        if any(r["tooth"] == tooth for r in retainers):
            continue
        rest = lot.choice(_BACK_RESTS if position(tooth) > 3 else _FRONT_RESTS)
        one = _retainer(lot, tooth, stands, {r["tooth"] for r in retainers}, gone)
        if one["assembly"] == "embrasure":
            rests[tooth] = rests[one["partner"]] = "embrasure"
            twin = dict(one, tooth=one["partner"], partner=tooth)
            twin["undercut"] = {"zone": _away(one["partner"], tooth), "mm": 0.25}
            retainers = [r for r in retainers if r["tooth"] != one["partner"]] + [twin]
        elif one["assembly"] not in _NO_TIP or one["assembly"] == "rest_only":
            rests.setdefault(tooth, rest)
        retainers.append(one)
        for side in ("mesial", "distal"):
            beside = neighbour(tooth, side)
            if beside in missing and lot.random() < 0.6:
                plates.append({"tooth": tooth, "surface": side})
        depths = {zone: lot.choice((0.0, 0.1, 0.25, 0.5)) for zone in lot.sample(list(v.ZONES), 5)}
        surveyed.append({"tooth": tooth, "undercuts_mm": depths})
    seats = [t for t in stands if t not in held and position(t) in (3, 4)]
    indirect = [
        {"tooth": t, "rest": "cingulum" if position(t) == 3 else "mesial"}
        for t in lot.sample(seats, k=min(len(seats), lot.randint(0, 2)))
    ]
    one_side = (
        len({side_of(tooth) for tooth in (*missing, *held, *(seat["tooth"] for seat in indirect))}) == 1
    )
    design: dict[str, Any] = {
        "connector": lot.choice([n for n in v.connectors(arch) if n != "unilateral" or one_side]),
        "retainers": retainers,
        "rests": rests,
        "indirect_retainers": indirect,
        "proximal_plates": plates,
        "bases": [
            {"teeth": run, "retention": lot.choice(_RETENTION), "tissue_stop": lot.random() < 0.3}
            for run in runs
        ],
        "replacements": {tooth: lot.choice(v.REPLACEMENTS) for tooth in missing},
    }
    case: dict[str, Any] = {
        "format": 1, "id": f"lot-{seed}", "arch": arch, "missing": missing, "absent": absent,
        "abutments": surveyed, "design": design,
    }  # fmt: skip
    if arch == "maxilla":
        case["palate"] = {"torus": lot.choice(("none", "none", "small", "large", "large_posterior"))}
    else:
        case["floor"] = {
            "depth_mm": lot.choice((6.0, 7.0, 8.0, 10.0)),
            "torus": lot.choice(("none", "none", "small", "large")),
        }
    return Case.model_validate(case)


def _missing(lot: random.Random, order: list[int]) -> list[int]:
    """One to three gaps among the fourteen teeth in front of the third molars."""
    gone: set[int] = set()
    for _ in range(lot.randint(1, 3)):
        start, long = lot.randint(1, 14), lot.choice((1, 1, 2, 2, 3, 4))
        gone |= set(order[start : min(start + long, 15)])
    if len(gone) > 11:
        gone = set(order[1:5])
    return [tooth for tooth in order if tooth in gone]


def _runs(order: list[int], missing: list[int]) -> list[list[int]]:
    runs: list[list[int]] = []
    for tooth in order:
        if tooth not in missing:
            continue
        if runs and order.index(runs[-1][-1]) == order.index(tooth) - 1:
            runs[-1].append(tooth)
        else:
            runs.append([tooth])
    return runs


def _borders(order: list[int], run: list[int]) -> list[int]:
    low, high = order.index(run[0]) - 1, order.index(run[-1]) + 1
    return [order[k] for k in (low, high) if 0 <= k < 16]


def _away(tooth: int, partner: int) -> str:
    return "distofacial" if side_facing(tooth, partner) == "mesial" else "mesiofacial"


def _retainer(
    lot: random.Random, tooth: int, stands: list[int], taken: set[int], gone: set[int]
) -> dict[str, Any]:
    sides = [side for side in ("mesial", "distal") if neighbour(tooth, side) in gone]
    approach = lot.choice(sides or ["mesial", "distal"])
    names = [name for name in v.RETAINERS if name not in ("none", "stud")]
    assembly = lot.choice(names)
    one: dict[str, Any] = {"tooth": tooth, "assembly": assembly, "approach": approach}
    if assembly == "embrasure":
        beside = [t for s in ("mesial", "distal") if (t := neighbour(tooth, s)) in stands and t not in taken]
        back = [t for t in beside if position(t) > 3 and position(tooth) > 3]
        if not back:
            return one | {"assembly": "circumferential"}
        partner = lot.choice(back)
        one |= {"partner": partner, "approach": None, "undercut": {"zone": _away(tooth, partner), "mm": 0.25}}
    elif (
        assembly not in _NO_TIP
        and lot.random() < 0.4
        and assembly in ("circumferential", "combination", "i_bar")
    ):
        far = "mesial" if approach == "distal" else "distal"
        zone = "midfacial" if assembly == "i_bar" else f"{far[:-2]}ofacial"
        one["undercut"] = {"zone": zone, "mm": 0.25}
    return one
