"""The frameworks that are compared in every world: the best of the case as it is recorded, and what lies next to them.

Next to a framework lies each that has another retainer on one tooth, or the same other kind on a matching pair, or
another connector, keeps what is never broken and breaks no must that the best keeps. The best by score are taken, and
the proposed ones once more with each set of replacements that leads in some worlds.

What a rare answer would bring up (a loose tooth, an allergy) lies farther off. Where answers are valued, the solver is
asked again for each that would leave the pool worse than it is: with what parts score on average in the worlds of
that answer, and without those that it blocks (``brought_up``).
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from math import fsum

import numpy as np
import numpy.typing as npt

from recommender.advice.confidence.framework_worlds import Candidate, FrameworkWorlds, candidate
from recommender.advice.confidence.replacement_sets import ReplacementSets, of_their_own, recorded_set
from recommender.advice.frameworks.parts import Choice, Part, Stock
from recommender.advice.frameworks.rules.base import BetweenParts, Var
from recommender.advice.frameworks.rules.book import book
from recommender.advice.frameworks.solve import Solver, connector_worth, worth
from recommender.advice.model import Decision, Framework, OptionResult

Flags = npt.NDArray[np.bool_]


def pool_of(
    stock: Stock, frameworks: Sequence[Framework], count: int, led: Sequence[Mapping[int, str]]
) -> tuple[Candidate, ...]:
    """Further frameworks to compare ``frameworks`` with, best first, ``count`` with them, and ``frameworks`` with each
    set of replacements in ``led``; none where there is none to start from."""
    rules = book(stock.figures)
    known = {_parts_of(framework.connector, framework.retainers) for framework in frameworks}
    starts = [choice for framework in frameworks if (choice := _choice(stock, framework)) is not None]
    if not starts:
        return ()
    allowed = _broken(starts[0], rules)
    found: dict[object, Candidate] = {}
    for near in _near(starts[0]):
        retainers = {tooth: part.option.id for tooth, part in near.retainers.items()}
        key = _parts_of(near.connector.id, retainers)
        if key not in known and key not in found and _broken(near, rules) <= allowed:
            found[key] = Candidate(_score(near, rules), near.connector.id, retainers, recorded_set(stock))
    most = max(0, count - len(frameworks))
    return (
        *sorted(found.values(), key=lambda each: -each.score)[:most],
        *(
            Candidate(each.score + _set_score(stock, other), each.connector, each.retainers, other)
            for other in led
            if other != recorded_set(stock)
            for each in frameworks
        ),
    )


def brought_up(
    stock: Stock,
    frameworks: Sequence[Framework],
    compared: FrameworkWorlds,
    answers: Sequence[Flags],
    sets: ReplacementSets,
    beside: int,
) -> tuple[Candidate, ...]:
    """The best framework in the worlds of each answer, and at most ``beside`` that lie next to it: those that are not
    compared yet. A must that only they break is paid for, so that they come first only where nothing else can be made.
    """
    rules = book(stock.figures)
    start = next(
        (choice for framework in frameworks if (choice := _choice(stock, framework)) is not None), None
    )
    if start is None:
        return ()
    allowed = _broken(start, rules)
    known = {_key(each) for each in compared.pool}
    found: dict[object, Candidate] = {}
    programme = Solver(stock, rules)
    for worlds in answers:
        led = sets.most_often(worlds, 0.0, 1)
        chosen = [start]
        solved = _solved(programme, stock, compared, worlds)
        if solved is not None:
            near = sorted(_near(solved), key=lambda choice: -_score(choice, rules))
            chosen += [solved, *(each for each in near if _broken(each, rules) <= _broken(solved, rules))][
                : beside + 1
            ]
        for choice in chosen:
            price = _broken(choice, rules)
            if price == float("inf"):
                continue
            score = _score(choice, rules) - max(0.0, price - allowed)
            for replacements in (recorded_set(stock), *led):
                retainers = {tooth: part.option.id for tooth, part in choice.retainers.items()}
                own = score + _set_score(stock, replacements)
                each = Candidate(own, choice.connector.id, retainers, replacements)
                if _key(each) not in known:
                    found.setdefault(_key(each), each)
    return tuple(found.values())


def made_then(compared: FrameworkWorlds, framework: Framework, worlds: Flags) -> Candidate | None:
    """What the solver finds in the case with an answer, as a framework to compare: it scores on average in the worlds
    of the answer what it scores there, and never more than the least of those compared, since elsewhere it may break
    what they keep. ``None`` where it is known, or blocked in those worlds."""
    found = candidate(framework)
    if _key(found) in {_key(each) for each in compared.pool}:
        return None
    more = 0.0
    for (decision, option), share in compared.shares(found).items():
        change = compared.change(decision, option)[worlds]
        open_ = np.isfinite(change)
        if open_.mean() <= 0.5:
            return None
        more += share * float(change[open_].mean())
    least = min(each.score for each in compared.pool)
    return replace(found, score=min(least, found.score - more))


def _key(each: Candidate) -> object:
    return _parts_of(each.connector, each.retainers), tuple(sorted(each.replacements.items()))


def _solved(programme: Solver, stock: Stock, compared: FrameworkWorlds, worlds: Flags) -> Choice | None:
    """What the solver chooses by the mean scores in some worlds, without parts that are blocked in most of them."""
    more: dict[Var, float] = {}
    without: set[Var] = set()

    def told(var: Var, decision: Decision, option: str, share: float) -> None:
        change = compared.change(decision, option)[worlds]
        open_ = np.isfinite(change)
        if open_.mean() <= 0.5:
            without.add(var)
        else:
            more[var] = share * float(change[open_].mean())

    for tooth, parts in stock.retainers.items():
        for part in parts:
            if not part.further:
                told(programme.x(part), Decision("retainer", tooth), part.option.id, stock.point)
    for connector, _ in stock.connectors:
        told(programme.y(connector.id), Decision("connector"), connector.id, stock.figures.weights.connector)
    selection = programme.given(more, without).solve()
    return None if selection is None else selection.choice


def _set_alone(stock: Stock, result: OptionResult) -> float:
    return result.score - (stock.figures.after_preparation if result.status == "needs_preparation" else 0.0)


def _set_score(stock: Stock, replacements: Mapping[int, str]) -> float:
    """What other replacements add to the score of a framework with those that lead. A tooth with a kind of its own pays
    what it has to score more for that, so that it leads where it does."""
    share = stock.figures.weights.replacement / max(1, len(stock.replacements))
    own = of_their_own(stock, replacements) - of_their_own(stock, recorded_set(stock))
    more = (
        _set_alone(stock, result) - _set_alone(stock, stock.replacements[tooth])
        for tooth, option in replacements.items()
        for result in stock.replaced[tooth]
        if result.option == option
    )
    return share * (fsum(more) - stock.figures.mixed_space * own)


def _parts_of(connector: str, retainers: Mapping[int, str]) -> object:
    return connector, tuple(sorted(retainers.items()))


def _choice(stock: Stock, framework: Framework) -> Choice | None:
    """The choice of parts behind a framework; ``None`` where the stock no longer has one of them."""
    connector = next((pair for pair in stock.connectors if pair[0].id == framework.connector), None)
    retainers: dict[int, Part] = {}
    for tooth, option in framework.retainers.items():
        part = next((p for p in stock.retainers.get(tooth, ()) if p.option.id == option), None)
        if part is None:
            return None
        retainers[tooth] = part
    return None if connector is None else Choice(stock, retainers, *connector)


def _near(choice: Choice) -> Iterator[Choice]:
    stock = choice.stock
    for tooth, held in choice.retainers.items():
        for part in stock.retainers.get(tooth, ()):
            if part.key != held.key and part.partner is None:
                yield replace(choice, retainers={**choice.retainers, tooth: part})
    for first, second in stock.matching:
        if first not in choice.retainers or second not in choice.retainers:
            continue
        for part in stock.retainers.get(first, ()):
            twin = next((p for p in stock.retainers.get(second, ()) if p.option.id == part.option.id), None)
            if twin is not None and part.partner is None:
                yield replace(choice, retainers={**choice.retainers, first: part, second: twin})
    for connector, result in stock.connectors:
        if connector.id != choice.connector.id:
            yield replace(choice, connector=connector, connector_result=result)


def _broken(choice: Choice, rules: Sequence[BetweenParts]) -> float:
    """The price of the musts that a choice breaks; infinite where it breaks what is never broken."""
    total = 0.0
    for rule in rules:
        if rule.entry.kind == "always" and rule.breaches(choice):
            return float("inf")
        if rule.entry.kind == "must":
            total += len(rule.breaches(choice)) * rule.entry.price
    return total


def _score(choice: Choice, rules: Sequence[BetweenParts]) -> float:
    stock, result = choice.stock, choice.connector_result
    parts = [worth(stock, part) for part in choice.retainers.values()]
    parts.append(connector_worth(stock, result.score, result.status == "needs_preparation"))
    weight = stock.figures.weights.replacement
    parts += [weight * there.score / len(stock.replacements) for there in stock.replacements.values()]
    parts += [-rule.price(stock) * len(rule.breaches(choice)) for rule in rules if rule.entry.kind == "want"]
    return fsum(parts)
