"""The same question put to general-purpose tools, each in the way its users would put it.

Every function takes the library and gives ``ask(query) -> row numbers`` of the ten nearest. What a query
costs a stored code is a table (see ``recommender.precedents.search.encode``), so all but one of them can give the
exact answer; the run checks that they do.
"""

from collections.abc import Callable
from importlib import import_module
from typing import Any

import numpy as np

from benchmarks.generate import Generated
from recommender.precedents.search.encode import Query
from recommender.precedents.search.tables import GAP, ONE

K = 10
Ask = Callable[[Query], "np.ndarray[tuple[int], np.dtype[np.int64]]"]


class NotHereError(Exception):
    """The tool is not installed; the run says so and goes on."""


def _need(name: str) -> Any:
    try:
        return import_module(name)
    except ImportError as error:
        raise NotHereError(f"{name} is not installed") from error


def pandas_columns(made: Generated) -> Ask:
    """A data frame of codes; each column mapped through the query's costs, added up, ``nsmallest``."""
    pandas = _need("pandas")
    frame = pandas.DataFrame(made.columns.codes, columns=list(made.features.names))

    def ask(query: Query) -> Any:
        total = pandas.Series(0, index=frame.index, dtype="int64")
        for index, name in enumerate(frame.columns):
            if query.codes[index] != GAP:
                total += frame[name].map(pandas.Series(query.costs[index].astype("int64")))
        return total.nsmallest(K).index.to_numpy()

    return ask


def duckdb_order_by(made: Generated) -> Ask:
    """A table of codes; the sum of list look-ups in ``ORDER BY ... LIMIT 10``, all threads."""
    duckdb, pandas = _need("duckdb"), _need("pandas")
    names = [f"f{n}" for n in range(len(made.features.names))]
    frame = pandas.DataFrame(made.columns.codes, columns=names)
    connection = duckdb.connect()
    connection.execute("CREATE TABLE cases AS SELECT * FROM frame")
    del frame

    def ask(query: Query) -> Any:
        used = [n for n in range(len(names)) if query.codes[n] != GAP]
        # a gap's code lies beyond the end of its list, where a look-up gives NULL
        sizes = {n: len(made.features.weighted[n].feature.table) for n in used}
        terms = " + ".join(
            f"coalesce((SELECT l{n} FROM costs)[f{n}::INTEGER + 1], {query.costs[n][GAP]})" for n in used
        )
        lists = ", ".join(f"{query.costs[n][: sizes[n]].tolist()}::BIGINT[] AS l{n}" for n in used)
        sql = f"WITH costs AS (SELECT {lists or 0}) SELECT rowid FROM cases ORDER BY {terms or 0}, rowid LIMIT {K}"
        return np.array([row for (row,) in connection.execute(sql).fetchall()])

    return ask


def sklearn_callable(made: Generated) -> Ask:
    """``NearestNeighbors(algorithm="brute")`` with the definition as a Python callable: exact."""
    neighbors = _need("sklearn.neighbors")
    codes = made.columns.codes.astype(np.float64)
    places = np.arange(codes.shape[1])
    held: dict[str, Any] = {}

    def distance(one: Any, other: Any) -> float:
        return float(held["costs"][places, other.astype(np.int64)].sum(dtype=np.int64))

    search = neighbors.NearestNeighbors(n_neighbors=K, algorithm="brute", metric=distance).fit(codes)

    def ask(query: Query) -> Any:
        held["costs"] = query.costs
        return search.kneighbors(query.codes[None].astype(np.float64), return_distance=False)[0]

    return ask


def sklearn_one_hot(made: Generated) -> Ask:
    """``NearestNeighbors(algorithm="brute", metric="manhattan")`` on weighted one-hot and line columns,
    gaps filled with the commonest value: what one does when the tool knows neither gaps nor tables. Not the
    same answer."""
    neighbors = _need("sklearn.neighbors")
    features, codes = made.features, made.columns.codes
    whole = features.whole_weights("maxilla")
    common = [int(np.bincount(column[column != GAP], minlength=1).argmax()) for column in codes.T]

    def encoded(rows: Any) -> Any:
        blocks = []
        for index, item in enumerate(features.weighted):
            column = np.where(rows[:, index] == GAP, common[index], rows[:, index])
            table = (item.feature.table / ONE).astype(np.float32)
            on_line = item.feature.scale in ("numeric", "graded")
            block = table[0][column][:, None] if on_line else np.eye(len(table), dtype=np.float32)[column] / 2
            blocks.append(block * np.float32(whole[index] / 65536))
        return np.concatenate(blocks, axis=1)

    search = neighbors.NearestNeighbors(n_neighbors=K, algorithm="brute", metric="manhattan").fit(
        encoded(codes)
    )
    return lambda query: search.kneighbors(encoded(query.codes[None]), return_distance=False)[0]


def cbrkit_retrieval(made: Generated) -> Ask:
    """One similarity function a feature, the stock weighted aggregator, over the features that the query
    records."""
    cbrkit = _need("cbrkit")
    if not hasattr(cbrkit.retrieval, "apply"):
        raise NotHereError("this cbrkit has another interface; releases up to 0.14 are asked here")
    features = made.features
    names = features.names
    base = {
        row: dict(zip(names, codes, strict=True)) for row, codes in enumerate(made.columns.codes.tolist())
    }

    def ask(query: Query) -> Any:
        attributes, weights = {}, {}
        for index, name in enumerate(names):
            weight = int(query.weights[index])
            if query.codes[index] != GAP and weight:
                alike = (1.0 - query.costs[index] / (weight * ONE)).tolist()
                attributes[name] = _look_up(alike)
                weights[name] = float(weight)
        similarity = cbrkit.sim.attribute_value(
            attributes=attributes, aggregator=cbrkit.sim.aggregator("mean", weights)
        )
        retriever = cbrkit.retrieval.build(similarity, limit=K)
        here = {name: int(query.codes[index]) for index, name in enumerate(names) if name in attributes}
        return np.array(cbrkit.retrieval.apply(base, here, retriever).ranking[:K])

    return ask


def _look_up(alike: list[float]) -> Callable[[int, int], float]:
    # the library calls every similarity function with (stored, asked)
    def similarity(x: int, y: int) -> float:
        return alike[x]

    return similarity


# name, how to make it, largest library it is asked at, whether its answer must be exact
RIVALS: tuple[tuple[str, Callable[[Generated], Ask], int, bool], ...] = (
    ("duckdb, ORDER BY", duckdb_order_by, 1_000_000, True),
    ("pandas, column by column", pandas_columns, 1_000_000, True),
    ("scikit-learn brute, one-hot, gaps filled", sklearn_one_hot, 1_000_000, False),
    ("scikit-learn brute, callable", sklearn_callable, 100_000, True),
    ("cbrkit", cbrkit_retrieval, 100_000, True),
)
