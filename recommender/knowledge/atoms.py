"""The parts of a condition: atoms (one comparison each), and how they join, in three-valued logic.

A condition is kept in negation normal form: only ``and``, ``or`` and atoms, each atom having its own
complement (``<`` and ``>=``, ``in`` and ``not in``, ``any`` and ``all``). Under Kleene's strong logic that
changes no truth value (De Morgan's laws hold in it), and leaves one shape to evaluate, print and draw.

Every atom is compiled once to a closure over two things: ``get``, which looks a fact up by name (``None`` or
an unknown fact when nothing is recorded), and ``groups``, the member scopes of ``any_abutment`` and the like.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Literal
from weakref import WeakValueDictionary

from recommender.domain.measures import is_number
from recommender.knowledge.comparisons import (
    Get,
    Groups,
    Run,
    Truth,
    Word,
    run_against,
    run_group,
    run_member,
    run_number,
    run_numbers,
    run_recorded,
    run_words,
)

Kind = Literal["always", "compare", "among", "member", "against", "recorded", "any", "all", "count"]

_PAIRS = (("==", "!="), ("<", ">="), (">", "<="), ("in", "not in"))
COMPLEMENT = {first: second for pair in _PAIRS for first, second in (pair, pair[::-1])}
GROUP_NAMES = {"abutment": "abutments", "span": "spans", "standing": "standing"}
_CASE_FIELDS = ("patient.", "occlusion.", "records.", "palate.", "floor.")


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
    run = run_words(fact, op, (value,)) if not is_number(value) else run_number(fact, op, value)
    return _intern(text, lambda: Atom("compare", text, run, fact, op, (value,)))


def among(fact: str, op: str, values: tuple[Word, ...]) -> Atom:
    text = f"{fact} {op} [{', '.join(word_text(value) for value in values)}]"
    numbers = tuple(float(value) for value in values if not isinstance(value, (str, bool)))
    run = run_numbers(fact, op, numbers) if numbers else run_words(fact, op, values)
    return _intern(text, lambda: Atom("among", text, run, fact, op, values))


def member(word: str, op: str, fact: str) -> Atom:
    text = f"{word} {op} {fact}"
    return _intern(text, lambda: Atom("member", text, run_member(fact, op, word), fact, op, (word,)))


def against(fact: str, op: str, other: str) -> Atom:
    text = f"{fact} {op} {other}"
    return _intern(text, lambda: Atom("against", text, run_against(fact, op, other), fact, op, (), other))


def recorded(fact: str, positive: bool = True) -> Atom:
    text = f"{'' if positive else 'not_'}recorded({fact})"
    op = "==" if positive else "!="
    return _intern(text, lambda: Atom("recorded", text, run_recorded(fact, positive), fact, op))


def grouped(
    kind: Literal["any", "all", "count"], group: str, inner: Node, op: str = "", limit: float = 0.0
) -> Atom:
    name = group if kind == "any" else GROUP_NAMES[group]
    text = f"{kind}_{name}({node_text(inner)})" + (f" {op} {number_text(limit)}" if kind == "count" else "")
    values = (limit,) if kind == "count" else ()
    run = run_group(kind, group, inner.run, op, limit)
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
