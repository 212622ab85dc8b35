"""Coverage of prediction sets on data that had no part in them, over houses whose choices are made by fixed chance.

A house takes, at each decision, among the options of usable status the one with the most points by the rules, its own
liking for each option and chance of the occasion (a random utility with Gumbel errors: McFadden 1974, *Conditional
logit analysis of qualitative choice behavior*). Its library has so many cases; further cases of the same house are held
against the sets of these. All are advised by that library, each without itself.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from recommender.advice.analysis import CaseAnalysis
from recommender.advice.model import USABLE, Decision
from recommender.advice.recommend import Recommender
from recommender.curation.evaluation.kept import Kept
from recommender.curation.evaluation.mechanisms import invented_cases
from recommender.curation.evaluation.prediction_sets import accepted, quantile
from recommender.domain.case import Case, Review
from recommender.domain.designs import Design, DesignRetainer
from recommender.precedents.library import PrecedentLibrary
from recommender.precedents.search.tables import load
from recommender.precedents.situations import all_situations

KINDS = ("retainer", "connector", "replacement")
_LIKING, _CHANCE = 4.0, 2.5
"""Points: standard deviation of a liking, scale of the chance of the occasion."""


@dataclass(frozen=True, slots=True)
class Sizes:
    """Cases to draw from, cases of a library, and further cases of its house."""

    pool: int = 240
    library: int = 60
    apart: int = 20


def coverage(
    rules_alone: Recommender,
    houses: int = 20,
    sizes: Sizes | None = None,
    progress: Callable[[int], None] = lambda _: None,
    keep: Path | None = None,
) -> dict[str, list[float]]:
    """By kind of decision, of each house the share of cases apart whose accepted choice lies in its set."""
    size = sizes or Sizes()
    kept = Kept(keep, f"coverage of {size}")
    pool = list(invented_cases(size.pool, seed=9))
    known: dict[str, CaseAnalysis] = {}
    found: dict[str, list[float]] = {kind: [] for kind in KINDS}
    for house in range(houses):
        rates = kept.known(f"house {house}")
        if rates is None:
            rates = _covered(rules_alone, pool, house, size, known)
            kept.keep(f"house {house}", rates)
        for kind, rate in rates.items():
            found[kind].append(rate)
        progress(house + 1)
    return found


def _covered(
    rules_alone: Recommender, pool: Sequence[Case], house: int, size: Sizes, known: dict[str, CaseAnalysis]
) -> dict[str, float]:
    chance = np.random.default_rng([house, 1])
    picked = [pool[i] for i in chance.choice(len(pool), size.library + size.apart, replace=False)]
    for case in picked:
        if case.id not in known:
            known[case.id] = rules_alone.work(case)
    cases = of_a_house(picked, house, known)
    likeness = load()
    library = PrecedentLibrary.build(list(all_situations(cases[: size.library], likeness)), likeness)
    recommender = Recommender(library, rules_alone.engine.knowledge)
    groups = {case.id: case.id for case in cases}
    rows = [each for case in cases for each in accepted(recommender, case, groups)]
    fitted = {case.id for case in cases[: size.library]}
    rates = {}
    for kind in KINDS:
        these = [each for each in rows if each.decision.kind == kind]
        within = quantile([each for each in these if each.case in fitted])
        apart: dict[str, list[bool]] = {}
        for each in these:
            if each.case not in fitted:
                apart.setdefault(each.case, []).append(each.nonconformity <= within)
        rates[kind] = float(np.mean([np.mean(held) for held in apart.values()]))
    return rates


def of_a_house(cases: Sequence[Case], seed: int, known: Mapping[str, CaseAnalysis]) -> list[Case]:
    """The cases with designs of a house of its own taste, approved."""
    chance = np.random.default_rng(seed)
    liking: dict[str, float] = {}
    made = []
    for case in cases:
        analysis = known[case.id]
        chosen: dict[Decision, str] = {}
        for decision in analysis.decisions():
            if decision.kind not in KINDS:
                continue
            examined = analysis.examine(decision)
            scores, order = examined.scores(), examined.order()
            usable = [o for o in order if examined.chosen[o].status in USABLE] or order[:1]
            worth = {
                o: scores[o] + liking.setdefault(o, _LIKING * chance.normal()) + _CHANCE * chance.gumbel()
                for o in usable
            }
            chosen[decision] = max(worth, key=worth.__getitem__)
        design: dict[str, Any] = {
            "connector": chosen[Decision("connector")],
            "retainers": [
                DesignRetainer(tooth=d.tooth, assembly=o) for d, o in chosen.items() if d.kind == "retainer"
            ],
            "replacements": {d.tooth: o for d, o in chosen.items() if d.kind == "replacement"},
        }
        made.append(case.model_copy(update={"design": Design(**design), "review": Review(status="approved")}))
    return made
