"""Libraries made by the invented houses (``house_policies``), by hands without a pattern, and by an unsafe hand."""

from collections.abc import Callable, Iterable, Iterator, Sequence

import numpy as np

from benchmarks.house_policies import ELSE, Before, House
from benchmarks.whole_cases import varied_cases
from recommender.advice.analysis import CaseAnalysis
from recommender.advice.model import STATUS_ORDER, Decision
from recommender.curation.house.table import Made, Reader
from recommender.domain.case import Case, Review
from recommender.domain.designs import Design, DesignRetainer

Choose = Callable[[str, Before, list[str]], str]


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


def designed(analysis: CaseAnalysis, choose: Choose) -> Case:
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


def by(house: House, slips: float = 0.03, seed: int = 1) -> Choose:
    """How a house chooses: by its policy, save in ``slips`` of its decisions, where anything allowed may come."""
    rng = np.random.default_rng(seed)

    def choose(kind: str, found: Before, options: list[str]) -> str:
        if rng.random() < slips:
            return options[int(rng.integers(len(options)))]
        wanted: list[str] = getattr(house, kind)(found)
        return next(name for name in (*wanted, *ELSE, *options) if name in options)

    return choose


def without_pattern(seed: int) -> Choose:
    """Inconsistent hands: anything allowed, by chance."""
    rng = np.random.default_rng(seed)
    return lambda kind, found, options: options[int(rng.integers(len(options)))]


def mouths(count: int, seed: int, of: Sequence[str] = ()) -> Iterator[Case]:
    """Varied cases with something to replace; ``of``: only variations of these demo cases."""
    made = 0
    for case in varied_cases(count * 2, seed, prefix=f"house{seed}", of=of):
        if case.missing and made < count:
            made += 1
            yield case.model_copy(update={"outcome": None})


def libraries(
    chosen: Sequence[tuple[str, Choose]], found: Iterable[Case], reader: Reader
) -> tuple[dict[str, list[Made]], tuple[str, ...]]:
    """The decisions of several hands on the same mouths, each worked out once."""
    made: dict[str, list[Made]] = {name: [] for name, _ in chosen}
    ids: list[str] = []
    for case in found:
        analysis = reader.work(case)
        if analysis is None:
            continue
        for name, choose in chosen:
            made[name] += reader.decisions(len(ids), designed(analysis, choose), analysis)
        ids.append(case.id)
    return made, tuple(ids)


def unsafe(case: Case, analysis: CaseAnalysis) -> Case:
    """The case as a house designs it that takes an excluded retainer wherever there is one."""
    assert case.design is not None
    taken = []
    for part in case.design.retainers or ():
        held = analysis.examine(Decision("retainer", part.tooth)).chosen
        barred = sorted(name for name, judged in held.items() if judged.status == "excluded" and name != "none")
        taken.append(part.model_copy(update={"assembly": barred[0]}) if barred else part)
    return case.model_copy(update={"design": case.design.model_copy(update={"retainers": taken})})
