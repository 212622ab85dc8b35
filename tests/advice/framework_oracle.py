"""Every whole choice of a small case, tried one by one against the text of ``shared/frameworks.yaml``.

Nothing here is taken from the solver: the score, musts and wants are worked out anew for a finished choice.
"""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations, product
from math import ceil
from typing import Any

import yaml

from recommender.advice.frameworks.candidates import Part, Parts
from recommender.advice.frameworks.solve import Wanted
from recommender.advice.model import OptionResult
from recommender.domain.options import Option
from recommender.resources import shared

TEXT: dict[str, Any] = yaml.safe_load(shared("frameworks.yaml").read_text(encoding="utf-8"))


@dataclass(frozen=True)
class Tried:
    """One whole choice: its parts by tooth, the connector, the musts it breaks and its score."""

    parts: tuple[Part, ...]
    connector: str
    breach: float
    score: float

    @property
    def worth(self) -> float:
        return self.score - self.breach

    @property
    def holding(self) -> dict[int, str]:
        return {part.tooth: part.kind for part in self.parts if holds(part)}


def holds(part: Part) -> bool:
    return any(word.startswith("retentive") for word in part.option.parts)


def rested(part: Part) -> bool:
    return "rest" in part.option.parts


def is_right(tooth: int) -> bool:
    return tooth // 10 in (1, 4)


def value(result: OptionResult) -> float:
    return result.score - (TEXT["after_preparation"] if result.status == "needs_preparation" else 0.0)


def every_choice(parts: Parts, wanted: Wanted) -> Iterator[Tried]:
    """All choices that keep what is never broken."""
    rows = [[None, *options] if options[0].further else list(options) for options in parts.retainers.values()]
    for picked in product(*rows):
        chosen = tuple(part for part in picked if part is not None)
        if not _allowed(chosen):
            continue
        base, broken = _retainer_side(chosen, parts, wanted)
        for option, result in parts.connectors:
            if "one_sided" in option.parts:
                used = {is_right(p.tooth) for p in chosen if p.option.id != "none"}
                used |= {is_right(seat.tooth) for seat in parts.seats}
                if len(used) > 1:
                    continue
            breach = broken + _connector_musts(chosen, parts, option, result)
            score = base + TEXT["weights"]["connector"] * value(result)
            yield Tried(chosen, option.id, breach, score)


def _allowed(chosen: tuple[Part, ...]) -> bool:
    """One arm a tooth, both halves of an embrasure clasp, a rotated path that works."""
    grips = Counter(part.grips for part in chosen if holds(part))
    if any(count > 1 for count in grips.values()):
        return False
    at = {part.tooth: part for part in chosen}
    for part in chosen:
        if part.partner is not None:
            other = at.get(part.partner)
            if other is None or other.option.id != part.option.id or other.partner != part.tooth:
                return False
    rigid = [p for p in chosen if {"retentive_proximal", "rigid"} <= set(p.option.parts)]
    front = [p.tooth % 10 <= 3 or p.result.approach == "distal" for p in rigid]
    if len(set(front)) > 1:
        return False
    for part in rigid:
        plain = [
            p.tooth % 10 - part.tooth % 10
            for p in chosen
            if holds(p) and p not in rigid and is_right(p.tooth) == is_right(part.tooth)
        ]
        if not any(step > 0 if front[0] else step < 0 for step in plain):
            return False
    return True


def _retainer_side(chosen: tuple[Part, ...], parts: Parts, wanted: Wanted) -> tuple[float, float]:
    """The score without the connector, and the cost of the musts broken."""
    considered = [p for p in chosen if not p.further]
    score = TEXT["weights"]["retainer"] * sum(value(p.result) for p in considered) / len(considered)
    price = TEXT["further_tooth"]
    score -= sum(price["cost"] + price["shortfall"] * (100 - value(p.result)) for p in chosen if p.further)
    seats = {seat.tooth for seat in parts.seats}
    held = [p for p in chosen if holds(p)]
    carrying = {p.tooth for p in chosen if rested(p)} | seats
    broken = {
        "both_sides": 2 - len({is_right(p.tooth) for p in held}),
        "base_supported": sum(tooth not in carrying for tooth in wanted.support),
        "accepted": sum(p.result.status not in ("open", "needs_preparation") for p in chosen),
        "three_rests": max(0, TEXT["rests_least"] - len(carrying)),
        "embrasure_room": _tight(chosen, wanted),
        "enough_retainers": max(0, wanted.least_retainers - len(held)),
    }
    wants = {
        "no_more_retainers": max(0, len(held) - wanted.most_retainers),
        "balance": _unbalanced(held),
        "held_beside_extension": sum(t not in {p.tooth for p in held} for t in wanted.ends),
        "releasing": sum(p.beside_extension and not _lets_go(p) for p in held),
        "left_alone": sum(
            rested(p) and not holds(p) and p.tooth not in seats and p.tooth not in wanted.support
            for p in chosen
        ),
        "spread": _close(held, parts),
        "alike": _unlike(chosen, parts),
    }
    score -= sum(TEXT["wants"][name] * count for name, count in wants.items())
    return score, sum(TEXT["musts"][name] * count for name, count in broken.items())


def _connector_musts(chosen: tuple[Part, ...], parts: Parts, option: Option, result: OptionResult) -> float:
    broken = 0.0
    if "needs_rests_at_ends" in option.parts:
        carrying = {p.tooth for p in chosen if rested(p)} | {seat.tooth for seat in parts.seats}
        for side in (True, False):
            if not any(is_right(t) == side and t % 10 <= 5 for t in carrying):
                broken += TEXT["musts"]["plate_ends"]
    if result.status == "advised_against":
        broken += TEXT["musts"]["accepted"]
    return broken


def _toward(tooth: int, other: int) -> str:
    same = tooth // 10 == other // 10
    return "distal" if same and other % 10 > tooth % 10 else "mesial"


def _lets_go(part) -> bool:
    tip = part.result.facts.get("arm.tip_travel_mm")
    ends = tip if isinstance(tip, list) else [tip]
    flexes = "flexing_arm" in part.option.families and "retentive_proximal" not in part.option.parts
    falls = flexes and None not in ends and max(ends) <= 0
    return falls or "stress_releasing" in part.option.families


def _tight(chosen: tuple[Part, ...], wanted: Wanted) -> int:
    count = 0
    for one, two in combinations(chosen, 2):
        room = wanted.rooms.get(frozenset((one.tooth, two.tooth)))
        if room is None or room >= TEXT["shared_embrasure_room_mm"] or one.partner == two.tooth:
            continue
        count += _toward(one.tooth, two.tooth) in one.crosses and _toward(two.tooth, one.tooth) in two.crosses
    return count


def _unbalanced(held: list[Part]) -> int:
    if not held or any(p.force_n is None for p in held):
        return 0
    pull = [sum(p.force_n or 0.0 for p in held if is_right(p.tooth) == side) for side in (True, False)]
    return int(min(pull) < TEXT["force_balance_least"] * max(pull) - 1e-9)


def _close(held: list[Part], parts: Parts) -> int:
    return sum(
        frozenset((one.tooth, two.tooth)) in parts.touching and one.partner != two.tooth
        for one, two in combinations(held, 2)
    )


def _unlike(chosen: tuple[Part, ...], parts: Parts) -> int:
    at = {p.tooth: p for p in chosen if not p.further}
    pairs = [(at.get(one), at.get(two)) for one, two in parts.matching]
    return sum(one is not None and two is not None and one.kind != two.kind for one, two in pairs)


def differs(other: Tried, earlier: Tried, share: float, by_connector: bool) -> bool:
    """Another connector (where that is enough), or other kinds on enough of the teeth that hold."""
    if by_connector and other.connector != earlier.connector:
        return True
    held = earlier.holding
    if not held:
        return other.connector != earlier.connector
    kinds = {part.tooth: part.kind for part in other.parts}
    same = sum(kinds.get(tooth) == kind for tooth, kind in held.items())
    return same <= len(held) - max(1, ceil(share * len(held)))


def best_by_trying(tried: list[Tried], count: int) -> list[list[Tried]]:
    """The best ``count`` choices; each place holds all choices within the tie-break of the best there."""
    tried = sorted(tried, key=lambda one: -one.worth)
    found: list[Tried] = []
    places: list[list[Tried]] = []
    for step in TEXT["differences"]:
        while len(found) < count:
            by_connector = step["connectors"] or len({one.connector for one in found}) < 2
            left = [
                one
                for one in tried
                if all(differs(one, earlier, step["share"], by_connector) for earlier in found)
            ]
            if not left or (found and left[0].breach > found[0].breach):
                break
            near = [one for one in left if left[0].worth - one.worth < 1e-3]
            places.append(near)
            if len(near) > 1:
                # A tie: what follows depends on which was taken, so the caller compares up to here.
                return places
            found.append(left[0])
    return places
