"""Conditions in every world, in three-valued logic: 0 false, 1 not decided, 2 true.

A fact may stay a band in a complete world (mechanics give bands), so that "not decided" remains.
"""

from collections.abc import Mapping, Sequence

import numpy as np
import numpy.typing as npt

from recommender.advice.confidence.columns import (
    NONE,
    Codes,
    Column,
    Kept,
    Levels,
    Truths,
    WorldScope,
    combinations,
    joint,
    key_of,
    occurring,
    same,
)
from recommender.facts.values import Fact
from recommender.knowledge.atoms import Atom, Join, Node
from recommender.knowledge.comparisons import Truth, order

LEVEL: Mapping[Truth, int] = {False: 0, None: 1, True: 2}


_FALSE, _NOT_DECIDED, _TRUE = Truths(0), Truths(1), Truths(2)
_SAME = (_FALSE, _NOT_DECIDED, _TRUE)


_READS: dict[Node, frozenset[str]] = {}
_MOST_READ = 20_000


def _reads(node: Node) -> frozenset[str]:
    """Names of the facts that a condition reads in its own scope, not in those of a group."""
    found = _READS.get(node)
    if found is None:
        if isinstance(node, Join):
            found = frozenset[str]().union(*map(_reads, node.parts))
        else:
            found = frozenset() if node.inner is not None else frozenset(node.facts)
        if len(_READS) > _MOST_READ:
            _READS.clear()
        _READS[node] = found
    return found


def truths(node: Node, scope: WorldScope) -> Truths:
    """The truth of a condition in every world of a scope; worked out once for each part and set of columns, and for all
    options whose own facts it does not read."""
    while scope.base is not None and _reads(node).isdisjoint(scope.layers[-1].facts):
        scope = scope.base
    known = scope.known.get(node)
    if known is None:
        known = scope.known[node] = _joined(node, scope) if isinstance(node, Join) else _atom(node, scope)
    return known


def _joined(node: Join, scope: WorldScope) -> Truths:
    stop = 0 if node.op == "and" else 2
    fixed = 2 - stop
    varying: list[Truths] = []
    for part in node.parts:
        found = truths(part, scope)
        if isinstance(found.levels, int):
            if found.levels == stop:
                return _SAME[stop]
            if found.levels == 1:
                fixed = 1
        else:
            varying.append(found)
    if not varying:
        return _SAME[fixed]
    gather = np.minimum if node.op == "and" else np.maximum
    levels = varying[0].levels
    for other in varying[1:]:
        levels = gather(levels, other.levels)
    if fixed == 1:
        levels = gather(levels, np.int8(1))
    return Truths(levels, NONE.union(*(each.fields for each in varying)))


def _atom(atom: Atom, scope: WorldScope) -> Truths:
    if atom.inner is not None:
        return _grouped(atom, scope)
    if not atom.fact:
        return _TRUE if atom.op == "==" else _FALSE
    names = (atom.fact, atom.other) if atom.other else (atom.fact,)
    columns = [scope.column(name) for name in names]
    cache = scope.layers[0].compared
    key_ = (atom.text, *(id(column) for column in columns))
    kept = cache.get(key_)
    if kept is not None:
        return kept[0]
    found = _compared(atom, names, columns)
    cache[key_] = (found, columns)  # columns are kept, so that their identities stay theirs
    return found


def _compared(atom: Atom, names: tuple[str, ...], columns: Sequence[Column]) -> Truths:
    varying = [column for column in columns if column.codes is not None]
    if not varying:
        facts: dict[str, Fact] = {name: column.forms[0] for name, column in zip(names, columns, strict=True)}
        return _SAME[LEVEL[atom.run(facts.get, {})]]
    told = (id(atom), *same(columns))
    known = _TRUTHS.get(told)
    return known if known is not None else _TRUTHS.put(told, _told(atom, names, columns), (atom, columns))


_TRUTHS: Kept[Truths] = Kept(12_000)


def _told(atom: Atom, names: tuple[str, ...], columns: Sequence[Column]) -> Truths:
    varying = [column for column in columns if column.codes is not None]
    many = [column.codes for column in varying if column.codes is not None]
    sizes = [len(column.forms) for column in varying]
    codes, found = (many[0], None) if len(varying) == 1 else occurring(many, sizes)
    key = (id(atom), *key_of(columns), None if found is None else found.tobytes())
    levels = _LEVELS.get(key)
    if levels is None:
        levels = _LEVELS.put(
            key, _levels(atom, names, columns, sizes, found), (atom, [column.forms for column in varying])
        )
    if isinstance(levels, int):
        return _SAME[levels]
    return Truths(levels[codes], NONE.union(*(column.fields for column in varying)))


_LEVELS: Kept[Levels | int] = Kept()


def _levels(
    atom: Atom, names: tuple[str, ...], columns: Sequence[Column], sizes: Sequence[int], found: Codes | None
) -> Levels | int:
    """The level of each combination of forms that occurs; one number where a single column gives the same for all."""
    facts: dict[str, Fact] = {name: column.forms[0] for name, column in zip(names, columns, strict=True)}
    at = [i for i, column in enumerate(columns) if column.codes is not None]
    levels = []
    for combination in [(i,) for i in range(sizes[0])] if found is None else combinations(found, sizes):
        for i, place in zip(at, combination, strict=True):
            facts[names[i]] = columns[i].forms[place]
        levels.append(LEVEL[atom.run(facts.get, {})])
    if len(columns) == 1 and len(set(levels)) == 1:
        return levels[0]
    return np.array(levels, dtype=np.int8)


def _grouped(atom: Atom, scope: WorldScope) -> Truths:
    members = scope.members(atom.group)
    assert atom.inner is not None
    if members is None:
        return _NOT_DECIDED
    each = [truths(atom.inner, member) for member in members]
    fields = NONE.union(*(found.fields for found in each)) if each else NONE
    if atom.kind in ("any", "all"):
        stop = 2 if atom.kind == "any" else 0
        gather = np.maximum if atom.kind == "any" else np.minimum
        result: Levels | int = 2 - stop
        for found in each:
            if isinstance(found.levels, int) and found.levels == stop:
                return _SAME[stop]
            result = gather(result, found.levels)
        if isinstance(result, np.ndarray) and result.ndim:
            return Truths(result.astype(np.int8, copy=False), fields)
        return _SAME[int(result)]
    limit = float(atom.values[0])
    sure: npt.NDArray[np.intp] | int = 0
    may: npt.NDArray[np.intp] | int = 0
    for found in each:
        sure = sure + np.asarray(found.levels == 2).astype(np.intp)
        may = may + np.asarray(np.asarray(found.levels) >= 1).astype(np.intp)
    low, high = np.atleast_1d(sure), np.atleast_1d(may)
    size = len(each) + 1
    inverse, pairs = joint([low, high], [size, size])
    levels = np.array([LEVEL[order(a, b, atom.op, limit, limit)] for a, b in pairs], dtype=np.int8)
    if len(low) == 1:
        return _SAME[int(levels[inverse[0]])]
    return Truths(levels[inverse], fields)
