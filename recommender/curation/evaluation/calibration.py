"""Whether acceptability is true: recorded facts masked by lot, the advice asked how sure it is, and then uncovered.

A case is first completed with plain values: of each field that it does not record the likeliest by itself, whatever
else the case records, so that they tell nothing of what is masked. They are never masked, so that only facts that
someone recorded are ever guessed at. Then some of its recorded facts are masked. (The undercut at level tilt is no fact
of its own where it was not recorded: it is put in, and masked, with the undercut at the chosen path.)

Asked for the acceptability over unrecorded facts, the advice states a share for each choice; uncovered, the choice
comes first or not. A choice that no masked fact bears on says nothing and is left out.

Reliability is told in tenths with intervals bootstrapped by case, since the decisions of one case go together; the
Brier score (Brier 1950, Monthly Weather Review 78:1) stands beside that of always stating the share that held overall.
"""

import random
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from math import fsum
from pathlib import Path
from typing import Any

import numpy as np

from recommender.advice.analysis import CaseAnalysis, NoAdviceError
from recommender.advice.confidence.answers import Confidence
from recommender.advice.confidence.deciding import WorldCase
from recommender.advice.confidence.learned import plausible_for
from recommender.advice.confidence.worlds import Worlds
from recommender.advice.recommend import Recommender
from recommender.curation.evaluation.kept import Kept
from recommender.domain.case import Case
from recommender.domain.fields import get_field, recorded_fields, with_field, without_field
from recommender.domain.measures import Interval, expected
from recommender.facts.derive import derive

SHARES = (0.1, 0.2, 0.35, 0.5)
_CHOSEN, _LEVEL = ".undercuts_mm.", ".undercuts_level_mm."
_REDRAWN = 400


@dataclass(frozen=True, slots=True)
class Judgement:
    """One choice: what was stated, and whether it stood."""

    case: str
    decision: str
    kind: str
    stated: float
    stood: bool
    word: str


@dataclass(frozen=True, slots=True)
class Tenth:
    """Choices whose stated share lies in one tenth; ``low`` and ``high`` hold 95 % of the bootstrap of ``stood``."""

    low_edge: float
    high_edge: float
    number: int
    stated: float
    stood: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Calibration:
    """The reliability curve, the Brier score, and that of the constant base rate."""

    tenths: tuple[Tenth, ...]
    brier: float
    brier_always: float
    cases: int
    judgements: tuple[Judgement, ...]

    def document(self) -> dict[str, Any]:
        """As in the result format."""
        words: dict[str, dict[str, float]] = {}
        for word in ("firm", "firm_if", "open"):
            these = [j.stood for j in self.judgements if j.word == word]
            words[word] = {"n": len(these), "stood": sum(these) / len(these) if these else 0.0}
        return {
            "format": 1,
            "cases": self.cases,
            "decisions": len(self.judgements),
            "bins": [
                {
                    "from": t.low_edge, "to": t.high_edge, "n": t.number, "stated": t.stated, "stood": t.stood,
                    "low": t.low, "high": t.high,
                }
                for t in self.tenths
            ],
            "brier": self.brier,
            "brier_always": self.brier_always,
            "standing": words,
        }  # fmt: skip


def calibrate(
    recommender: Recommender,
    cases: Iterable[Case],
    masks: int = 4,
    progress: Callable[[int], None] = lambda _: None,
    keep: Path | None = None,
) -> Calibration:
    """Masks every case ``masks`` times, each time a different share of its recorded facts. ``keep`` names a file of
    what was found before, which is taken over, and to which each case is added."""
    found: list[Judgement] = []
    kept, number = Kept(keep, f"calibration, {masks} masks"), 0
    for case in cases:
        rows = kept.known(case.id)
        if rows is None:
            completed = asked_and_whole(recommender, case)
            if completed is None:
                continue
            asked, truth = completed[0], recommender.work(completed[1])
            made: list[Judgement] = []
            for turn in range(masks):
                chance = random.Random(f"{case.id} {turn}")
                made += judged(recommender, asked, truth, chance, SHARES[turn % len(SHARES)])
            rows = [[j.decision, j.kind, j.stated, j.stood, j.word] for j in made]
            kept.keep(case.id, rows)
        found += [Judgement(case.id, *row) for row in rows]
        number += 1
        progress(number)
    return summed(found)


def asked_and_whole(recommender: Recommender, case: Case) -> tuple[Case, Case] | None:
    """The case without its design and wishes, and that with plain values put in; ``None`` where there is no advice."""
    asked = case.model_copy(update={"design": None, "prescription": None, "outcome": None, "asked": None})
    try:
        return asked, plain_where_unrecorded(recommender, asked)
    except NoAdviceError:
        return None


def plain_where_unrecorded(recommender: Recommender, case: Case) -> Case:
    """The case with a plain value in every field that its decisions wait for: the likeliest by itself."""
    analysis = recommender.work(case)
    known = plausible_for(recommender.engine)
    worlds = Worlds(analysis.facts, 2, known=known)
    world_case = WorldCase(analysis, worlds)
    for decision in analysis.decisions():
        world_case.ranked(decision)
    by_itself = Worlds(derive(_unrecorded(case)), 2, known=known)
    drawn = [path for path, each in worlds.drawn().items() if each is not None]
    for path in sorted(drawn, key=lambda path: _LEVEL in path):
        if path.startswith("future_loss_likely["):
            continue
        held = get_field(case, path)
        if held is None or isinstance(held, Interval):
            value = expected(get_field(case, path.replace(_LEVEL, _CHOSEN))) if _LEVEL in path else None
            if value is None:
                plain = by_itself.draw(path)
                assert plain is not None
                value = plain.values[int(np.argmax(plain.share))]
            case = with_field(case, path, list(value) if isinstance(value, (list, tuple)) else value)
    if case.future_loss_likely is None:
        case = case.model_copy(update={"future_loss_likely": []})
    return case


def _unrecorded(case: Case) -> Case:
    for path in recorded_fields(case):
        case = without_field(case, path)
    return case


def judged(
    recommender: Recommender, recorded: Case, truth: CaseAnalysis, chance: random.Random, share: float
) -> list[Judgement]:
    """Masks a share of what ``recorded`` records in the whole case ``truth``, and judges what is stated then."""
    paths = sorted(recorded_fields(recorded))
    if not paths:
        return []
    thin = truth.case
    masked = chance.sample(paths, max(1, round(share * len(paths))))
    for path in masked:
        thin = without_field(thin, path)
        level = path.replace(_CHOSEN, _LEVEL)
        if level not in paths:
            thin = without_field(thin, level)
    analysis = recommender.work(thin)
    if truth.facts.considered != analysis.facts.considered:
        return []
    confidence = Confidence(analysis)
    made = []
    for decision in analysis.decisions():
        ranked = confidence.world_case.ranked(decision)
        if not ranked.fields:
            continue
        choice = analysis.leader(decision)
        word, _, _ = confidence.standing(decision, choice)
        stood = truth.leader(decision) == choice
        stated = float(ranked.leads(choice).mean())
        made.append(Judgement(recorded.id, decision.key, decision.kind, stated, stood, word.word))
    return made


def summed(judgements: Sequence[Judgement]) -> Calibration:
    """The curve of some judgements."""
    cases = sorted({j.case for j in judgements})
    place = {case: number for number, case in enumerate(cases)}
    chance = np.random.default_rng(1)
    tenths = []
    for edge in range(10):
        low, high = edge / 10, (edge + 1) / 10
        these = [
            j for j in judgements if low <= j.stated and (j.stated < high or (edge == 9 and j.stated <= 1.0))
        ]
        if not these:
            continue
        number, stood = np.zeros(len(cases)), np.zeros(len(cases))
        for each in these:
            number[place[each.case]] += 1
            stood[place[each.case]] += each.stood
        drawn = chance.integers(0, len(cases), (_REDRAWN, len(cases)))
        seen = number[drawn].sum(axis=1)
        rates = (
            stood[drawn].sum(axis=1)[seen > 0] / seen[seen > 0]
        )  # a draw without any of these says nothing
        ends = np.quantile(rates, (0.025, 0.975))
        tenths.append(
            Tenth(
                low, high, len(these), fsum(j.stated for j in these) / len(these),
                sum(j.stood for j in these) / len(these), float(ends[0]), float(ends[1]),
            )
        )  # fmt: skip
    size = max(len(judgements), 1)
    base = sum(j.stood for j in judgements) / size
    brier = fsum((j.stated - j.stood) ** 2 for j in judgements) / size
    return Calibration(tuple(tenths), brier, base * (1 - base), len(cases), tuple(judgements))
