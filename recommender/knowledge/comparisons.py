"""Comparisons of facts in three-valued logic, each as a closure over how facts and groups are looked up.

A comparison is true or false only where everything that the fact may still be agrees: the whole interval of a
number, every word that is left. Otherwise it is ``None``.
"""

import operator
from collections.abc import Callable, Mapping, Sequence

from recommender.domain.measures import is_number
from recommender.facts.values import Fact, Scope

Truth = bool | None
Get = Callable[[str], Fact | None]
Groups = Mapping[str, Sequence[Scope]]
Run = Callable[[Get, Groups], Truth]
Word = str | float | bool
_EXACT: dict[str, Callable[[float, float], bool]] = {
    "<": operator.lt, "<=": operator.le, ">": operator.gt, ">=": operator.ge,
    "==": operator.eq, "!=": operator.ne,
}  # fmt: skip
_INFINITY = float("inf")


def bounds_of(fact: Fact | None) -> tuple[float, float] | None:
    """Least and most that the number may be; ``None`` when nothing is known or it is no number."""
    if fact is None:
        return None
    value = fact.value
    if value is not None:
        if is_number(value):
            return value, value
        return None
    low, high = fact.low, fact.high
    if low is None and high is None:
        return None
    return (-_INFINITY if low is None else low), (_INFINITY if high is None else high)


def order(low: float, high: float, op: str, least: float, most: float) -> Truth:
    """Truth of ``[low, high] op [least, most]``: decided only where every pair of values agrees."""
    if op in ("==", "!="):
        if high < least or low > most:
            return op == "!="
        return (op == "==") if low == high == least == most else None
    exact = _EXACT[op]
    upward = op in (">", ">=")
    if exact(low, most) if upward else exact(high, least):
        return True
    return None if (exact(high, least) if upward else exact(low, most)) else False


def run_number(name: str, op: str, limit: float) -> Run:
    exact = _EXACT[op]

    def run(get: Get, groups: Groups) -> Truth:
        fact = get(name)
        if fact is None:
            return None
        value = fact.value
        if value is not None:
            if value.__class__ is float or value.__class__ is int:
                return exact(value, limit)
        elif fact.low is None and fact.high is None:
            return None
        known = bounds_of(fact)
        return None if known is None else order(*known, op, limit, limit)

    return run


def run_words(name: str, op: str, values: tuple[Word, ...]) -> Run:
    """``==``, ``!=``, ``in``, ``not in`` against words or truth values."""
    wanted = frozenset(values)
    positive = op in ("==", "in")
    kinds = {value.__class__ for value in values}

    def run(get: Get, groups: Groups) -> Truth:
        fact = get(name)
        if fact is None:
            return None
        value = fact.value
        if value is not None:
            # a truth value is never compared as a number, nor a word as a truth value
            return (value in wanted) is positive if value.__class__ in kinds else None
        possible = fact.possible
        if possible is None:
            return None
        if possible.isdisjoint(wanted):
            return not positive
        return positive if possible <= wanted else None

    return run


def run_numbers(name: str, op: str, values: tuple[float, ...]) -> Run:
    """``in`` and ``not in`` against numbers."""
    positive = op == "in"

    def run(get: Get, groups: Groups) -> Truth:
        known = bounds_of(get(name))
        if known is None:
            return None
        low, high = known
        if low == high:
            return (low in values) is positive
        return None if any(low <= value <= high for value in values) else not positive

    return run


def run_member(name: str, op: str, word: str) -> Run:
    positive = op == "in"

    def run(get: Get, groups: Groups) -> Truth:
        fact = get(name)
        if fact is None:
            return None
        value = fact.value
        if value is not None:
            return (word in value) is positive if isinstance(value, frozenset) else None
        if fact.possible is not None and word not in fact.possible:
            return not positive
        return None

    return run


def run_against(name: str, op: str, other: str) -> Run:
    def run(get: Get, groups: Groups) -> Truth:
        first, second = get(name), get(other)
        left, right = bounds_of(first), bounds_of(second)
        if left is not None and right is not None:
            return order(*left, op, *right)
        if op not in ("==", "!=") or first is None or second is None:
            return None
        mine, theirs = words_left(first), words_left(second)
        if mine is None or theirs is None:
            return None
        if mine.isdisjoint(theirs):
            return op == "!="
        return (op == "==") if len(mine) == len(theirs) == 1 else None

    return run


def words_left(fact: Fact) -> frozenset[Word] | None:
    if isinstance(fact.value, (str, bool)):
        return frozenset((fact.value,))
    return frozenset(fact.possible) if fact.value is None and fact.possible is not None else None


def run_recorded(name: str, positive: bool) -> Run:
    def run(get: Get, groups: Groups) -> Truth:
        fact = get(name)
        return (fact is not None and (fact.value is not None or fact.within_bounds)) is positive

    return run


def run_group(kind: str, group: str, inner: Run, op: str, limit: float) -> Run:
    def run(get: Get, groups: Groups) -> Truth:
        members = groups.get(group)
        if members is None:  # a scope that was given no such group: not known, which is not the same as empty
            return None
        if kind == "count":
            found = [inner(member.fact, member.groups) for member in members]
            least = found.count(True)
            return order(least, least + found.count(None), op, limit, limit)
        stop = kind == "any"
        result: Truth = not stop
        for member in members:
            truth = inner(member.fact, member.groups)
            if truth is stop:
                return stop
            if truth is None:
                result = None
        return result

    return run
