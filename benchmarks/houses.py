"""Libraries of invented houses (``house_libraries``), and what a house profile learns from each.

``python -m benchmarks.houses`` measures it (see ``report``). With ``--keep FILE`` it writes each result down and, run
again after a stop, goes on with what is missing.
"""

import argparse
import time
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from itertools import islice
from pathlib import Path

import numpy as np

from benchmarks.house_libraries import by, designed, libraries, mouths, unsafe, without_pattern
from benchmarks.house_policies import HOUSES
from recommender.advice.model import STATUS_ORDER
from recommender.advice.recommend import Recommender
from recommender.curation.evaluation.kept import Kept
from recommender.curation.house.learning import learn_from, paired_bootstrap
from recommender.curation.house.predicting import first, hits
from recommender.curation.house.table import KINDS, Made, Reader
from recommender.curation.house.votes import alike
from recommender.domain.case import Case
from recommender.knowledge.house import in_house
from recommender.knowledge.in_force import knowledge
from recommender.precedents.processes import batched
from recommender.precedents.source import demo_source


@dataclass(frozen=True, slots=True)
class Result:
    """Own choice first on cases that taught nothing: by rules, with published precedents, and with the profile, with
    the 95 % interval of the profile's gain (resampled by case)."""

    house: str
    kind: str
    decisions: int
    rules: float
    published: float
    profile: float
    low: float
    high: float
    lines: int
    seconds: float

    def __str__(self) -> str:
        gain = f"{100 * (self.profile - self.published):+.0f} ({100 * self.low:.0f} to {100 * self.high:.0f})"
        return (
            f"{self.house:9s} {self.kind:12s} {self.decisions:5d} unseen decisions: rules {self.rules:.1%}, published "
            f"precedents {self.published:.1%}, profile {self.profile:.1%}, gain {gain} ({self.lines} lines; "
            f"{self.seconds:.0f} s)"
        )


def seen_and_unseen(cases: int, unseen: int, seed: int, apart: bool) -> Iterator[Case]:
    """The mouths that teach, then those that do not. ``apart``: these vary every fourth demo case, those the others,
    so that no mouth that is asked about resembles one that taught more than two demo cases do."""
    if not apart:
        yield from mouths(cases + unseen, seed)
        return
    ids = sorted(case.id for case in demo_source().cases())
    asked = ids[::4]
    yield from mouths(cases, seed, [name for name in ids if name not in asked])
    yield from mouths(unseen, seed + 1000, asked)


def taught(
    names: Sequence[str], cases: int, unseen: int, seed: int = 1, known: Sequence[str] = (), apart: bool = False
) -> Iterator[Result]:
    """Each house's profile from its first cases, tried on the others. Houses that are ``known`` are passed over."""
    base = knowledge()
    figures, reader = base.figures.house, Reader(base)
    hands = [(house.name, by(house, seed=seed)) for house in HOUSES if house.name in names and house.name not in known]
    made, ids = libraries(hands, seen_and_unseen(cases, unseen, seed, apart), reader) if hands else ({}, ())
    family = np.arange(len(ids))
    for name, _ in hands:
        began = time.process_time()
        train = reader.tables([one for one in made[name] if one.case < cases], figures.cuts)
        tables = reader.tables(made[name], figures.cuts, {kind: t.conditions for kind, t in train.items()})
        found = learn_from(train, family, base, figures)
        spent = time.process_time() - began
        decided = found.profile.decisions if found.profile else {}
        for kind, table in tables.items():
            heard, test = np.flatnonzero(table.case < cases), np.flatnonzero(table.case >= cases)
            near = alike(table, heard, family, figures.groups)
            own = decided.get(kind)  # type: ignore[call-overload]
            before, after = hits(table, base, near, None)[test], hits(table, base, near, own)[test]
            low, high, _ = paired_bootstrap(before, after, table.case[test], figures.resamples, figures.interval)
            rules = float((first(table, table.published) == table.chosen)[test].mean())
            lines = len(own.habits) + len(own.weighs) if own else 0
            yield Result(
                name, kind, len(test), rules, float(before.mean()), float(after.mean()), low, high, lines, spent
            )


def by_chance(libraries_: int, cases: int, seed: int = 1, known: Sequence[int] = ()) -> Iterator[tuple[int, bool]]:
    """Libraries without a pattern by number, and whether each got a profile; those ``known`` are passed over."""
    base = knowledge()
    figures, reader = base.figures.house, Reader(base)
    numbers = [number for number in range(libraries_) if number not in known]
    for some in batched(numbers, 10):
        hands = [(f"{number}", without_pattern(seed * 1000 + number)) for number in some]
        made, ids = libraries(hands, mouths(cases, seed), reader)
        for number in some:
            tables = reader.tables(made[f"{number}"], figures.cuts)
            yield number, learn_from(tables, np.arange(len(ids)), base, figures).profile is not None


def taught_what_is_unsafe(cases: int, unseen: int, seed: int = 1) -> tuple[int, int, int]:
    """How many unsafe choices a library of such a house holds; how many decisions of unseen mouths were asked with what
    it taught; at how many of these anything has another status than by the published rules, or what leads is worse in
    status than something else."""
    base = knowledge()
    figures, reader = base.figures.house, Reader(base)
    choose = by(HOUSES[0], slips=0.0)
    made: list[Made] = []
    found = mouths(cases + unseen, seed)
    for number, case in enumerate(islice(found, cases)):
        analysis = reader.work(case)
        if analysis is not None:
            made += reader.decisions(number, unsafe(designed(analysis, choose), analysis), analysis)
    learned = learn_from(reader.tables(made, figures.cuts), np.arange(cases), base, figures)
    after = Recommender(None, in_house(base, learned.profile)) if learned.profile else reader.plain
    asked = wrong = 0
    for case in found:
        plain, with_profile = reader.work(case), after.work(case)
        for decision in plain.decisions() if plain else ():
            if plain is None or decision.kind == "rest":
                continue
            here, there = (one.decide(decision).ranked for one in (plain, with_profile))
            best = min(STATUS_ORDER.index(option.status) for option in there)
            asked += 1
            wrong += {o.option: o.status for o in here} != {o.option: o.status for o in there} or (
                STATUS_ORDER.index(there[0].status) != best
            )
    return learned.unreachable["retainer"], asked, wrong


def measured(
    names: Sequence[str], cases: int, unseen: int, seed: int = 1, keep: Path | None = None, apart: bool = False
) -> list[Result]:
    """``taught``, each house once it is whole from or into the file ``keep``."""
    kept = Kept(keep, f"houses, {cases} cases, {unseen} unseen, seed {seed}{', apart' if apart else ''}")
    whole = [name for name in names if kept.known(name) is not None]
    results = taught(names, cases, unseen, seed, whole, apart)
    while fresh := list(islice(results, len(KINDS))):
        kept.keep(fresh[0].house, [asdict(each) for each in fresh])
    return [Result(**found) for name in names for found in kept.known(name)]


def adopted_by_chance(libraries_: int, cases: int, seed: int = 1, keep: Path | None = None) -> int:
    """How many libraries without a pattern get a profile."""
    kept = Kept(keep, f"patternless, {cases} cases, seed {seed}")
    known = [number for number in range(libraries_) if kept.known(str(number)) is not None]
    for number, adopted in by_chance(libraries_, cases, seed, known):
        kept.keep(str(number), adopted)
    return sum(kept.known(str(number)) for number in range(libraries_))


def report(arguments: Sequence[str] | None = None) -> None:
    """Prints what the profile learns from each house, and how often it learns from none."""
    parser = argparse.ArgumentParser(description=report.__doc__)
    parser.add_argument("--houses", default=",".join(house.name for house in HOUSES))
    parser.add_argument("--cases", type=int, default=300)
    parser.add_argument("--unseen", type=int, default=100)
    parser.add_argument("--patternless", type=int, default=0, help="libraries without a pattern")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--unsafe", action="store_true", help="a house that takes what is unsafe where it can")
    parser.add_argument("--apart", action="store_true", help="unseen mouths vary other demo cases")
    parser.add_argument("--keep", type=Path, default=None, help="a file of results; what is in it is not done again")
    given = parser.parse_args(arguments)
    if given.unsafe:
        held, asked, wrong = taught_what_is_unsafe(given.cases, given.unseen, given.seed)
        told = f"something unsafe at {wrong} of {asked} unseen decisions"
        print(f"{held} unsafe choices in {given.cases} cases taught {told}", flush=True)
        return
    if given.patternless:
        found = adopted_by_chance(given.patternless, given.cases, given.seed, given.keep)
        print(f"{found} of {given.patternless} patternless libraries of {given.cases} cases got a profile", flush=True)
        return
    for one in measured(given.houses.split(","), given.cases, given.unseen, given.seed, given.keep, given.apart):
        print(one, flush=True)


if __name__ == "__main__":
    report()
