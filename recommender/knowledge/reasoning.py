"""Whether a condition can ever be true, from the words and bounds that its facts can have.

The condition is spread into alternatives (disjunctive normal form, up to a cap), and each alternative is
searched for a contradiction: an empty interval, a word list with nothing left, a word both in and not in a
set, a fact both recorded and not. "Cannot be true" is always right; where nothing is found the condition may
still be impossible for reasons of anatomy, which this does not know.
"""

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from itertools import product

from recommender.knowledge.atoms import Atom, Join, Node, join, negated
from recommender.knowledge.registry import FactSpec, Registry

CAP = 4000
# Units that are counted, so that nothing lies between two whole numbers.
_COUNTED = frozenset({"teeth", "spaces", "sides", "seats", "rests", "retainers", "steps"})


def can_be_true(node: Node, registry: Registry) -> bool:
    """``False`` only where no case whatever makes the condition true."""
    found = alternatives(node)
    return True if found is None else any(_consistent(atoms, registry) for atoms in found)


def always_true(node: Node, registry: Registry) -> bool:
    """Whether the condition is true wherever it is decided at all."""
    return not can_be_true(negated(node), registry)


def implies(first: Node, second: Node, registry: Registry) -> bool:
    """Whether the second holds wherever the first does and both are decided; ``False`` where that is not seen."""
    return not can_be_true(join("and", [first, negated(second)]), registry)


def alternatives(node: Node) -> list[tuple[Atom, ...]] | None:
    """The conjunctions of which at least one must hold; ``None`` when there are more than the cap."""
    if isinstance(node, Atom):
        return [(node,)]
    parts = [alternatives(part) for part in node.parts]
    lists = [part for part in parts if part is not None]
    if len(lists) < len(parts):
        return None
    if node.op == "or":
        spread = [atoms for part in lists for atoms in part]
        return spread if len(spread) <= CAP else None
    if math.prod(len(part) for part in lists) > CAP:
        return None
    return [tuple(dict.fromkeys(atom for atoms in each for atom in atoms)) for each in product(*lists)]


@dataclass(slots=True)
class _Left:
    """What one fact can still be."""

    low: float = -math.inf
    low_open: bool = False
    high: float = math.inf
    high_open: bool = False
    allowed: set[object] | None = None
    excluded: set[object] = field(default_factory=set)
    inside: set[object] = field(default_factory=set)
    outside: set[object] = field(default_factory=set)
    recorded: bool | None = None
    exact: bool = False

    def above(self, limit: float, is_open: bool) -> None:
        if limit > self.low or (limit == self.low and is_open):
            self.low, self.low_open = limit, is_open

    def below(self, limit: float, is_open: bool) -> None:
        if limit < self.high or (limit == self.high and is_open):
            self.high, self.high_open = limit, is_open

    def only(self, values: Iterable[object]) -> None:
        chosen = set(values)
        self.allowed = chosen if self.allowed is None else self.allowed & chosen

    def fits(self, value: object) -> bool:
        if isinstance(value, (str, bool)):
            return True
        assert isinstance(value, (int, float))
        low = value > self.low if self.low_open else value >= self.low
        return low and (value < self.high if self.high_open else value <= self.high)

    def empty(self, counted: bool) -> bool:
        if self.inside & self.outside or (self.recorded is False and self.exact):
            return True
        if self.allowed is not None and not any(self.fits(v) for v in self.allowed - self.excluded):
            return True
        low, high = self.low, self.high
        if low > high or (low == high and (self.low_open or self.high_open)):
            return True
        if low == high and low in self.excluded:
            return True
        if counted and not math.isinf(low) and not math.isinf(high):
            first = math.floor(low) + 1 if self.low_open else math.ceil(low)
            last = math.ceil(high) - 1 if self.high_open else math.floor(high)
            return not any(number not in self.excluded for number in range(first, last + 1))
        return False


def _start(spec: FactSpec | None) -> _Left:
    left = _Left()
    if spec is None:
        return left
    if spec.low is not None:
        left.low = spec.low
    elif spec.unit in _COUNTED:
        left.low = 0.0
    if spec.high is not None:
        left.high = spec.high
    if spec.type == "bool":
        left.allowed = {True, False}
    elif spec.type == "word" and spec.values:
        left.allowed = set(spec.values)
    return left


def _consistent(atoms: tuple[Atom, ...], registry: Registry) -> bool:
    facts: dict[str, _Left] = {}
    specs = registry.facts

    def of(name: str) -> _Left:
        if name not in facts:
            facts[name] = _start(specs.get(name))
        return facts[name]

    for atom in atoms:
        if atom.kind == "always":
            if atom.op != "==":
                return False
        elif atom.kind == "recorded":
            left = of(atom.fact)
            wanted = atom.op == "=="
            if left.recorded is (not wanted):
                return False
            left.recorded = wanted
        elif atom.kind == "member":
            left = of(atom.fact)
            (left.inside if atom.op == "in" else left.outside).update(atom.values)
            left.exact = left.exact or atom.op == "in"
        elif atom.kind in ("compare", "among"):
            _narrow(of(atom.fact), atom, specs.get(atom.fact))
        elif atom.kind == "against":
            of(atom.fact)
            of(atom.other)
    for name, left in facts.items():
        spec = specs.get(name)
        if left.empty(spec is not None and spec.unit in _COUNTED):
            return False
    return _pairs_fit(atoms, facts) and _groups_fit(atoms, registry)


def _narrow(left: _Left, atom: Atom, spec: FactSpec | None) -> None:
    number = not isinstance(atom.values[0], (str, bool))
    if atom.op in ("==", "in"):
        left.only(atom.values)
        # a word that is settled is a recorded one; a number may be settled by its bounds alone
        left.exact = left.exact or (not number and len(atom.values) == 1)
        if number:
            left.above(min(float(v) for v in atom.values), False)
            left.below(max(float(v) for v in atom.values), False)
    elif atom.op in ("!=", "not in"):
        left.excluded.update(atom.values)
    elif atom.op in (">", ">="):
        left.above(float(atom.values[0]), atom.op == ">")
    else:
        left.below(float(atom.values[0]), atom.op == "<")


def _pairs_fit(atoms: tuple[Atom, ...], facts: dict[str, _Left]) -> bool:
    orders: dict[tuple[str, str], set[str]] = {}
    turned = {"<": ">", "<=": ">=", ">": "<", ">=": "<=", "==": "==", "!=": "!="}
    for atom in atoms:
        if atom.kind != "against":
            continue
        first, second, op = atom.fact, atom.other, atom.op
        if first > second:
            first, second, op = second, first, turned[op]
        orders.setdefault((first, second), set()).add(op)
    for (first, second), ops in orders.items():
        # which of less, equal, greater is left
        left = {"<", "==", ">"}
        for op in ops:
            left &= {
                "<": {"<"},
                "<=": {"<", "=="},
                ">": {">"},
                ">=": {">", "=="},
                "==": {"=="},
                "!=": {"<", ">"},
            }[op]
        a, b = facts[first], facts[second]
        if a.low >= b.high:
            left.discard("<")
        if b.low >= a.high:
            left.discard(">")
        if a.low > b.high or b.low > a.high:
            left.discard("==")
        if a.allowed is not None and b.allowed is not None and a.allowed.isdisjoint(b.allowed):
            left.discard("==")
        if not left:
            return False
    return True


def _groups_fit(atoms: tuple[Atom, ...], registry: Registry) -> bool:
    for group in {atom.group for atom in atoms if atom.group}:
        here = [atom for atom in atoms if atom.group == group and atom.inner is not None]
        every = [atom.inner for atom in here if atom.kind == "all" and atom.inner is not None]
        for atom in here:
            assert atom.inner is not None
            if atom.kind == "count":
                limit = float(atom.values[0])
                if (atom.op == "<" and limit <= 0) or (atom.op in ("<=", "==") and limit < 0):
                    return False
                if atom.op == "==" and not limit.is_integer():
                    return False
                least = {">": limit + 1e-9, ">=": limit, "==": limit}.get(atom.op, 0.0)
                if least <= 0:
                    continue
            elif atom.kind == "all":
                continue
            # one member at least must satisfy this and whatever holds for all
            if not can_be_true(join("and", [atom.inner, *every]), registry):
                return False
    return True


def parts_of(node: Node) -> Iterator[Node]:
    """The node and every join and atom under it."""
    yield node
    if isinstance(node, Join):
        for part in node.parts:
            yield from parts_of(part)


def dead_parts(node: Node, registry: Registry) -> list[Node]:
    """Alternatives of an ``or`` that can never be true, in a condition that as a whole can."""
    return [
        part
        for each in parts_of(node)
        if isinstance(each, Join) and each.op == "or"
        for part in each.parts
        if not can_be_true(part, registry)
    ]
