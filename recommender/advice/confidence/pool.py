"""The frameworks that are compared in every world: the best of the case as it is recorded, and what lies next to them.

Next to a framework lies each that has another retainer on one tooth, or the same other kind on a matching pair, or
another connector, keeps what is never broken and breaks no must that the best keeps. The best by score are taken.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from math import fsum

from recommender.advice.confidence.framework_worlds import Candidate
from recommender.advice.frameworks.parts import Choice, Part, Stock
from recommender.advice.frameworks.rules.base import BetweenParts
from recommender.advice.frameworks.rules.book import book
from recommender.advice.frameworks.solve import connector_worth, worth
from recommender.advice.model import Framework


def pool_of(stock: Stock, frameworks: Sequence[Framework], count: int) -> tuple[Candidate, ...]:
    """Further frameworks to compare ``frameworks`` with, best first, ``count`` with them; none where there is none to
    start from."""
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
            replacements = {tooth: result.option for tooth, result in stock.replacements.items()}
            found[key] = Candidate(_score(near, rules), near.connector.id, retainers, replacements)
    most = max(0, count - len(frameworks))
    return tuple(sorted(found.values(), key=lambda each: -each.score)[:most])


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
