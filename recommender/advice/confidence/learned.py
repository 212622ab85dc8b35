"""What is plausible by a library's own records, where it has enough of them (``learn`` in ``plausible/standing.yaml``).

Records are counted as the published shares are conditioned: by the entry's teeth or spaces and by its one parent, where
that is recorded too. A row of shares with enough records becomes the mean of the Dirichlet distribution that has the
published shares, as so many records' worth, before the library's own are counted (Gelman et al. 2013, *Bayesian Data
Analysis*, section 3.4). A row with too few stays as published. Where the parent stands in no case (``mouth.…``), all
records of a field are counted together, and its rows are raked to their shares (Deming and Stephan 1940, Annals of
Mathematical Statistics 11:427): how far teeth go together stays as published.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any
from weakref import WeakKeyDictionary

import numpy as np
import numpy.typing as npt

from recommender.advice.confidence.plausible import HIDDEN, Entry, Plausible, plausible
from recommender.advice.confidence.told import parent_of, place_of
from recommender.domain.case import Case
from recommender.domain.fields import get_field, recorded_fields
from recommender.domain.measures import expected
from recommender.facts.derive import derive

if TYPE_CHECKING:
    from recommender.advice.decision import Engine

Shares = npt.NDArray[np.float64]
Counts = dict[int, Shares]
_RAKINGS = 60
_KEPT: "WeakKeyDictionary[Engine, Plausible]" = WeakKeyDictionary()


def plausible_for(engine: "Engine") -> Plausible:
    """What is plausible for the cases of an engine: as published, or by the records that it was given."""
    if engine not in _KEPT:
        known = plausible(engine.knowledge.figures)
        _KEPT[engine] = known if engine.records is None else learned(known, engine.records)
    return _KEPT[engine]


def learned(known: Plausible, records: Callable[[int], Iterable[Case]]) -> Plausible:
    """The entries with what a library's records say. ``records`` gives at most so many approved cases, evenly."""
    how = known.standing.learn
    cases = list(records(how.most))
    if len(cases) < how.cases:
        return known
    counts: Counts = {}
    for case in cases:
        for entry, row, value in _records(known, case):
            counts.setdefault(id(entry), np.zeros_like(entry.table))[row, value] += 1
    return replace(
        known,
        entries={
            pattern: tuple(_told_by(known, entry, counts, how.records, how.weight) for entry in entries)
            for pattern, entries in known.entries.items()
        },
    )


def _told_by(known: Plausible, entry: Entry, counts: Mapping[int, Any], least: int, weight: float) -> Entry:
    own = counts.get(id(entry))
    if own is None:
        return entry
    if entry.parent is not None and entry.parent.startswith(HIDDEN):
        return _raked(known, entry, own.sum(axis=0), least, weight)
    size = own.sum(axis=1)
    enough = size >= least
    if not enough.any():
        return entry
    mixed = (weight * entry.table + own) / (weight + size)[:, None]
    table = np.where(enough[:, None], mixed, entry.table)
    return replace(entry, table=table, own=int(size[enough].sum()))


def _raked(known: Plausible, entry: Entry, own: Shares, least: int, weight: float) -> Entry:
    """The entry with rows that have the library's shares over all mouths."""
    size = float(own.sum())
    if size < least:
        return entry
    rows = _shares_of_rows(known, entry)
    wanted = (weight * (rows @ entry.table) + own) / (weight + size)
    table = entry.table
    for _ in range(_RAKINGS):
        table = table * (wanted / np.maximum(rows @ table, 1e-12))
        table = table / table.sum(axis=1, keepdims=True)
    return replace(entry, table=table, own=int(size))


def _shares_of_rows(known: Plausible, entry: Entry) -> Shares:
    """How often each row of an entry holds where nothing is recorded."""
    if entry.parent is None:
        return np.ones(1)
    every = known.entries[entry.parent]  # over all kinds of teeth, where these differ
    above = every[0]
    shares = np.mean([_shares_of_rows(known, each) @ each.table for each in every], axis=0)
    rows = [entry.row(value) for value in above.values]
    found: Shares = np.bincount(rows, weights=shares, minlength=len(entry.table)).astype(np.float64)
    return found


def _records(known: Plausible, case: Case) -> Iterator[tuple[Entry, int, int]]:
    """Each recorded field with an entry: the entry, the row of its parent's answer, the place of its value."""
    facts = derive(case)
    for path in recorded_fields(case):
        entry = known.entry(path, place_of(facts, path))
        if entry is None or entry.relative_to is not None:
            continue
        row = 0
        parent = parent_of(path, entry)
        if parent is not None and not parent.startswith(HIDDEN):
            answer = get_field(case, parent)
            if answer is None:
                continue
            row = entry.row(expected(answer))
        value = get_field(case, path)
        yield entry, row, entry.nearest(expected(value))
