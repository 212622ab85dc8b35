"""Invented houses: policies by which a laboratory might choose, written from what lies before a technician, and
libraries made by them. They know nothing of scores, criteria, rules or precedents; only what the program calls
blocked is no choice.

``python -m benchmarks.houses`` measures what a house profile learns from each (see ``report``).
"""

import argparse
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from benchmarks.whole_cases import varied_cases
from recommender.advice.analysis import CaseAnalysis
from recommender.advice.model import STATUS_ORDER, Decision
from recommender.curation.house.learning import learn_from
from recommender.curation.house.predicting import first, hits
from recommender.curation.house.table import Made, Reader
from recommender.curation.house.votes import alike
from recommender.domain.case import Abutment, Case, Design, DesignRetainer, Review
from recommender.knowledge.in_force import knowledge

Pick = Callable[["Before", list[str]], list[str]]


@dataclass(frozen=True, slots=True)
class Before:
    """What lies before the technician at one decision."""

    case: Case
    tooth: int
    abutment: Abutment | None
    extension: bool
    beside: bool
    front: bool
    given: str = ""

    @property
    def molar(self) -> bool:
        """Whether the tooth is a molar."""
        return self.tooth % 10 >= 6

    @property
    def canine(self) -> bool:
        """Whether the tooth is a canine."""
        return self.tooth % 10 == 3

    def mm(self, name: str, otherwise: float) -> float:
        """A measure of the tooth, or what the house takes it for."""
        value = getattr(self.abutment, name, None) if self.abutment else None
        return otherwise if value is None else _plain(value)

    def patient(self, name: str) -> object:
        """A field of the patient."""
        return getattr(self.case.patient, name, None) if self.case.patient else None


@dataclass(frozen=True, slots=True)
class House:
    """Preferences in order, by kind of decision; the first that is not blocked is taken."""

    name: str
    retainer: Callable[[Before], list[str]]
    rest: Callable[[Before], list[str]]
    connector: Callable[[Before], list[str]]
    replacement: Callable[[Before], list[str]]


def _plain(mm: object) -> float:
    """A measure as a number, the middle of an interval; 0 where there is none."""
    value = getattr(mm, "value", mm)
    return float(value) if isinstance(value, (int, float)) else 0.0


def _bars(b: Before) -> list[str]:
    if not b.beside:
        return ["rest_only", "embrasure"]
    if b.extension:
        shallow = b.mm("vestibule_depth_mm", 8) < 6 or (b.abutment is not None and b.abutment.tissue_undercut)
        return ["rpa", "combination"] if shallow else ["i_bar", "t_bar", "rpa"]
    return ["i_bar", "t_bar", "circumferential"] if not b.molar else ["circumferential", "ring"]


def _circlets(b: Before) -> list[str]:
    if not b.beside:
        return ["embrasure", "rest_only"]
    if b.extension:
        return ["combination", "reverse_circumferential"]
    return ["ring", "circumferential"] if b.molar and b.case.arch == "mandible" else ["circumferential", "combination"]


def _hidden(b: Before) -> list[str]:
    seen = b.front or b.tooth % 10 == 4
    if seen and b.patient("aesthetic_priority") == "high":
        return ["lingual_retention", "proximal_undercut", "rpa", "i_bar", "combination"]
    if seen:
        return ["rpa", "i_bar", "combination"]
    return ["back_action", "circumferential"] if b.beside else ["none", "rest_only"]


def _sparing(b: Before) -> list[str]:
    if b.mm("mobility", 0) >= 1 or (b.abutment is not None and b.abutment.bone_support in ("reduced", "poor")):
        return ["combination", "rest_only"]
    if not b.beside:
        return ["none", "rest_only"]
    return ["rpa", "reverse_circumferential"] if b.extension else ["half_and_half", "circumferential"]


def _wire(b: Before) -> list[str]:
    if not b.beside:
        return ["none"]
    return ["combination", "circumferential"] if not b.molar else ["circumferential", "extended_arm"]


def _rests(order: Sequence[str], front: Sequence[str]) -> Callable[[Before], list[str]]:
    def pick(b: Before) -> list[str]:
        if b.given == "none":
            return ["none"]
        return list(front if b.front else order)

    return pick


def _plates(b: Before) -> list[str]:
    upper = ["complete_plate", "metal_resin_plate", "palatal_strap"]
    return [*upper, "linguoplate", "interrupted_linguoplate", "lingual_bar"]


def _open(b: Before) -> list[str]:
    floor = b.case.floor.depth_mm if b.case.floor else None
    sites = [getattr(floor, site, None) for site in ("incisor", "canine", "premolar", "molar")]
    depth = min((_plain(mm) for mm in (floor, *sites) if _plain(mm) > 0), default=9.0)
    lower = ["lingual_bar", "sublingual_bar"] if depth >= 8 else ["sublingual_bar", "linguoplate"]
    return ["palatal_strap", "anteroposterior_strap", *lower]


def _u(b: Before) -> list[str]:
    gags = b.patient("gag_reflex") is True
    upper = ["u_shaped" if gags else "palatal_bar", "anteroposterior_bar", "palatal_strap"]
    return [*upper, "cingulum_bar", "lingual_bar"]


def _resin(b: Before) -> list[str]:
    return ["resin_tooth_lattice", "reinforced_resin"]


def _metal(b: Before) -> list[str]:
    if b.tooth % 10 <= 3:
        return ["metal_backed_facing", "tube_tooth", "resin_tooth_metal_base", "resin_tooth_lattice"]
    if b.extension:
        return ["resin_base_metal_occlusal", "resin_tooth_lattice"]
    return ["resin_tooth_metal_base", "metal_tooth", "resin_tooth_lattice"]


def _tubes(b: Before) -> list[str]:
    return ["resin_tooth_lattice"] if b.extension else ["tube_tooth", "reinforced_resin", "resin_tooth_metal_base"]


# Where nothing of a house's own list can be made.
_ELSE = ("circumferential", "combination", "rest_only", "lingual_bar", "palatal_strap", "resin_tooth_lattice", "mesial")
_NEAR = _rests(["mesial", "distal", "mesial_distal", "embrasure"], ["cingulum", "incisal"])
_FAR = _rests(["distal", "mesial", "embrasure", "long"], ["cingulum", "mesial"])
_LONG = _rests(["long", "mesial_distal", "mesial", "distal"], ["incisal", "cingulum"])

HOUSES: tuple[House, ...] = (
    House("bars", _bars, _NEAR, _open, _resin),
    House("circlets", _circlets, _FAR, _plates, _metal),
    House("hidden", _hidden, _NEAR, _u, _tubes),
    House("sparing", _sparing, _LONG, _plates, _resin),
    House("wire", _wire, _FAR, _open, _metal),
)


def before(analysis: CaseAnalysis, decision: Decision, given: str = "") -> Before:
    """What lies before the technician."""
    case, tooth = analysis.case, decision.tooth
    facts = analysis.facts
    spaces = [
        facts.space_beside(tooth, side) for side in ("mesial", "distal")
    ] if decision.kind in ("retainer", "rest") else [
        space for space in facts.spaces if tooth in space.teeth
    ]  # fmt: skip
    held = [space for space in spaces if space is not None]
    abutment = next((one for one in case.abutments or () if one.tooth == tooth), None)
    return Before(
        case, tooth, abutment, any(space.support == "extension" for space in held), bool(held), tooth % 10 <= 3, given
    )


def allowed(analysis: CaseAnalysis, decision: Decision, given: str | None = None) -> list[str]:
    """The options of the best status: what is blocked is no choice."""
    examined = analysis.examine(decision) if given is None else analysis.examine_rest(decision.tooth, given)
    best = min(STATUS_ORDER.index(judged.status) for judged in examined.chosen.values())
    return sorted(name for name, judged in examined.chosen.items() if STATUS_ORDER.index(judged.status) == best)


def designed(analysis: CaseAnalysis, choose: Callable[[str, Before, list[str]], str]) -> Case:
    """The case with a design, each decision chosen by ``choose(kind, before, allowed)``; approved."""
    case = analysis.case
    retainers, rests = [], {}
    for tooth in analysis.facts.considered:
        decision = Decision("retainer", tooth)
        assembly = choose("retainer", before(analysis, decision), allowed(analysis, decision))
        at = Decision("rest", tooth)
        rest = choose("rest", before(analysis, at, assembly), allowed(analysis, at, assembly))
        if assembly != "none":
            retainers.append(DesignRetainer(tooth=tooth, assembly=assembly))  # type: ignore[arg-type]
        rests[tooth] = rest
    replaced = {
        tooth: choose("replacement", before(analysis, decision), allowed(analysis, decision))
        for space in analysis.facts.spaces
        for tooth in space.teeth
        for decision in (Decision("replacement", tooth),)
    }
    whole = Decision("connector")
    connector = choose("connector", before(analysis, whole), allowed(analysis, whole))
    design = Design(connector=connector, retainers=retainers, rests=rests, replacements=replaced)  # type: ignore[arg-type]
    return case.model_copy(update={"design": design, "review": Review(status="approved")})


def by(house: House, slips: float = 0.03, seed: int = 1) -> Callable[[str, Before, list[str]], str]:
    """How a house chooses: by its policy, save in ``slips`` of its decisions, where anything allowed may come."""
    rng = np.random.default_rng(seed)

    def choose(kind: str, found: Before, options: list[str]) -> str:
        if rng.random() < slips:
            return options[int(rng.integers(len(options)))]
        wanted: list[str] = getattr(house, kind)(found)
        return next(name for name in (*wanted, *_ELSE, *options) if name in options)

    return choose


def without_pattern(seed: int) -> Callable[[str, Before, list[str]], str]:
    """Inconsistent hands: anything allowed, by chance."""
    rng = np.random.default_rng(seed)
    return lambda kind, found, options: options[int(rng.integers(len(options)))]


def mouths(count: int, seed: int) -> Iterator[Case]:
    """Varied cases with something to replace."""
    made = 0
    for case in varied_cases(count * 2, seed, prefix=f"house{seed}"):
        if case.missing and made < count:
            made += 1
            yield case.model_copy(update={"outcome": None})


def libraries(
    chosen: Sequence[tuple[str, Callable[[str, Before, list[str]], str]]], count: int, seed: int, reader: Reader
) -> tuple[dict[str, list[Made]], tuple[str, ...]]:
    """The decisions of several hands on the same mouths, each worked out once."""
    made: dict[str, list[Made]] = {name: [] for name, _ in chosen}
    ids: list[str] = []
    for case in mouths(count, seed):
        analysis = reader.work(case)
        if analysis is None:
            continue
        for name, choose in chosen:
            made[name] += reader.decisions(len(ids), designed(analysis, choose), analysis)
        ids.append(case.id)
    return made, tuple(ids)


@dataclass(frozen=True, slots=True)
class Result:
    """Own choice first on cases that taught nothing: by rules, with published precedents, and with the profile."""

    house: str
    kind: str
    decisions: int
    rules: float
    published: float
    profile: float
    lines: int
    seconds: float


def taught(names: Sequence[str], cases: int, unseen: int, seed: int = 1) -> Iterator[Result]:
    """Each house's profile from its first cases, tried on the others; mouths that repeat each other stay together."""
    base = knowledge()
    known, reader = base.figures.house, Reader(base)
    hands = [(house.name, by(house, seed=seed)) for house in HOUSES if house.name in names]
    made, ids = libraries(hands, cases + unseen, seed, reader)
    for name, _ in hands:
        began = time.monotonic()
        train = reader.tables([one for one in made[name] if one.case < cases], known.cuts)
        tables = reader.tables(made[name], known.cuts, {kind: t.conditions for kind, t in train.items()})
        family = np.arange(len(ids))
        found = learn_from(train, family, base, known)
        spent = time.monotonic() - began
        decided = found.profile.decisions if found.profile else {}
        for kind, table in tables.items():
            heard, test = np.flatnonzero(table.case < cases), np.flatnonzero(table.case >= cases)
            near = alike(table, heard, family, known.groups)
            own = decided.get(kind)  # type: ignore[call-overload]
            shares = [
                (first(table, table.published) == table.chosen)[test].mean(),
                hits(table, base, near, None)[test].mean(),
                hits(table, base, near, own)[test].mean(),
            ]
            yield Result(name, kind, len(test), *map(float, shares), len(own.habits) + len(own.weighs) if own else
            0, spent)


def adopted_by_chance(libraries_: int, cases: int, seed: int = 1) -> int:
    """How many libraries without a pattern get a profile."""
    base = knowledge()
    known, reader = base.figures.house, Reader(base)
    hands = [(f"{number}", without_pattern(seed * 1000 + number)) for number in range(libraries_)]
    made, ids = libraries(hands, cases, seed, reader)
    family = np.arange(len(ids))
    return sum(
        learn_from(reader.tables(found, known.cuts), family, base, known).profile is not None
        for found in made.values()
    )


def report(arguments: Sequence[str] | None = None) -> None:
    """Prints what the profile learns from each house, and how often it learns from none."""
    parser = argparse.ArgumentParser(description=report.__doc__)
    parser.add_argument("--houses", default=",".join(house.name for house in HOUSES))
    parser.add_argument("--cases", type=int, default=300)
    parser.add_argument("--unseen", type=int, default=100)
    parser.add_argument("--patternless", type=int, default=0, help="libraries without a pattern")
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args(arguments)
    if given.patternless:
        found = adopted_by_chance(given.patternless, given.cases, given.seed)
        print(f"{found} of {given.patternless} patternless libraries of {given.cases} cases got a profile", flush=True)
        return
    for one in taught(given.houses.split(","), given.cases, given.unseen, given.seed):
        print(
            f"{one.house:9s} {one.kind:12s} {one.decisions:5d} unseen decisions: rules {one.rules:.1%}, published "
            f"precedents {one.published:.1%}, profile {one.profile:.1%} ({one.lines} lines; {one.seconds:.0f} s)",
            flush=True,
        )


if __name__ == "__main__":
    report()
