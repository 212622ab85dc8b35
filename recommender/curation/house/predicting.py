"""From a fitted profile to its figures, and what would come first by them: the arithmetic of ``advice.scoring`` on
arrays."""

from math import ceil

import numpy as np

from recommender.curation.house.fitting import LEAST, ROOM, STEP, Fitted, Fitting, Line
from recommender.curation.house.table import Flags, Floats, Places, Table
from recommender.curation.house.votes import Alike, votes
from recommender.knowledge.house import MIDDLE, Decided, Habit, Measured
from recommender.knowledge.model import Knowledge


def profile_of(fitting: Fitting, fitted: Fitted) -> Decided:
    """The figures of a profile, rounded as they are written."""
    table, known = fitting.table, fitting.figures
    raw = fitting.raw
    habits = [
        (line, points) for line, points in zip(fitted.lines, fitted.points, strict=True) if line.options
    ]
    moved = sum((fitting.column(line) * points for line, points in habits), np.zeros(len(table.option)))
    most = float(np.abs(moved).max()) if habits else 0.0
    counts = min(known.most_counts, float(ceil(max(1.0, most * raw / ROOM)))) if habits else 0.0
    scale = min(1.0, counts * ROOM / (most * raw)) if most else 1.0
    weighs = {
        table.criteria[line.criterion]: _departure(fitting.weights[line.criterion], STEP * points)
        for line, points in zip(fitted.lines, fitted.points, strict=True)
        if line.criterion >= 0
    }
    whole = raw + counts + sum(weighs.values())
    kappa = whole / raw * fitting.kappa / max(fitted.precedents, 1e-9)
    return Decided(
        cases=len(np.unique(table.case)),
        counts=counts,
        neighbours=fitted.heard.k,
        kappa=round(float(np.clip(kappa, known.kappa.least, known.kappa.most)), 1),
        likeness=dict(fitted.heard.multipliers),
        weighs=weighs,
        habits=[_habit(fitting, line, points * scale * raw / counts) for line, points in habits],
        measured=_nothing(),
    )


def _departure(weight: float, add: float) -> float:
    """What is added to a criterion's weight: at most as much again, at least a little of it stays."""
    return round(float(np.clip(add, LEAST - weight, weight)), 1)


def _nothing() -> Measured:
    return Measured(decisions=0, before=0, after=0, gain=0, low=0, high=0)


def _habit(fitting: Fitting, line: Line, points: float) -> Habit:
    table = fitting.table
    holds = table.truth[table.start[:-1]][:, list(line.conditions)].all(axis=1)
    member = np.isin(table.option, line.options)
    there = np.add.reduceat(member, table.start[:-1])
    tells = holds & (there > 0) & (there < np.diff(table.start)) & (table.chosen >= 0)
    took = tells & np.isin(table.own, line.options)
    texts = [table.conditions[place].text for place in line.conditions if place]
    return Habit(
        options=[table.options[place] for place in line.options],
        when=" and ".join(texts) or "always",
        points=round(float(np.clip(points, -50, 50)), 1),
        cases=len(np.unique(table.case[tells])),
        chosen=len(np.unique(table.case[took])),
    )


def scores(table: Table, base: Knowledge, near: Alike, profile: Decided | None) -> Floats:
    """The score of every row: ``(1 - w)·R + w·P`` as ``advice`` gives it, with these cases as precedents."""
    published = base.scoring
    k, kappa = (profile.neighbours, profile.kappa) if profile else (published.neighbours, published.kappa)
    said = votes(table, near, profile.likeness if profile else {}, k, published.lambda_)
    raw = table.raw.copy()
    own = np.full(len(table.option), MIDDLE)
    counts = 0.0
    if profile:
        for name, add in profile.weighs.items():
            raw[:, table.criteria.index(name)] += add
        raw = np.maximum(raw, 0.0)
        counts = profile.counts if profile.habits else 0.0
        for habit in profile.habits:
            own += habit.points * _holds(table, habit)
        own = np.clip(own, 0.0, 100.0)
    weights = raw[table.decision]
    rules = ((weights * table.scores).sum(axis=1) + counts * own) / (weights.sum(axis=1) + counts)
    w = (said.total / (said.total + kappa))[table.decision]
    found: Floats = (1 - w) * rules + w * (50.0 + 50.0 * said.said)
    return found


def _holds(table: Table, habit: Habit) -> Flags:
    texts = {condition.text: place for place, condition in enumerate(table.conditions)}
    parts = [] if habit.when == "always" else habit.when.split(" and ")
    where = table.truth[:, [texts[part] for part in parts]].all(axis=1)
    options = [table.options.index(name) for name in habit.options]
    found: Flags = np.isin(table.option, options) & where
    return found


def hits(table: Table, base: Knowledge, near: Alike, profile: Decided | None) -> Flags:
    """Whether the own choice comes first at each decision."""
    found: Flags = first(table, scores(table, base, near, profile)) == table.chosen
    return found


def first(table: Table, found: Floats) -> Places:
    """The row that leads at each decision; ties go to the earlier option."""
    top = np.maximum.reduceat(found, table.start[:-1])
    leads = np.where(found >= top[table.decision] - 1e-9, np.arange(len(found)), len(found))
    rows: Places = np.minimum.reduceat(leads, table.start[:-1])
    return rows
