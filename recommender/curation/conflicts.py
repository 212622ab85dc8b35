"""The same situation, another choice: where designers differed. Teaching material, not mistakes.

Likeness is that of precedents: weighted graded differences of the features that both cases recorded, provided
that those carry most of the weight. Figures in ``shared/curation/conflicts.yaml``.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace

from recommender.domain.case import Case
from recommender.precedents.library import Filters, PrecedentLibrary
from recommender.precedents.model import FeatureAccount, Neighbour, Situation
from recommender.precedents.search.tables import load
from recommender.precedents.situations import all_situations


@dataclass(frozen=True, slots=True)
class Figures:
    """``alike``: least likeness (0-1) over the features both recorded; ``recorded``: least share of the
    weight that those carry; ``neighbours``: how many of the nearest are looked at for each situation.
    """

    alike: float
    recorded: float
    neighbours: int


@dataclass(frozen=True, slots=True)
class Conflict:
    """Two decisions in like situations with different choices, and the features in which they do differ."""

    first: Situation
    second: Situation
    alike: float
    differs: tuple[FeatureAccount, ...]


def figures() -> Figures:
    """The figures in use."""
    from recommender.knowledge.in_force import knowledge

    known = knowledge().figures.conflicts
    return Figures(known.alike, known.recorded, known.neighbours)


def conflicts(cases: Iterable[Case], known: Figures | None = None) -> list[Conflict]:
    """Every pair of like situations with different choices, the most alike first; each pair once.

    Drafts take part: a conflict is worth seeing before approval. Retired cases do not.
    """
    given = known or figures()
    likeness = load()
    stored = list(all_situations(cases, likeness))
    library = PrecedentLibrary.build(stored, likeness)
    found: dict[tuple[str, str, int, str, int], Conflict] = {}
    for situation in stored:
        # the same findings under another id are no precedent, but here they are the very thing looked for
        asked = replace(situation, fingerprint="")
        for neighbour in library.nearest(asked, given.neighbours, filters=Filters(approved_only=False)):
            conflict = conflict_of(situation, neighbour, given)
            if conflict is not None:
                first, second = conflict.first, conflict.second
                key = (first.kind, first.case_id, first.site, second.case_id, second.site)
                found.setdefault(key, conflict)
    return sorted(
        found.values(), key=lambda one: (-one.alike, one.first.kind, one.first.case_id, one.first.site)
    )


def conflict_of(here: Situation, neighbour: Neighbour, known: Figures) -> Conflict | None:
    """The conflict between a situation and one compared with it feature by feature; ``None`` where there is none."""
    there = neighbour.situation
    if there.choice == here.choice or there.case_id == here.case_id:
        return None
    total = sum(line.weight for line in neighbour.account)
    both = [line for line in neighbour.account if line.here is not None and line.there is not None]
    weight = sum(line.weight for line in both)
    if not total or weight < known.recorded * total:
        return None
    alike = 1 - sum(line.weight * line.difference for line in both) / weight
    if alike < known.alike:
        return None
    first, second = sorted((here, there), key=lambda one: (one.case_id, one.site))
    differs = tuple(line for line in both if line.difference > 0)
    return Conflict(first, second, alike, differs)
