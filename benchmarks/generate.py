"""A seeded generator of situation libraries, for benchmarks and tests.

Invented by chance from archetypes of unequal popularity, with scatter, copies and gaps: it has the *shape*
of a laboratory's library and none of its knowledge. Nothing made here is ever evidence for a choice.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from recommender.precedents.model import Situation
from recommender.precedents.search.columns import (
    APPROVED,
    MANDIBLE,
    MAXILLA,
    NO_OUTCOME,
    OUTCOME,
    PRESENT,
    Columns,
)
from recommender.precedents.search.tables import GAP, Codes, FeatureSet

CASE_SITUATIONS = (
    4  # situations that share a case, and with it what is true and what was never recorded of it
)
# What follows from the dentition is never a gap; what belongs to the case is the same at all its decisions.
_FROM_DENTITION = frozenset({
    "arch", "derived.support", "derived.tooth_type", "derived.kennedy", "derived.next_to_space",
    "derived.space_length", "derived.between_spaces", "derived.isolated",
    "derived.far_neighbour", "abutment.kind",
    "derived.extension_sides", "derived.extension_length", "derived.missing_count", "derived.remaining_count",
    "derived.anterior_space", "derived.modifications", "derived.longest_span", "derived.spaces_both_sides",
    "derived.space_crosses_midline", "derived.canine_missing", "derived.only_molars_missing",
    "derived.missing_type", "derived.span_support", "derived.span_length", "derived.span_zone",
})  # fmt: skip
_OF_THE_CASE = ("arch", "derived.kennedy", "patient.", "occlusion.")


@dataclass(frozen=True, slots=True)
class World:
    """What the library is like. ``scatter``: share of values that leave their archetype. ``gaps``: share not
    recorded, on average. ``copies``: share of rows that repeat another row. ``lifelike``: what follows from
    the dentition is always recorded, and the situations of a case share what is true of the whole case;
    otherwise every value is on its own."""

    archetypes: int = 300
    scatter: float = 0.15
    gaps: float = 0.30
    copies: float = 0.15
    lifelike: bool = True
    seed: int = 1


CLUSTERED = World()
WEAK = World(archetypes=20_000, scatter=0.6, copies=0.0)
NOISE = World(archetypes=1, scatter=1.0, copies=0.0, lifelike=False)


@dataclass(frozen=True, slots=True)
class Generated:
    """A generated library of one kind: its columns, and what was chosen and how it fared, row by row."""

    features: FeatureSet
    columns: Columns
    choices: npt.NDArray[np.uint16]
    worths: npt.NDArray[np.float64]
    world: World

    def situation(self, row: int) -> Situation:
        """One row as a situation. Its choice is ``choice_N``: no option of the trade."""
        columns = self.columns
        flags = int(columns.flags[row])
        values = {
            item.feature.name: item.feature.decode(int(code))
            for item, code in zip(self.features.weighted, columns.codes[row], strict=True)
        }
        return Situation(
            columns.case_ids[row].decode(), self.features.kind, int(columns.sites[row]),  # type: ignore[arg-type]
            "maxilla" if flags & MAXILLA else "mandible", values, f"choice_{self.choices[row]}",
            float(self.worths[row]), "generated", bool(flags & APPROVED), bool(flags & OUTCOME),
            "".join(f"{int(word):016x}" for word in columns.prints[row]),
        )  # fmt: skip


def _marginals(features: FeatureSet, rng: np.random.Generator) -> list[npt.NDArray[np.float64]]:
    """How common each code of each feature is: few usual gauges for measured values, unequal words."""
    found = []
    for item in features.weighted:
        size = len(item.feature.table)
        if item.feature.scale == "numeric":
            # people measure with gauges and round: a dozen values carry most of the records
            share = np.full(size, 0.02 / size)
            usual = rng.choice(size, size=min(12, size), replace=False)
            share[usual] += rng.dirichlet(np.full(len(usual), 1.5))
        else:
            share = rng.dirichlet(np.full(size, 1.2)) + 0.01
        found.append(share / share.sum())
    return found


def _draw(share: npt.NDArray[np.float64], size: int, rng: np.random.Generator) -> Codes:
    edges = np.cumsum(share)
    drawn: Codes = np.minimum(np.searchsorted(edges, rng.random(size)), len(share) - 1).astype(np.uint8)
    return drawn


def _rows(
    features: FeatureSet, world: World, count: int, gaps: float, rng: np.random.Generator
) -> tuple[Codes, npt.NDArray[np.int64]]:
    setup = np.random.default_rng(world.seed)  # the same world for library and queries
    shares = _marginals(features, setup)
    weight = 1.0 / np.arange(1, world.archetypes + 1) ** 0.8
    models = np.stack([_draw(share, world.archetypes, setup) for share in shares], axis=1)
    model = np.searchsorted(np.cumsum(weight / weight.sum()), rng.random(count)).clip(0, world.archetypes - 1)
    # some fields are written down less often than others, some records are thin throughout
    names = features.names
    by_field = setup.uniform(0.3, 1.7, len(shares))
    if world.lifelike:
        by_field[[name in _FROM_DENTITION for name in names]] = 0.0
    by_field = np.minimum(by_field * (gaps / by_field.mean()), 0.95)
    case = np.arange(count) // CASE_SITUATIONS
    by_case = rng.uniform(0.4, 1.6, count // CASE_SITUATIONS + 1)[case]
    codes = np.empty((count, len(shares)), dtype=np.uint8)
    for index, share in enumerate(shares):
        column = models[model, index]
        away = rng.random(count) < world.scatter
        column = np.where(away, _draw(share, count, rng), column)
        column[rng.random(count) < by_field[index] * by_case] = GAP
        if world.lifelike and names[index].startswith(_OF_THE_CASE):
            column = column[case * CASE_SITUATIONS]
        codes[:, index] = column
    return codes, model


def library(features: FeatureSet, count: int, world: World = CLUSTERED) -> Generated:
    """``count`` situations of one kind, in tie order."""
    rng = np.random.default_rng([world.seed, count])
    codes, model = _rows(features, world, count, world.gaps, rng)
    copied = np.flatnonzero(rng.random(count) < world.copies)
    codes[copied] = codes[rng.integers(0, count, len(copied))]
    arch = np.where(rng.random(count // CASE_SITUATIONS + 1) < 0.5, MAXILLA, MANDIBLE).repeat(CASE_SITUATIONS)
    flags = PRESENT | arch[:count]
    flags = flags | np.where(rng.random(count) < 0.9, APPROVED, 0)
    flags = flags | np.where(rng.random(count) < 0.4, OUTCOME, NO_OUTCOME)
    case = np.arange(count) // CASE_SITUATIONS
    columns = Columns(
        codes,
        flags.astype(np.uint8),
        rng.integers(1, 2**63, (count, 2), dtype=np.uint64),
        np.char.mod("g%08d", case).astype(np.bytes_),
        (11 + np.arange(count) % CASE_SITUATIONS).astype(np.uint8),
    )
    worths = np.round(rng.uniform(-1, 1, count), 1)
    return Generated(features, columns, (model % 12).astype(np.uint16), worths, world)


def queries(
    features: FeatureSet, count: int, world: World = CLUSTERED, gaps: float = 0.20, seed: int = 7
) -> Codes:
    """Codes of ``count`` situations of the same world that are not in the library."""
    codes, _ = _rows(features, world, count, gaps, np.random.default_rng([world.seed, count, seed]))
    return codes
