"""A house profile in statements: what the house favours, how it weighs, what precedents count, and how it was
measured."""

from recommender.domain.statement import Choice, Said, Several, Statement, Word, count, quantity, say
from recommender.knowledge.conditions import parse
from recommender.knowledge.house import Decided, Habit, Kind, Measured, Profile
from recommender.knowledge.model import Knowledge
from recommender.knowledge.wording import in_words


def told(profile: Profile, base: Knowledge) -> dict[str, list[Statement]]:
    """By kind of decision, one statement a line, the figures measured first."""
    return {kind: list(_decided(kind, found, base)) for kind, found in profile.decisions.items()}


def measured(found: Measured, cases: int) -> Statement:
    """How often the own choice came first before and after, on cases held out."""
    return say(
        "profile.measured",
        cases=count(cases),
        decisions=count(found.decisions),
        before=quantity(found.before, "share"),
        after=quantity(found.after, "share"),
        low=quantity(100 * found.low, digits=0),
        high=quantity(100 * found.high, digits=0),
    )


def _decided(kind: Kind, found: Decided, base: Knowledge) -> list[Statement]:
    lines = [measured(found.measured, found.cases)]
    published = base.scoring
    if found.neighbours != published.neighbours or found.kappa != published.kappa:
        lines.append(
            say(
                "profile.precedents",
                most=quantity(found.neighbours / (found.neighbours + found.kappa), "share"),
                published=quantity(published.neighbours / (published.neighbours + published.kappa), "share"),
                neighbours=count(found.neighbours),
            )
        )
    for group, factor in found.likeness.items():
        code = "profile.heeds_more" if factor > 1 else "profile.heeds_less" if factor else "profile.heeds_not"
        lines.append(say(code, group=Word("likeness_group", group), factor=quantity(factor, "times", 2)))
    weights = base.criteria.base[kind]
    for name, add in found.weighs.items():
        lines.append(
            say(
                "profile.weighs",
                criterion=Word("criterion", name),
                published=quantity(weights[name], digits=0),
                now=quantity(weights[name] + add, digits=1),
            )
        )
    whole = sum(weights.values()) + sum(found.weighs.values()) + found.counts
    habits = sorted(found.habits, key=lambda habit: -abs(habit.points))
    return lines + [_habit(kind, habit, found.counts / whole, base) for habit in habits]


def _habit(kind: Kind, habit: Habit, share: float, base: Knowledge) -> Statement:
    where = None if habit.when == "always" else Said(in_words(parse(habit.when).root, base.registry))
    return say(
        "profile.favours" if habit.points > 0 else "profile.passes_over",
        options=Several(tuple(Choice(kind, option) for option in habit.options), "or"),
        points=quantity(abs(habit.points) * share, "points"),
        where=where,
        chosen=count(habit.chosen),
        cases=count(habit.cases),
    )
