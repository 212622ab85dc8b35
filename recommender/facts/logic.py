"""Three-valued building blocks for facts that gather several teeth or fields."""

from collections.abc import Callable, Iterable

from recommender.facts.values import Fact, between, known, not_recorded


def gather_fields(facts: Iterable[Fact]) -> tuple[str, ...]:
    """Every recorded field behind the facts, once, in order of first use."""
    return tuple(dict.fromkeys(path for fact in facts for path in fact.fields))


def gather_gaps(facts: Iterable[Fact]) -> tuple[str, ...]:
    """Every unrecorded field behind the facts, once, in order of first use."""
    return tuple(dict.fromkeys(path for fact in facts for path in fact.gaps))


def test(fact: Fact, predicate: Callable[[object], bool]) -> bool | None:
    """Whether a fully known fact satisfies the predicate; ``None`` while it is not known."""
    return None if fact.value is None else predicate(fact.value)


def below(fact: Fact, limit: float) -> bool | None:
    """Whether a number lies below a limit; ``None`` where its bounds do not agree."""
    if fact.high is not None and fact.high < limit:
        return True
    return False if fact.low is not None and fact.low >= limit else None


def any_of(*answers: tuple[bool | None, Fact]) -> Fact:
    """True if one answer is true, false if all are false, otherwise not recorded (Kleene's "or")."""
    true = [fact for answer, fact in answers if answer is True]
    if true:
        return known(True, *gather_fields(true))
    unknown = [fact for answer, fact in answers if answer is None]
    if unknown:
        return Fact(
            None, fields=gather_fields(f for a, f in answers if a is False), gaps=gather_gaps(unknown)
        )
    return known(False, *gather_fields(fact for _, fact in answers))


def count_of(answers: Iterable[tuple[bool | None, Fact]], unit: str) -> Fact:
    """How many answers are true, as bounds while some are not recorded."""
    pairs = list(answers)
    sure = sum(1 for answer, _ in pairs if answer is True)
    open_ = [fact for answer, fact in pairs if answer is None]
    decided = [fact for answer, fact in pairs if answer is not None]
    return between(
        float(sure),
        float(sure + len(open_)),
        unit=unit,
        fields=gather_fields(decided),
        gaps=gather_gaps(open_),
    )


def largest(facts: Iterable[Fact], unit: str) -> Fact:
    """The largest of several measurements: one of them already bounds it from below."""
    pool = list(facts)
    measured = [fact for fact in pool if fact.low is not None]
    open_ = [fact for fact in pool if fact.high is None]
    if not measured:
        return not_recorded(*gather_gaps(pool), unit=unit)
    low = max(fact.low for fact in measured if fact.low is not None)
    high = None if open_ else max(fact.high for fact in pool if fact.high is not None)
    doubtful = [fact for fact in pool if fact.high is None or (fact.low != fact.high and fact.high > low)]
    return between(low, high, unit=unit, fields=gather_fields(measured), gaps=gather_gaps(doubtful))


def least(facts: Iterable[Fact], unit: str) -> Fact:
    """The least of several measurements: one of them already bounds it from above."""
    pool = list(facts)
    measured = [fact for fact in pool if fact.high is not None]
    open_ = [fact for fact in pool if fact.low is None]
    if not measured:
        return not_recorded(*gather_gaps(pool), unit=unit)
    high = min(fact.high for fact in measured if fact.high is not None)
    low = None if open_ else min(fact.low for fact in pool if fact.low is not None)
    doubtful = [fact for fact in pool if fact.low is None or (fact.low != fact.high and fact.low < high)]
    return between(low, high, unit=unit, fields=gather_fields(measured), gaps=gather_gaps(doubtful))


def either(one: Fact, other: Fact, gaps: Iterable[str] = ()) -> Fact:
    """A number that is one of two: what both allow, with ``gaps`` that would tell which it is."""
    both = (one, other)
    low = None if one.low is None or other.low is None else min(one.low, other.low)
    high = None if one.high is None or other.high is None else max(one.high, other.high)
    asked = tuple(dict.fromkeys((*gather_gaps(both), *gaps)))
    return between(low, high, unit=one.unit, fields=gather_fields(both), gaps=asked)
