"""Every whole choice of a small case, tried one by one against the text of ``shared/frameworks.yaml``.

Nothing here is taken from the solver or from the rules between parts: score, musts and wants are worked out anew.
"""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations, product
from math import ceil
from typing import Any

import yaml

from recommender.advice.frameworks.parts import Part, Stock
from recommender.advice.model import OptionResult
from recommender.domain.options import Option
from recommender.resources import shared

TEXT: dict[str, Any] = yaml.safe_load(shared("frameworks.yaml").read_text(encoding="utf-8"))
RULES: dict[str, Any] = TEXT["rules"]


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


def by_root(part: Part) -> bool:
    return "on_root_or_implant" in part.option.parts


def bears(part: Part) -> bool:
    return "rest" in part.option.parts or by_root(part)


def is_right(tooth: int) -> bool:
    return tooth // 10 in (1, 4)


def price(rule: str, stock: Stock) -> float:
    """A must in points of the framework, a want in points of one retainer."""
    considered = sum(1 for parts in stock.retainers.values() if not parts[0].further)
    a_point = TEXT["weights"]["retainer"] / considered
    return RULES[rule]["price"] * (a_point if RULES[rule]["kind"] == "want" else 1.0)


def every_choice(stock: Stock) -> Iterator[Tried]:
    """All choices that keep what is never broken."""
    rows = [[None, *parts] if parts[0].further else list(parts) for parts in stock.retainers.values()]
    for picked in product(*rows):
        chosen = tuple(part for part in picked if part is not None)
        if not _allowed(chosen):
            continue
        for option, result in stock.connectors:
            base, broken = _retainer_side(chosen, stock, "needs_rests_at_ends" in option.parts)
            if "one_sided" in option.parts:
                used = {is_right(p.tooth) for p in chosen if p.option.id != "none"}
                used |= {is_right(seat.tooth) for seat in stock.seats}
                if len(used) > 1:
                    continue
            breach = broken + _connector_musts(chosen, stock, option, result)
            waits = TEXT["after_preparation"] if result.status == "needs_preparation" else 0.0
            yield Tried(
                chosen, option.id, breach, base + TEXT["weights"]["connector"] * (result.score - waits)
            )


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
            if holds(p) and not by_root(p) and p not in rigid and is_right(p.tooth) == is_right(part.tooth)
        ]
        if not any(step > 0 if front[0] else step < 0 for step in plain):
            return False
    return True


def _least(stock: Stock) -> int:
    return int(RULES["enough_retainers"]["figures"][stock.number])


def _most(stock: Stock) -> int:
    figures = RULES["no_more_retainers"]["figures"]
    more = figures.get(f"{stock.number}_each_modification", 0) * stock.modifications
    return int(figures[stock.number] + more)


def _weight(part: Part, stock: Stock) -> float:
    """Half of an embrasure clasp counts for less where the file says so."""
    half: float = RULES["no_more_retainers"]["figures"].get(f"{stock.number}_half", 1.0)
    return half if part.partner is not None else 1.0


def _front_alone(held: set[int], stock: Stock) -> int:
    """In Class IV: sides that could hold behind and do not."""
    behind = RULES["held_behind"]["figures"]["foremost_position"]
    able = {p.tooth for parts in stock.retainers.values() for p in parts if holds(p) and p.tooth % 10 >= behind}
    sides = [{t for t in able if is_right(t) == right} for right in (True, False)]
    return sum(bool(side) and not side & held for side in sides) if stock.number == "IV" else 0


def _retainer_side(chosen: tuple[Part, ...], stock: Stock, plate: bool) -> tuple[float, float]:
    """The score without the connector, and the cost of the musts broken."""
    considered = [p for p in chosen if not p.further]
    score = TEXT["weights"]["retainer"] * sum(p.value for p in considered) / len(considered)
    dear = TEXT["further_tooth"]
    named = {p.tooth for p in considered}
    for p in chosen:
        if p.further and p.partner not in named:
            a_point = TEXT["weights"]["retainer"] / len(considered)
            whole = a_point * (dear["cost"] + dear["shortfall"] * (100 - p.value))
            score -= whole / 2 if p.partner is not None else whole
    seats = {seat.tooth for seat in stock.seats}
    held = [p for p in chosen if holds(p)]
    clasps = [p for p in held if not by_root(p)]
    bending = [p for p in clasps if not {"retentive_proximal", "rigid"} <= set(p.option.parts)]
    carrying = {p.tooth for p in chosen if bears(p)} | seats
    broken = {
        "both_sides": 2 - len({is_right(p.tooth) for p in held}),
        "base_supported": sum(tooth not in carrying for tooth in stock.support),
        "accepted": sum(p.result.status not in ("open", "needs_preparation") for p in chosen),
        "three_rests": max(0, RULES["three_rests"]["figures"]["least"] - len(carrying)),
        "embrasure_room": _tight(chosen, stock),
        "enough_retainers": max(0, _least(stock) - len(held)),
    }
    wants = {
        "four_corners": max(0, RULES["four_corners"]["figures"]["corners"] - len(held))
        if stock.number == "III" and stock.both_sides
        else 0,
        "no_more_retainers": max(0, ceil(sum(_weight(p, stock) for p in bending)) - _most(stock)),
        "balance": _unbalanced(held),
        "held_beside_extension": sum(_end_let_go(t, {p.tooth for p in held}, stock) for t in stock.ends),
        "held_behind": _front_alone({p.tooth for p in held}, stock),
        "releasing": sum(p.beside_extension and not _lets_go(p) for p in clasps),
        "left_alone": sum(
            bears(p)
            and not holds(p)
            and p.tooth not in seats
            and p.tooth not in stock.support
            and not (plate and 3 <= p.tooth % 10 <= RULES["plate_ends"]["figures"]["rearmost_position"])
            for p in chosen
        ),
        "spread": _close(clasps, stock),
        "alike": _unlike(chosen, stock),
    }
    score -= sum(price(name, stock) * count for name, count in wants.items())
    return score, sum(price(name, stock) * count for name, count in broken.items())


def _connector_musts(chosen: tuple[Part, ...], stock: Stock, option: Option, result: OptionResult) -> float:
    broken = 0.0
    if "needs_rests_at_ends" in option.parts:
        carrying = {p.tooth for p in chosen if bears(p)} | {seat.tooth for seat in stock.seats}
        rearmost = RULES["plate_ends"]["figures"]["rearmost_position"]
        for side in (True, False):
            if not any(is_right(t) == side and t % 10 <= rearmost for t in carrying):
                broken += price("plate_ends", stock)
    if result.status == "advised_against":
        broken += price("accepted", stock)
    return broken


def _toward(tooth: int, other: int) -> str:
    same = tooth // 10 == other // 10
    return "distal" if same and other % 10 > tooth % 10 else "mesial"


def _end_let_go(end: int, holding: set[int], stock: Stock) -> bool:
    """Whether neither the last tooth nor anything under the base behind it holds."""
    behind = {t for s in stock.spaces if s.support == "extension" and end in s.borders for t in s.teeth}
    return not holding & {end, *behind}


def _lets_go(part: Part) -> bool:
    tip = part.result.facts.get("arm.tip_travel_mm")
    ends = tip if isinstance(tip, list) else [tip]
    flexes = "flexing_arm" in part.option.families and "retentive_proximal" not in part.option.parts
    falls = flexes and None not in ends and max(ends) <= 0
    return falls or "stress_releasing" in part.option.families


def _tight(chosen: tuple[Part, ...], stock: Stock) -> int:
    count = 0
    for one, two in combinations(chosen, 2):
        room = stock.rooms.get(frozenset((one.tooth, two.tooth)))
        if room is None or room >= TEXT["room"]["shared_embrasure_mm"] or one.partner == two.tooth:
            continue
        count += _toward(one.tooth, two.tooth) in one.crosses and _toward(two.tooth, one.tooth) in two.crosses
    return count


def _unbalanced(held: list[Part]) -> int:
    """Whether the whole band of one side lies below that of the other."""
    if not held or any(p.force_n is None for p in held):
        return 0
    low, high = (
        [
            sum(p.force_n[end] for p in held if p.force_n and is_right(p.tooth) == side)
            for side in (True, False)
        ]
        for end in (0, 1)
    )
    return int(high[0] < low[1] - 1e-9 or high[1] < low[0] - 1e-9)


def _close(clasps: list[Part], stock: Stock) -> int:
    return sum(
        frozenset((one.tooth, two.tooth)) in stock.touching and one.partner != two.tooth
        for one, two in combinations(clasps, 2)
    )


def _unlike(chosen: tuple[Part, ...], stock: Stock) -> int:
    at = {p.tooth: p for p in chosen if not p.further}
    pairs = [(at.get(one), at.get(two)) for one, two in stock.matching]
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
