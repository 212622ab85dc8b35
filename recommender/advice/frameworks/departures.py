"""Where a framework does not take what leads at a decision, and the reason that is worth it.

The reason is found by putting the leading option back: the rules between parts that would then be broken, or
broken more often, are why it was left. An option that leads but cannot be made says so.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace

from recommender.advice.frameworks.parts import Choice, Part, Stock
from recommender.advice.frameworks.rules.base import BetweenParts, Breach
from recommender.advice.frameworks.rules.holding import EnoughRetainers
from recommender.advice.frameworks.solve import connector_worth, worth
from recommender.advice.model import USABLE, WORTH_SAYING, Departure, OptionResult
from recommender.domain.statement import Choice as Option
from recommender.domain.statement import Statement, Word, quantity, say, several, tooth

_EVEN = 1e-6


def departures_of(
    choice: Choice, rests: dict[int, str], rules: Sequence[BetweenParts], *, runner_up: bool
) -> tuple[Departure, ...]:
    """Every part that is not its decision's leading option. ``runner_up``: the choice had to differ from a
    better one.
    """
    stock = choice.stock
    found = [*_fewer(choice, rules)]
    for number, part in choice.retainers.items():
        lead = stock.leads.get(number)
        if lead is not None and lead.option != part.option.id:
            why = _why_not(choice, part, lead, rules, runner_up=runner_up)
            found.append(
                _departure(
                    "retainer", number, part.option.id, lead.option, lead.score - part.result.score, why
                )
            )
        elif lead is not None and rests.get(number) not in (None, stock.rest_leads.get(number)):
            why = say(
                "departs.rest_joins_seat"
                if number in {s.tooth for s in stock.seats}
                else "departs.rest_as_built"
            )
            found.append(_departure("rest", number, rests[number], stock.rest_leads[number], None, why))
    if choice.connector.id != stock.connector_lead.option:
        why = _why_not_connector(choice, rules, runner_up=runner_up)
        behind = stock.connector_lead.score - choice.connector_result.score
        found.append(
            _departure("connector", 0, choice.connector.id, stock.connector_lead.option, behind, why)
        )
    for number, result in sorted(stock.replacements.items()):
        lead = stock.replaced[number][0]
        if lead.option != result.option:
            behind = lead.score - result.score
            found.append(
                _departure(
                    "replacement", number, result.option, lead.option, behind, say("departs.one_kind_a_space")
                )
            )
    return tuple(found)


def _departure(
    kind: str, number: int, taken: str, lead: str, behind: float | None, why: Statement
) -> Departure:
    said = say(
        f"departs.{kind}", rule=why.rule, source=why.source, tooth=tooth(number) if number else None,
        taken=Option(kind, taken), lead=Option(kind, lead), why=why,
        points=quantity(behind, "points") if behind is not None and behind > WORTH_SAYING else None,
    )  # fmt: skip
    return Departure(f"{kind}:{number}" if number else kind, lead, said)


def _fewer(choice: Choice, rules: Sequence[BetweenParts]) -> Iterator[Departure]:
    """Fewer retainers than the class wants is a departure by itself."""
    for rule in rules:
        breaches = rule.breaches(choice) if isinstance(rule, EnoughRetainers) else []
        if breaches and breaches[0].said is not None:
            said = say("departs.fewer", rule=rule.id, source=rule.entry.source, why=breaches[0].said)
            yield Departure("retainers", str(len(choice.held) + len(breaches)), said)


def _why_not(
    choice: Choice, part: Part, lead: OptionResult, rules: Sequence[BetweenParts], *, runner_up: bool
) -> Statement:
    stock = choice.stock
    made = [one for one in stock.retainers[part.tooth] if one.option.id == lead.option]
    if not made:
        return _cannot(stock, part.tooth, lead)
    reasons = []
    for one in made:
        other = _swapped(choice, one)
        if other is None:
            reasons.append(say("departs.no_other_half"))
            continue
        worse = _worse(choice, other, rules)
        gain = _objective(other, rules) - _objective(choice, rules)
        if worse and gain <= _EVEN:
            return _for_rules(worse)
        reasons.append(_even(gain, stock) if gain > -_EVEN or not worse else _for_rules(worse))
        if gain <= _EVEN and not worse:
            reasons[-1] = say("departs.neighbour_better", points=quantity(-gain / stock.point, "points"))
    return say("departs.runner_up") if runner_up else reasons[0]


def _even(gain: float, stock: Stock) -> Statement:
    return say("departs.equal") if abs(gain) / stock.point < 0.5 else say("departs.only_together")


def _cannot(stock: Stock, number: int, lead: OptionResult) -> Statement:
    if lead.status not in USABLE:
        return say("departs.lead_against_advice")
    why = stock.unbuilt.get((number, lead.option))
    at = Word("surface", why.at) if why is not None and why.at else None
    return say(f"departs.unbuilt_{why.reason}", at=at) if why is not None else say("departs.not_offered")


def _for_rules(worse: list[tuple[BetweenParts, Breach]]) -> Statement:
    rule, _ = worse[0]
    kept = several((say(f"between_parts.{one.id}") for one, _ in worse), "semicolon")
    return say("departs.for_rules", rule=rule.id, source=rule.entry.source, kept=kept)


def _worse(choice: Choice, other: Choice, rules: Sequence[BetweenParts]) -> list[tuple[BetweenParts, Breach]]:
    """The rules that the other choice breaks more often, the dearest first."""
    found = []
    for rule in rules:
        more = rule.breaches(other)[len(rule.breaches(choice)) :]
        if more:
            weight = float("inf") if rule.entry.kind == "always" else rule.price(choice.stock) * len(more)
            found.append((weight, rule, more[0]))
    found.sort(key=lambda one: -one[0])
    return [(rule, breach) for _, rule, breach in found]


def _swapped(choice: Choice, part: Part) -> Choice | None:
    """The choice with another part on its tooth; both halves of an embrasure clasp, and none left alone."""
    retainers = dict(choice.retainers)
    was = retainers.get(part.tooth)
    retainers[part.tooth] = part
    if part.partner is not None:
        half = next(
            (
                o
                for o in choice.stock.retainers.get(part.partner, ())
                if o.partner == part.tooth and o.option == part.option
            ),
            None,
        )
        if half is None:
            return None
        retainers[part.partner] = half
    if was is not None and was.partner is not None and was.partner != part.partner:
        left = choice.stock.retainers[was.partner]
        retainers.pop(was.partner)
        alone = [other for other in left if other.partner is None]
        if not left[0].further:
            if not alone:
                return None
            retainers[was.partner] = max(alone, key=lambda o: (o.value, o.option.id))
    return replace(choice, retainers=dict(sorted(retainers.items())))


def _objective(choice: Choice, rules: Sequence[BetweenParts]) -> float:
    """What a choice is worth: its parts less every breach; never-broken rules at any price."""
    stock, result = choice.stock, choice.connector_result
    total = sum(worth(stock, part) for part in choice.retainers.values())
    total += connector_worth(stock, result.score, result.status == "needs_preparation")
    for rule in rules:
        price = 1e9 if rule.entry.kind == "always" else rule.price(stock)
        total -= price * len(rule.breaches(choice))
    return total


def _why_not_connector(choice: Choice, rules: Sequence[BetweenParts], *, runner_up: bool) -> Statement:
    stock = choice.stock
    lead = next((pair for pair in stock.connectors if pair[0].id == stock.connector_lead.option), None)
    if lead is None:
        return say("departs.lead_against_advice")
    other = replace(choice, connector=lead[0], connector_result=lead[1])
    worse = _worse(choice, other, rules)
    if worse and not runner_up:
        return _for_rules(worse)
    return say("departs.runner_up") if runner_up else say("departs.equal")
