"""The parts of a condition: atoms (one comparison each), and how they join, in three-valued logic.

A condition is kept in negation normal form: only ``and``, ``or`` and atoms, each atom having its own
complement (``<`` and ``>=``, ``in`` and ``not in``, ``any`` and ``all``). Under Kleene's strong logic that
changes no truth value (De Morgan's laws hold in it), and leaves one shape to evaluate, print and draw.

Every atom is compiled once to a closure over two things: ``get``, which looks a fact up by name (``None`` or
an unknown fact when nothing is recorded), and ``groups``, the member scopes of ``any_abutment`` and the like.
"""

import operator
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal
from weakref import WeakValueDictionary

from recommender.facts.values import Fact, Scope

Truth = bool | None
Get = Callable[[str], Fact | None]
Groups = Mapping[str, Sequence[Scope]]
Run = Callable[[Get, Groups], Truth]
Word = str | float | bool
Kind = Literal["always", "compare", "among", "member", "against", "recorded", "any", "all", "count"]

_PAIRS = (("==", "!="), ("<", ">="), (">", "<="), ("in", "not in"))
COMPLEMENT = {first: second for pair in _PAIRS for first, second in (pair, pair[::-1])}
_EXACT: dict[str, Callable[[float, float], bool]] = {
    "<": operator.lt, "<=": operator.le, ">": operator.gt, ">=": operator.ge,
    "==": operator.eq, "!=": operator.ne,
}  # fmt: skip
GROUP_NAMES = {"abutment": "abutments", "span": "spans", "standing": "standing"}
_CASE_FIELDS = ("patient.", "occlusion.", "records.", "palate.", "floor.")
_INFINITY = float("inf")


@dataclass(frozen=True, eq=False, slots=True, weakref_slot=True)
class Atom:
    """One comparison; two atoms with the same text are the same object.

    ``fact`` is the fact read (empty for ``always`` and for groups), ``op`` the comparison, ``values`` what
    it is compared with (several for ``among``), ``other`` the second fact of ``against``, ``group`` and
    ``inner`` the group and the condition on each member for ``any``, ``all`` and ``count``.
    """

    kind: Kind
    text: str
    run: Run = field(repr=False)
    fact: str = ""
    op: str = ""
    values: tuple[Word, ...] = ()
    other: str = ""
    group: str = ""
    inner: "Node | None" = None

    @property
    def facts(self) -> tuple[str, ...]:
        """Names of the facts that the atom reads, those of a group's members included."""
        if self.inner is not None:
            return tuple(dict.fromkeys(name for atom, _ in walk(self.inner) for name in atom.facts))
        return tuple(name for name in (self.fact, self.other) if name)


@dataclass(frozen=True, eq=False, slots=True)
class Join:
    """``and`` or ``or`` over two or more parts."""

    op: Literal["and", "or"]
    parts: tuple["Node", ...]
    run: Run = field(repr=False)


Node = Atom | Join
_ATOMS: WeakValueDictionary[str, Atom] = WeakValueDictionary()


def number_text(value: float) -> str:
    """The shortest way to write a number that reads back the same."""
    return str(int(value)) if float(value).is_integer() and abs(value) < 1e15 else repr(float(value))


def word_text(value: Word) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    return value if isinstance(value, str) else number_text(value)


def _is_number(value: object) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def _bounds(fact: Fact | None) -> tuple[float, float] | None:
    """Least and most that the number may be; ``None`` when nothing is known or it is no number."""
    if fact is None:
        return None
    value = fact.value
    if value is not None:
        if isinstance(value, (int, float)) and not isinstance(value, bool):
            return value, value
        return None
    low, high = fact.low, fact.high
    if low is None and high is None:
        return None
    return (-_INFINITY if low is None else low), (_INFINITY if high is None else high)


def _order(low: float, high: float, op: str, least: float, most: float) -> Truth:
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


def _run_number(name: str, op: str, limit: float) -> Run:
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
        bounds = _bounds(fact)
        return None if bounds is None else _order(*bounds, op, limit, limit)

    return run


def _run_words(name: str, op: str, values: tuple[Word, ...]) -> Run:
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


def _run_numbers(name: str, op: str, values: tuple[float, ...]) -> Run:
    """``in`` and ``not in`` against numbers."""
    positive = op == "in"

    def run(get: Get, groups: Groups) -> Truth:
        bounds = _bounds(get(name))
        if bounds is None:
            return None
        low, high = bounds
        if low == high:
            return (low in values) is positive
        return None if any(low <= value <= high for value in values) else not positive

    return run


def _run_member(name: str, op: str, word: str) -> Run:
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


def _run_against(name: str, op: str, other: str) -> Run:
    def run(get: Get, groups: Groups) -> Truth:
        first, second = get(name), get(other)
        left, right = _bounds(first), _bounds(second)
        if left is not None and right is not None:
            return _order(*left, op, *right)
        if op not in ("==", "!=") or first is None or second is None:
            return None
        mine, theirs = _words_left(first), _words_left(second)
        if mine is None or theirs is None:
            return None
        if mine.isdisjoint(theirs):
            return op == "!="
        return (op == "==") if len(mine) == len(theirs) == 1 else None

    return run


def _words_left(fact: Fact) -> frozenset[Word] | None:
    if isinstance(fact.value, (str, bool)):
        return frozenset((fact.value,))
    return frozenset(fact.possible) if fact.value is None and fact.possible is not None else None


def _run_recorded(name: str, positive: bool) -> Run:
    def run(get: Get, groups: Groups) -> Truth:
        fact = get(name)
        return (fact is not None and fact.value is not None) is positive

    return run


def _run_group(kind: str, group: str, inner: Run, op: str, limit: float) -> Run:
    def run(get: Get, groups: Groups) -> Truth:
        members = groups.get(group)
        if members is None:  # a scope that was given no such group: not known, which is not the same as empty
            return None
        if kind == "count":
            found = [inner(member.fact, member.groups) for member in members]
            least = found.count(True)
            return _order(least, least + found.count(None), op, limit, limit)
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


def _intern(text: str, make: Callable[[], Atom]) -> Atom:
    atom = _ATOMS.get(text)
    if atom is None:
        atom = make()
        _ATOMS[text] = atom
    return atom


def always(truth: bool = True) -> Atom:
    text = "always" if truth else "not always"
    return _intern(text, lambda: Atom("always", text, lambda get, groups: truth, op="==" if truth else "!="))


def compare(fact: str, op: str, value: Word) -> Atom:
    text = f"{fact} {op} {word_text(value)}"
    run = _run_words(fact, op, (value,)) if not _is_number(value) else _run_number(fact, op, value)  # type: ignore[arg-type]
    return _intern(text, lambda: Atom("compare", text, run, fact, op, (value,)))


def among(fact: str, op: str, values: tuple[Word, ...]) -> Atom:
    text = f"{fact} {op} [{', '.join(word_text(value) for value in values)}]"
    numbers = tuple(float(value) for value in values if not isinstance(value, (str, bool)))
    run = _run_numbers(fact, op, numbers) if numbers else _run_words(fact, op, values)
    return _intern(text, lambda: Atom("among", text, run, fact, op, values))


def member(word: str, op: str, fact: str) -> Atom:
    text = f"{word} {op} {fact}"
    return _intern(text, lambda: Atom("member", text, _run_member(fact, op, word), fact, op, (word,)))


def against(fact: str, op: str, other: str) -> Atom:
    text = f"{fact} {op} {other}"
    return _intern(text, lambda: Atom("against", text, _run_against(fact, op, other), fact, op, (), other))


def recorded(fact: str, positive: bool = True) -> Atom:
    text = f"{'' if positive else 'not_'}recorded({fact})"
    op = "==" if positive else "!="
    return _intern(text, lambda: Atom("recorded", text, _run_recorded(fact, positive), fact, op))


def grouped(
    kind: Literal["any", "all", "count"], group: str, inner: Node, op: str = "", limit: float = 0.0
) -> Atom:
    name = group if kind == "any" else GROUP_NAMES[group]
    text = f"{kind}_{name}({node_text(inner)})" + (f" {op} {number_text(limit)}" if kind == "count" else "")
    values = (limit,) if kind == "count" else ()
    run = _run_group(kind, group, inner.run, op, limit)
    return _intern(text, lambda: Atom(kind, text, run, op=op, values=values, group=group, inner=inner))


def join(op: Literal["and", "or"], parts: Sequence[Node]) -> Node:
    """The parts joined; nested joins of the same kind are flattened and repeated parts dropped."""
    flat: dict[str, Node] = {}
    for part in parts:
        inside = part.parts if isinstance(part, Join) and part.op == op else (part,)
        for each in inside:
            flat.setdefault(node_text(each), each)
    kept = tuple(flat.values())
    if len(kept) == 1:
        return kept[0]
    runs = tuple(part.run for part in kept)
    stop = op == "or"

    def run(get: Get, groups: Groups) -> Truth:
        result: Truth = not stop
        for each in runs:
            truth = each(get, groups)
            if truth is stop:
                return stop
            if truth is None:
                result = None
        return result

    return Join(op, kept, run)


def negated(node: Node) -> Node:
    """The complement: true where this is false, false where it is true, undecided where it is undecided."""
    if isinstance(node, Join):
        return join("or" if node.op == "and" else "and", [negated(part) for part in node.parts])
    if node.kind == "always":
        return always(node.op != "==")
    if node.kind == "recorded":
        return recorded(node.fact, node.op != "==")
    if node.kind in ("any", "all"):
        assert node.inner is not None
        return grouped("all" if node.kind == "any" else "any", node.group, negated(node.inner))
    op = COMPLEMENT[node.op]
    if node.kind == "count":
        assert node.inner is not None
        return grouped("count", node.group, node.inner, op, float(node.values[0]))
    if node.kind == "member":
        return member(str(node.values[0]), op, node.fact)
    if node.kind == "against":
        return against(node.fact, op, node.other)
    return (
        compare(node.fact, op, node.values[0])
        if node.kind == "compare"
        else among(node.fact, op, node.values)
    )


def node_text(node: Node, inside: str = "") -> str:
    """Normal form of the text; ``or`` inside ``and`` (and the reverse) stands in brackets."""
    if isinstance(node, Atom):
        return node.text
    text = f" {node.op} ".join(node_text(part, node.op) for part in node.parts)
    return f"({text})" if inside and inside != node.op else text


def walk(node: Node, group: str = "") -> Iterator[tuple[Atom, str]]:
    """Every atom with the group in which it is read (empty outside); a group comes before its parts."""
    if isinstance(node, Join):
        for part in node.parts:
            yield from walk(part, group)
        return
    yield node, group
    if node.inner is not None:
        yield from walk(node.inner, node.group)


def case_field(name: str) -> bool:
    """Whether the fact's name is itself the path of a case field."""
    return name.startswith(_CASE_FIELDS)
