"""What precedents say at every decision of a table, the case itself left out, under any likeness and any ``k``.

Likeness is worked out once by group of features, so that other multipliers cost one weighted sum. The table of gaps
(the expected difference of each feature) is that of the cases that may be heard, as it is in a library.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from recommender.curation.house.table import Flags, Floats, Places, Table
from recommender.precedents.search.encode import ChargedTables, count_codes
from recommender.precedents.search.tables import GAP, ONE

OTHER = "other"


@dataclass(frozen=True, slots=True)
class Alike:
    """Likeness of every decision (rows) to every decision that may be heard (columns), by group of features.

    ``parts[g]`` sums weight times (1 - difference), ``whole[g]`` the weights. ``heard`` are the columns' decisions,
    ``barred`` where a column is the same case as the row, or a near-duplicate of it. ``option`` and ``decision`` are
    the table's rows that belong to these decisions: what may be chosen, and which of the decisions here it is of.
    """

    groups: tuple[str, ...]
    parts: npt.NDArray[np.float32]
    whole: Floats
    heard: Places
    barred: Flags
    option: Places
    decision: Places

    def only(self, at: Places, option: Places, decision: Places) -> "Alike":
        """The likeness of some of these decisions, with the rows that belong to them."""
        return replace(
            self, parts=self.parts[:, at], whole=self.whole[:, at], barred=self.barred[at], option=option,
            decision=decision,
        )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Votes:
    """``total``: ``n``, the sum of likenesses at each decision; ``said``: ``Σ a·c·v / (λ + n)`` at each row."""

    total: Floats
    said: Floats


def alike(table: Table, heard: Places, family: Places, groups: Mapping[str, list[str]]) -> Alike:
    """Likeness of all decisions to those ``heard``. ``family`` numbers the cases, near-duplicates alike."""
    tables = ChargedTables.of(table.features, count_codes(table.stored[heard]))
    names = (*groups, OTHER)
    group_of = {name: at for at, found in enumerate(groups.values()) for name in found}
    parts = np.zeros((len(names), len(table.case), len(heard)), dtype=np.float32)
    whole = np.zeros((len(names), len(table.case)))
    for place, item in enumerate(table.features.weighted):
        weight = table.weights[:, place]
        if not weight.any():
            continue
        at = group_of.get(item.feature.name, len(names) - 1)
        whole[at] += weight
        rows = np.vstack((1.0 - tables.rows[place] / ONE, np.zeros((1, tables.rows[place].shape[1]))))
        here = table.asked[:, place].astype(np.intp)
        here[here == GAP] = len(rows) - 1  # a gap here adds nothing
        near = rows[:, table.stored[heard, place]].astype(np.float32)
        parts[at] += near[here] * weight[:, None].astype(np.float32)
    keep = [g for g in range(len(names)) if whole[g].any()]
    case = family[table.case]
    barred = case[:, None] == case[heard][None, :]
    if "arch" in table.features.same:
        barred |= table.upper[:, None] != table.upper[heard][None, :]
    named = tuple(names[g] for g in keep)
    return Alike(named, parts[keep], whole[keep], heard, barred, table.option, table.decision)


def votes(table: Table, found: Alike, multipliers: Mapping[str, float], k: int, lambda_: float) -> Votes:
    """The votes of the ``k`` nearest of those heard."""
    factor = np.array([multipliers.get(name, 1.0) for name in found.groups])
    whole = factor @ found.whole
    near = np.tensordot(factor.astype(np.float32), found.parts, axes=1).astype(np.float64)
    near /= np.maximum(whole, 1e-12)[:, None]
    near[found.barred] = -1.0
    k = min(k, near.shape[1])
    if not k:
        return Votes(np.zeros(len(near)), np.zeros(len(found.option)))
    # ties go to the earlier case and site
    order = np.round(near, 6) - np.arange(near.shape[1]) * 1e-10
    nearest = np.tile(np.arange(k), (len(near), 1))
    if k < near.shape[1]:
        nearest = np.argpartition(-order, k - 1, axis=1)[:, :k]
    likeness = np.maximum(np.take_along_axis(near, nearest, axis=1), 0.0)
    total = likeness.sum(axis=1)
    stored = found.heard[nearest]
    pull = likeness * table.worth[stored]
    decision = found.decision
    credit = table.credit[found.option[:, None], table.own[stored][decision]]
    said = (credit * pull[decision]).sum(axis=1) / (lambda_ + total)[decision]
    return Votes(total, said)
