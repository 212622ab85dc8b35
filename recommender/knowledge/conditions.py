"""Conditions of rules: reading them, evaluating them in three-valued logic, saying what decides them.

Python's own grammar serves as the *parser* only (``ast.parse``); nothing is ever compiled or run. What a
condition may say is listed in ``shared/rules/README.md``. Facts are distinguished from words by the dot in their
name, save the few facts that have none (``DOTLESS_FACTS``).
"""

import ast
import math
import re
from typing import Literal

from recommender.facts.values import Fact, Scope
from recommender.knowledge import atoms as a
from recommender.knowledge.atoms import Atom, Join, Node
from recommender.knowledge.comparisons import Word

__all__ = ["DOTLESS_FACTS", "Atom", "Condition", "ConditionError", "Join", "Node", "parse"]

DOTLESS_FACTS = frozenset({"arch"})
MAX_LENGTH = 2000
MAX_DEPTH = 20
_OPS: dict[type[ast.cmpop], str] = {
    ast.Eq: "==", ast.NotEq: "!=", ast.Lt: "<", ast.LtE: "<=", ast.Gt: ">", ast.GtE: ">=", ast.In: "in",
    ast.NotIn: "not in",
}  # fmt: skip
_GROUP = re.compile(r"(any|all|count)_(abutments?|spans?|standing)\Z")
_SHAPE = "write: fact == word, fact < number, fact in [..], word in fact, recorded(fact), or any_abutment(..)"


class ConditionError(ValueError):
    """A condition that cannot be read; ``column`` counts from 1 in the text as written."""

    def __init__(self, message: str, column: int = 1) -> None:
        super().__init__(f"{message} (column {column})")
        self.message = message
        self.column = column


class Condition:
    """A parsed condition. Equal when the normal forms are equal; made by :func:`parse` only.

    ``text`` is the normal form, ``written`` the text as it was read, ``atoms`` every comparison in it (those
    inside groups too), ``facts`` the names it reads, ``own_facts`` those read in the scope itself and not
    from the members of a group, ``root`` the tree.
    """

    __slots__ = ("atoms", "facts", "own_facts", "root", "run", "text", "written")

    def __init__(self, root: Node, written: str) -> None:
        self.root = root
        self.written = written
        self.text = a.node_text(root)
        self.run = root.run
        walked = list(a.walk(root))
        self.atoms = frozenset(atom for atom, _ in walked)
        self.facts = frozenset(name for atom in self.atoms for name in atom.facts)
        outside = [atom for atom, group in walked if not group and atom.inner is None]
        self.own_facts = frozenset(name for atom in outside for name in atom.facts)

    def evaluate(self, scope: Scope) -> bool | None:
        """``True``, ``False``, or ``None`` where what is recorded does not decide it."""
        return self.run(scope.fact, scope.groups)

    def reasons(self, scope: Scope) -> dict[str, Fact]:
        """The facts that make the condition what it is (true or false): those of the deciding branches only.

        A fact read from several members of a group stands once, with the fields of all of them. Empty where
        the condition is undecided or always true.
        """
        truth = self.evaluate(scope)
        found: dict[str, Fact] = {}
        if truth is not None:
            _deciding(self.root, scope, truth, found)
        return found

    def gaps(self, scope: Scope) -> tuple[str, ...]:
        """Paths of the unrecorded fields that leave the condition undecided, in the order read."""
        found: dict[str, None] = {}
        _undecided(self.root, scope, found)
        return tuple(found)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Condition) and other.text == self.text

    def __hash__(self) -> int:
        return hash(self.text)

    def __repr__(self) -> str:
        return f"Condition({self.text!r})"

    def __str__(self) -> str:
        return self.text

    def __reduce__(self) -> tuple[object, tuple[str]]:
        return parse, (self.written,)


def _merged(first: Fact, second: Fact) -> Fact:
    """One line for a fact of several teeth: the common value if there is one, the fields of all."""
    same = first.value == second.value
    lows = [fact.low for fact in (first, second)]
    highs = [fact.high for fact in (first, second)]
    return Fact(
        first.value if same else None,
        None if None in lows else min(low for low in lows if low is not None),
        None if None in highs else max(high for high in highs if high is not None),
        None,
        first.unit,
        tuple(dict.fromkeys((*first.fields, *second.fields))),
        tuple(dict.fromkeys((*first.gaps, *second.gaps))),
    )


def _deciding(node: Node, scope: Scope, truth: bool, found: dict[str, Fact]) -> None:
    if isinstance(node, Join):
        for part in node.parts:
            if part.run(scope.fact, scope.groups) is truth:
                _deciding(part, scope, truth, found)
        return
    if node.inner is None:
        for name in node.facts:
            fact = scope.fact(name)
            old = found.get(name)
            found[name] = fact if old is None or old == fact else _merged(old, fact)
        return
    for member in scope.groups.get(node.group, ()):
        inner = node.inner.run(member.fact, member.groups)
        # a count rests on every member that is decided; any and all on those that decide them
        if inner is not None and (node.kind == "count" or inner is truth):
            _deciding(node.inner, member, inner, found)


def _undecided(node: Node, scope: Scope, found: dict[str, None]) -> None:
    if node.run(scope.fact, scope.groups) is not None:
        return
    if isinstance(node, Join):
        for part in node.parts:
            _undecided(part, scope, found)
    elif node.inner is not None:
        for member in scope.groups.get(node.group, ()):
            _undecided(node.inner, member, found)
    else:
        for name in node.facts:
            fact = scope.fact(name)
            if not fact.recorded:
                found.update(dict.fromkeys(fact.gaps or ((name,) if a.case_field(name) else ())))


def parse(text: str) -> Condition:
    """Read a condition; :class:`ConditionError` names what is wrong and at which column."""
    if not isinstance(text, str):
        raise ConditionError(f"a condition is text, found {type(text).__name__}")
    if len(text) > MAX_LENGTH:
        raise ConditionError(f"condition of {len(text)} characters; at most {MAX_LENGTH}")
    written = " ".join(text.split())
    if not written:
        raise ConditionError("empty condition; write always for a rule without one")
    _check_characters(written)
    try:
        tree = ast.parse(written, mode="eval")
    except SyntaxError as error:
        raise ConditionError(f"cannot be read: {error.msg}", error.offset or len(written) + 1) from None
    except (ValueError, RecursionError, MemoryError):
        raise ConditionError("cannot be read") from None
    return Condition(_node(tree.body, 0, False), written)


def _check_characters(text: str) -> None:
    depth = 0
    for column, letter in enumerate(text, start=1):
        if not 32 <= ord(letter) < 127:
            raise ConditionError(f"character {letter!r} is not allowed", column)
        depth += (letter in "([") - (letter in ")]")
        if depth > MAX_DEPTH:
            raise ConditionError(f"brackets nested deeper than {MAX_DEPTH}", column)


def _column(node: ast.AST) -> int:
    return int(getattr(node, "col_offset", 0)) + 1


def _node(node: ast.expr, depth: int, in_group: bool) -> Node:
    if depth > MAX_DEPTH:
        raise ConditionError(f"nested deeper than {MAX_DEPTH}", _column(node))
    if isinstance(node, ast.BoolOp):
        op: Literal["and", "or"] = "and" if isinstance(node.op, ast.And) else "or"
        return a.join(op, [_node(part, depth + 1, in_group) for part in node.values])
    if isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not):
        return a.negated(_node(node.operand, depth + 1, in_group))
    if isinstance(node, ast.Compare):
        return _comparison(node, depth, in_group)
    if isinstance(node, ast.Call):
        return _call(node, depth, in_group)
    if isinstance(node, ast.Name) and node.id == "always":
        return a.always()
    name = _fact_name(node)
    if name is not None:  # a yes-or-no fact standing alone
        return a.compare(name, "==", True)
    raise ConditionError(_SHAPE, _column(node))


def _fact_name(node: ast.expr) -> str | None:
    if isinstance(node, ast.Name):
        return node.id if node.id in DOTLESS_FACTS else None
    parts: list[str] = []
    while isinstance(node, ast.Attribute):
        parts.append(node.attr)
        node = node.value
    if not parts or not isinstance(node, ast.Name):
        return None
    return ".".join((node.id, *reversed(parts)))


def _value(node: ast.expr) -> Word:
    if isinstance(node, ast.Name):
        return {"true": True, "false": False}.get(node.id, node.id)
    sign = 1
    if isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub):
        sign, node = -1, node.operand
    if isinstance(node, ast.Constant):
        if isinstance(node.value, bool) or node.value is None:
            raise ConditionError(f"write {str(node.value).lower()} in small letters", _column(node))
        if isinstance(node.value, (int, float)):
            if abs(node.value) > 1e9 or not math.isfinite(node.value):
                raise ConditionError("number out of range", _column(node))
            return sign * node.value
        if isinstance(node.value, str):
            raise ConditionError("write words without quotation marks", _column(node))
    raise ConditionError("expected a word or a number", _column(node))


def _words(node: ast.List) -> tuple[Word, ...]:
    values = tuple(dict.fromkeys(_value(each) for each in node.elts))
    if not values:
        raise ConditionError("empty list", _column(node))
    if len({str if isinstance(v, str) else bool if isinstance(v, bool) else float for v in values}) > 1:
        raise ConditionError("a list holds words or numbers, not both", _column(node))
    return values


def _comparison(node: ast.Compare, depth: int, in_group: bool) -> Node:
    if len(node.ops) > 1:
        raise ConditionError("one comparison at a time; join two with and", _column(node.comparators[1]))
    op = _OPS.get(type(node.ops[0]))
    if op is None:
        raise ConditionError("use ==, !=, <, <=, >, >=, in or not in", _column(node))
    left, right = node.left, node.comparators[0]
    if isinstance(left, ast.Call):
        return _count(left, op, right, depth, in_group)
    fact, other = _fact_name(left), _fact_name(right)
    if op in ("in", "not in"):
        if fact is not None and isinstance(right, ast.List):
            return a.among(fact, op, _words(right))
        if fact is None and other is not None:
            word = _value(left)
            if not isinstance(word, str):
                raise ConditionError("only a word can be in a set", _column(left))
            return a.member(word, op, other)
        raise ConditionError("write fact in [word, word] or word in fact", _column(node))
    if fact is None:
        raise ConditionError("the fact comes first: fact, comparison, word or number", _column(left))
    if other is not None:
        if other == fact:
            raise ConditionError("a fact is compared with itself", _column(right))
        return a.against(fact, op, other)
    value = _value(right)
    if op not in ("==", "!=") and isinstance(value, (str, bool)):
        raise ConditionError(f"{op} needs a number or a fact on its right", _column(right))
    return a.compare(fact, op, value)


def _inner(node: ast.Call, depth: int, in_group: bool) -> tuple[str, str, Node]:
    name = node.func.id if isinstance(node.func, ast.Name) else ""
    match = _GROUP.match(name)
    if match is None:
        raise ConditionError(f"unknown function {name or '?'}; {_SHAPE}", _column(node))
    if in_group:
        raise ConditionError("a group inside a group", _column(node))
    if len(node.args) != 1 or node.keywords:
        raise ConditionError(f"{name}(..) takes one condition", _column(node))
    group = "standing" if match[2] == "standing" else match[2].rstrip("s")
    return match[1], group, _node(node.args[0], depth + 1, True)


def _count(left: ast.Call, op: str, right: ast.expr, depth: int, in_group: bool) -> Node:
    kind, group, inner = _inner(left, depth, in_group)
    limit = _value(right)
    if kind != "count" or op in ("in", "not in") or isinstance(limit, (str, bool)):
        raise ConditionError("only count_..(..) is compared, and with a number", _column(left))
    return a.grouped("count", group, inner, op, float(limit))


def _call(node: ast.Call, depth: int, in_group: bool) -> Node:
    name = node.func.id if isinstance(node.func, ast.Name) else ""
    if name in ("recorded", "not_recorded"):
        fact = _fact_name(node.args[0]) if len(node.args) == 1 and not node.keywords else None
        if fact is None:
            raise ConditionError(f"{name}(..) takes the name of one fact", _column(node))
        return a.recorded(fact, name == "recorded")
    kind, group, inner = _inner(node, depth, in_group)
    if kind == "count":
        raise ConditionError("a count needs a comparison: count_abutments(..) >= 2", _column(node))
    return a.grouped("any" if kind == "any" else "all", group, inner)
