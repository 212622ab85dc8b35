"""Learning a house profile from a library, and finding out whether it may be adopted at all.

Cases are dealt to folds, near-duplicates together. Outside, each fold is advised with a profile learned from the
others: that gives the gain, paired by case, and its bootstrap. Inside, the number of lines is chosen by the
one-standard-error rule on the same pairs. A kind of decision whose gain could be chance gets no profile; Holm's
method keeps the chance of adopting anything from a library without a pattern at ``adopt_below`` for all kinds
together. (Holm S. A simple sequentially rejective multiple test procedure. Scand J Stat 1979;6:65-70.)
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import cast

import numpy as np

from recommender.curation.duplicates import near_duplicates
from recommender.curation.house.fitting import Fitted, Fitting
from recommender.curation.house.predicting import hits, profile_of
from recommender.curation.house.table import Flags, Floats, Places, Table, learnable, tables
from recommender.curation.house.votes import Alike, alike
from recommender.domain.case import Case
from recommender.knowledge.figures.curation import HouseFigures
from recommender.knowledge.house import Decided, Kind, Measured, Profile
from recommender.knowledge.model import Knowledge

Progress = Callable[[str, int, int], None]


def silent(_what: str, _done: int, _of: int) -> None:
    """No progress told."""


@dataclass(frozen=True, slots=True)
class Trial:
    """What learning found for one kind of decision. ``before`` and ``after`` say of each decision whether the own
    choice came first on cases held out; ``chance`` is the bootstrap's share without a gain; ``adopted`` whether it
    stands."""

    kind: str
    table: Table
    before: Flags
    after: Flags
    fitted: Fitted
    chance: float
    decided: Decided
    adopted: bool = False

    @property
    def measured(self) -> Measured:
        """The gain on cases held out."""
        return self.decided.measured


@dataclass(frozen=True, slots=True)
class Learned:
    """``profile`` is ``None`` where nothing may be adopted; ``trials`` tell why, kind by kind."""

    profile: Profile | None
    trials: tuple[Trial, ...]
    cases: int
    unreachable: Mapping[str, int]


def learn(
    cases: Sequence[Case],
    base: Knowledge,
    *,
    library: str = "",
    progress: Progress = silent,
    figures: HouseFigures | None = None,
) -> Learned:
    """What a library's approved cases teach. Nothing is written."""
    known = figures or base.figures.house
    teaching = learnable(cases)
    if len(teaching) > known.most_cases:
        teaching = [teaching[at * len(teaching) // known.most_cases] for at in range(known.most_cases)]
    made = tables(teaching, base, known.cuts, lambda done, of: progress("cases", done, of))
    return learn_from(made, families(teaching), base, known, library=library, progress=progress)


def learn_from(
    made: Mapping[str, Table],
    family: Places,
    base: Knowledge,
    known: HouseFigures,
    *,
    library: str = "",
    progress: Progress = silent,
) -> Learned:
    """As ``learn``, from tables; ``family`` numbers their cases, near-duplicates alike."""
    import scipy.optimize  # noqa: F401 - its own threads can be limited only once they are there
    from threadpoolctl import threadpool_limits

    trials = []
    for number, table in enumerate(made.values()):
        progress("kinds of decision", number, len(made))
        teaches = table.teaches
        enough = teaches.sum() >= known.least_decisions
        if enough and len(set(family[table.case[teaches]])) >= known.folds * known.inner_folds:
            with threadpool_limits(
                1
            ):  # small products: threads would wait for each other longer than they work
                trials.append(_trial(table, base, known, family))
    progress("kinds of decision", len(made), len(made))
    judged = _holm(trials, known.adopt_below)
    unreachable = {kind: int((table.chosen < 0).sum()) for kind, table in made.items()}
    return Learned(_profile(judged, len(family), library), judged, len(family), unreachable)


def families(cases: Sequence[Case]) -> Places:
    """A number for each case, the same for near-duplicates."""
    place = {case.id: at for at, case in enumerate(cases)}
    head = list(range(len(cases)))

    def root(at: int) -> int:
        while head[at] != at:
            at = head[at]
        return at

    for pair in near_duplicates(cases):
        head[root(place[pair.first])] = root(place[pair.second])
    return np.array([root(at) for at in range(len(cases))])


def folds_of(family: Places, count: int, salt: int = 0) -> Places:
    """The fold of each case; families stay together. The same every time."""
    names = np.unique(family)
    order = np.random.default_rng([len(names), salt]).permutation(len(names))
    fold = dict(zip(names[order].tolist(), (np.arange(len(names)) % count).tolist(), strict=True))
    return np.array([fold[name] for name in family.tolist()])


def _trial(table: Table, base: Knowledge, known: HouseFigures, family: Places) -> Trial:
    fitting = Fitting(table, base, known)
    fold = folds_of(family, known.folds)[table.case]
    before = np.zeros(len(table.case), dtype=np.bool_)
    after = before.copy()
    for held in range(known.folds):
        train, test = np.flatnonzero(fold != held), np.flatnonzero(fold == held)
        if not len(test) or not len(train):
            continue
        near = alike(table, train, family, known.groups)
        before[test] = hits(table, base, near, None)[test]
        fitted = fitted_on(fitting, near, train, family)
        after[test] = hits(table, base, near, profile_of(fitting, fitted))[test]
    everything = np.arange(len(table.case))
    fitted = fitted_on(fitting, alike(table, everything, family, known.groups), everything, family)
    measured, chance = _measured(table, before, after, family, known)
    decided = profile_of(fitting, fitted).model_copy(update={"measured": measured})
    return Trial(table.kind, table, before, after, fitted, chance, decided)


def fitted_on(fitting: Fitting, near: Alike, train: Places, family: Places) -> Fitted:
    """A profile from some decisions; the number of lines by cross-validation within them."""
    known, table = fitting.figures, fitting.table
    heard = fitting.hear(near, train)
    said = fitting.utility_of_precedents(near, heard.multipliers, heard.k)
    sizes = [size for size in known.lines if size]
    inner = folds_of(family, known.inner_folds, salt=1)[table.case]
    losses = np.full((len(train), len(known.lines)), np.nan)
    for held in range(known.inner_folds):
        inside, outside = train[inner[train] != held], train[inner[train] == held]
        if len(inside) and len(outside):
            path = fitting.lines(heard, said, inside, sizes)
            losses[inner[train] == held] = _losses(fitting, path, said, outside)
    size = known.lines[one_standard_error(losses, family[table.case][train])]
    whole = fitting.lines(heard, said, train, [size] if size else [0])
    return _cut(whole, size)


def _cut(path: Fitted, size: int) -> Fitted:
    at = min(size, max(path.path))
    firm, precedents, points = path.path[at]
    return Fitted(path.heard, firm, precedents, path.lines[:at], points)


def _losses(fitting: Fitting, path: Fitted, said: Floats, at: Places) -> Floats:
    """Loss of decisions held out under each number of lines; ``nan`` where a decision teaches nothing."""
    table, sizes = fitting.table, fitting.figures.lines
    found = np.full((len(at), len(sizes)), np.nan)
    teaches = table.teaches[at]
    rows, choices = fitting.rows(at)
    columns: list[Floats] = [fitting.column(line)[rows] for line in path.lines]
    base = np.column_stack((fitting.published, said))[rows]
    for place, size in enumerate(sizes):
        firm, precedents, points = path.path[min(size, max(path.path))]
        utility = base @ np.array([1.0, precedents])
        for column, value in zip(columns, points, strict=False):
            utility = utility + column * value
        found[teaches, place] = choices.losses(firm * utility)
    return found


def one_standard_error(losses: Floats, family: Places) -> int:
    """The first column whose mean loss is within one standard error of the best column's, paired by family."""
    kept = ~np.isnan(losses).any(axis=1)
    if not kept.any():
        return 0
    losses, family = losses[kept], family[kept]
    best = int(losses.mean(axis=0).argmin())
    _, where = np.unique(family, return_inverse=True)
    for place in range(best):
        behind = np.bincount(where, weights=losses[:, place] - losses[:, best])
        error = float(behind.std(ddof=1)) * np.sqrt(len(behind)) if len(behind) > 1 else np.inf
        if behind.sum() <= error:
            return place
    return best


def _measured(
    table: Table, before: Flags, after: Flags, family: Places, known: HouseFigures
) -> tuple[Measured, float]:
    low, high, chance = paired_bootstrap(before, after, family[table.case], known.resamples, known.interval)
    count = len(before)
    gain = float(after.mean() - before.mean())
    return Measured(
        decisions=count, before=float(before.mean()), after=float(after.mean()), gain=gain, low=low, high=high
    ), chance


def paired_bootstrap(
    before: Flags, after: Flags, family: Places, resamples: int, interval: float
) -> tuple[float, float, float]:
    """Interval of the gain per decision, and the share of resamples of families without a gain.

    Efron B, Tibshirani RJ. An Introduction to the Bootstrap. Chapman and Hall, 1993: percentile interval.
    """
    _, where = np.unique(family, return_inverse=True)
    gain = np.bincount(where, weights=after.astype(float) - before.astype(float))
    size = np.bincount(where).astype(float)
    if not gain.any():
        return 0.0, 0.0, 1.0
    lots = np.random.default_rng(len(gain)).multinomial(
        len(gain), np.full(len(gain), 1 / len(gain)), resamples
    )
    drawn = (lots @ gain) / (lots @ size)
    edge = (1 - interval) / 2
    low, high = np.quantile(drawn, [edge, 1 - edge])
    return float(low), float(high), float((drawn <= 0).mean())


def _holm(trials: Sequence[Trial], below: float) -> tuple[Trial, ...]:
    adopted: set[str] = set()
    for rank, trial in enumerate(sorted(trials, key=lambda one: one.chance)):
        if trial.chance >= below / (len(trials) - rank) or trial.measured.gain <= 0:
            break
        adopted.add(trial.kind)
    return tuple(replace(trial, adopted=trial.kind in adopted) for trial in trials)


def _profile(trials: Sequence[Trial], cases: int, library: str) -> Profile | None:
    decided: dict[Kind, Decided] = {}
    for trial in trials:
        if trial.adopted:
            decided[cast(Kind, trial.kind)] = trial.decided
    if not decided:
        return None
    return Profile(
        library=library, at=datetime.now(UTC).date().isoformat(), cases=cases, decisions=decided,
    )  # fmt: skip
