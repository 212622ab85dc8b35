"""Agreement with published worked cases and examination items.

Schools of design differ and some sources contradict each other, so agreement is a figure to report. What the
authors chose is never shown to the recommender: only the case is.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

from recommender.advice.analysis import CaseAnalysis
from recommender.advice.model import Decision, DecisionResult
from recommender.advice.recommend import Recommender, recommendation
from recommender.domain.case import Case
from recommender.domain.kennedy import classify
from recommender.domain.statement import Several, count, several
from recommender.resources import read_yaml, shared
from recommender.wording.words import words_in

_HIDDEN = ("expert", "source", "evidence")


@dataclass(frozen=True, slots=True)
class Verdict:
    """One published choice against the ranking: ``rank`` of the best-placed acceptable option (``None`` if the
    decision is not one of options), its status, and whether the expectation holds. ``below``: a rejected option, which
    is expected to rank below the published one."""

    item: str
    ask: str
    expected: str
    found: str
    agrees: bool
    rank: int | None = None
    excluded: bool = False
    why: Several | None = None
    source: str = ""
    below: bool = False


@dataclass(slots=True)
class Agreement:
    """Verdicts with the shares that are reported."""

    verdicts: list[Verdict] = field(default_factory=list)

    def share(self, top: int) -> tuple[int, int]:
        """How many published choices stand among the first ``top`` options, of how many that are ranked."""
        ranked = [verdict for verdict in self.verdicts if verdict.rank is not None]
        return sum(1 for verdict in ranked if (verdict.rank or 0) <= top), len(ranked)

    @property
    def excluded(self) -> list[Verdict]:
        """Published choices that the recommender excludes."""
        return [verdict for verdict in self.verdicts if verdict.excluded]

    @property
    def agreeing(self) -> int:
        """How many expectations hold."""
        return sum(verdict.agrees for verdict in self.verdicts)


def _load(path: Path) -> Any:
    return read_yaml(path.read_bytes())


@cache
def _explained() -> Mapping[str, Mapping[str, str]]:
    found: Mapping[str, Mapping[str, str]] = _load(shared("published", "disagreements.yaml"))["why"]
    return found


def explained(verdict: Verdict) -> str:
    """One sentence why the published choice does not come first here; empty where nobody has looked into it yet."""
    return "" if verdict.below else _explained().get(verdict.item, {}).get(verdict.ask, "")


def published_cases(folder: Path | None = None) -> list[tuple[Case, Mapping[str, Any], str]]:
    """The worked cases: the case alone, what the authors chose, and the citation."""
    found = []
    for path in sorted((folder or shared("published", "cases")).glob("*.yaml")):
        raw = _load(path)
        case = Case.model_validate({key: value for key, value in raw.items() if key not in _HIDDEN})
        found.append((case, raw["expert"], str(raw["source"])))
    return found


def exam_items(path: Path | None = None) -> list[Mapping[str, Any]]:
    """The examination items, as they stand in the file."""
    items: list[Mapping[str, Any]] = _load(path or shared("published", "exam_items.yaml"))
    return items


def judge_cases(recommender: Recommender, cases: Iterable[tuple[Case, Mapping[str, Any], str]]) -> Agreement:
    """Every choice of every worked case against the ranking."""
    agreement = Agreement()
    for case, expert, source in cases:
        analysis = recommender.work(case)
        agreement.verdicts += _kennedy(case, expert, source)
        agreement.verdicts += _choices(analysis, expert, source)
        agreement.verdicts += _rejections(analysis, expert, source)
        agreement.verdicts += _indirect(analysis, expert, source)
    return agreement


def _kennedy(case: Case, expert: Mapping[str, Any], source: str) -> list[Verdict]:
    if "kennedy" not in expert:
        return []
    found = short_label(case)
    return [
        Verdict(case.id, "kennedy", str(expert["kennedy"]), found, found == expert["kennedy"], source=source)
    ]


def short_label(case: Case) -> str:
    """As the published items write it: ``II mod 1``."""
    found = classify(case)
    more = count(found.modifications) if found.modifications else None
    return words_in().told("kennedy.short", number=str(found.number), modifications=more)


def _ranked(result: DecisionResult, accepted: Iterable[str]) -> tuple[int, str, bool, Several | None]:
    """Best rank among the accepted options, that option, whether it is excluded, and by what."""
    best = min((result.option(option) for option in accepted), key=lambda option: option.rank)
    return (
        best.rank,
        best.option,
        best.status == "excluded",
        several([block.statement for block in best.blocked_by]),
    )


def _choices(analysis: CaseAnalysis, expert: Mapping[str, Any], source: str) -> list[Verdict]:
    asked: list[tuple[Decision, list[str]]] = []
    if "connector" in expert:
        asked.append((Decision("connector"), expert["connector"]))
    for kind, key in (("retainer", "retainers"), ("replacement", "replacements"), ("rest", "rests")):
        asked += [(Decision(kind, int(tooth)), options) for tooth, options in expert.get(key, {}).items()]
    verdicts = []
    for decision, options in asked:
        accepted = [options] if isinstance(options, str) else list(options)
        result = analysis.decide(decision)
        rank, _, excluded, why = _ranked(result, accepted)
        lead = result.ranked[0].option
        verdicts.append(
            Verdict(
                analysis.case.id,
                decision.key,
                "|".join(accepted),
                lead,
                lead in accepted,
                rank,
                excluded,
                why,
                source,
            )
        )
    return verdicts


def _rejections(analysis: CaseAnalysis, expert: Mapping[str, Any], source: str) -> list[Verdict]:
    """What the authors rejected has to stand below what they chose."""
    pairs: list[tuple[Decision, str, list[str]]] = []
    for tooth, rejected in expert.get("rejected", {}).items():
        decision = Decision("retainer", int(tooth))
        pairs += [(decision, option, expert["retainers"][tooth]) for option in rejected]
    for option in expert.get("rejected_connectors", {}):
        pairs.append((Decision("connector"), option, expert["connector"]))
    verdicts = []
    for decision, option, chosen in pairs:
        result = analysis.decide(decision)
        best = min(result.option(o).rank for o in chosen)
        below = result.option(option).rank > best
        verdicts.append(
            Verdict(
                analysis.case.id,
                decision.key,
                option,
                result.ranked[0].option,
                below,
                source=source,
                below=True,
            )
        )
    return verdicts


def _indirect(analysis: CaseAnalysis, expert: Mapping[str, Any], source: str) -> list[Verdict]:
    if "indirect_retainers" not in expert:
        return []
    seats = recommendation(analysis, 1).indirect_retainers
    wanted = {(seat["tooth"], seat["rest"]) for seat in expert["indirect_retainers"]}
    first = {(seat.tooth, seat.rest) for seat in seats[: len(wanted)]}
    words = ", ".join(f"{tooth} {rest}" for tooth, rest in sorted(first))
    expected = ", ".join(f"{tooth} {rest}" for tooth, rest in sorted(wanted))
    return [Verdict(analysis.case.id, "indirect", expected, words, first == wanted, source=source)]


def judge_frameworks(
    recommender: Recommender, cases: Iterable[tuple[Case, Mapping[str, Any], str]], count: int = 3
) -> Agreement:
    """Whole designs: the rank of the first framework that holds every choice the authors made.

    Choices are the retainers and the connector that the source states; what a framework carries besides is not
    held against it. Cases that state neither are passed over.
    """
    agreement = Agreement()
    for case, expert, source in cases:
        wanted = {int(tooth): set(options) for tooth, options in expert.get("retainers", {}).items()}
        connectors = set(expert.get("connector", ()))
        if not wanted and not connectors:
            continue
        frameworks = recommendation(recommender.work(case), count).frameworks
        rank = next(
            (
                number
                for number, framework in enumerate(frameworks, 1)
                if (not connectors or framework.connector in connectors)
                and all(
                    framework.retainers.get(tooth, "none") in options for tooth, options in wanted.items()
                )
            ),
            count + 1,
        )
        said = [f"{tooth} {'|'.join(sorted(options))}" for tooth, options in sorted(wanted.items())]
        said += ["|".join(sorted(connectors))] if connectors else []
        first = frameworks[0] if frameworks else None
        found = f"{first.connector}, {dict(first.retainers)}" if first else "no framework"
        agreement.verdicts.append(
            Verdict(case.id, "whole design", ", ".join(said), found, rank <= count, rank, source=source)
        )
    return agreement


def judge_items(recommender: Recommender, items: Iterable[Mapping[str, Any]]) -> Agreement:
    """Every examination item against the answer."""
    agreement = Agreement()
    for item in items:
        case = Case.model_validate(item["case"])
        found, agrees, rank, excluded = _judge_item(recommender, case, item)
        agreement.verdicts.append(
            Verdict(
                item["id"], str(item["ask"]["decision"]), str(item["expect"]), found, agrees, rank, excluded,
                source=str(item["source"]),
            )
        )  # fmt: skip
    return agreement


def _judge_item(
    recommender: Recommender, case: Case, item: Mapping[str, Any]
) -> tuple[str, bool, int | None, bool]:
    ask, expect = item["ask"], item["expect"]
    kind = ask["decision"]
    if kind == "kennedy_class":
        found = short_label(case)
        return found, found == expect["class"], None, False
    analysis = recommender.work(case)
    if kind == "number":
        return _number(analysis, ask["quantity"], float(expect["value"]), float(expect["tol"]))
    if kind == "indirect_retainer":
        return _seat_order(analysis, expect["better"])
    if kind == "preparation":
        wanted = expect["needs_preparation"]
        steps = recommendation(analysis, 0).preparation
        held = any(s.tooth == wanted["tooth"] and s.action == wanted["action"] for s in steps)
        return ", ".join(sorted({s.action for s in steps if s.tooth == wanted["tooth"]})), held, None, False
    return _option_item(analysis.decide(Decision(kind, int(ask.get("tooth", 0)))), expect)


def _option_item(result: DecisionResult, expect: Mapping[str, Any]) -> tuple[str, bool, int | None, bool]:
    lead = result.ranked[0].option
    if "best" in expect:
        placed = result.option(expect["best"])
        return lead, lead == expect["best"], placed.rank, placed.status == "excluded"
    if "better" in expect:
        first, second = (result.option(option) for option in expect["better"])
        found = f"{first.option} {first.rank}, {second.option} {second.rank}"
        return found, first.rank < second.rank, None, first.status == "excluded"
    named = expect.get("excluded") or expect["not_excluded"]
    status = result.option(named).status
    agrees = (status == "excluded") == ("excluded" in expect)
    # Accepted practice that excludes may stand as "advised against", which a designer may override with a reason.
    if "excluded" in expect and status == "advised_against":
        agrees = True
    return status, agrees, None, False


def _seat_order(
    analysis: CaseAnalysis, better: list[Mapping[str, Any]]
) -> tuple[str, bool, int | None, bool]:
    seats = [(seat.tooth, seat.rest) for seat in recommendation(analysis, 0).indirect_retainers]
    places = []
    for wanted in better:
        key = (int(wanted["tooth"]), str(wanted["rest"]))
        places.append(seats.index(key) if key in seats else len(seats))
    return str(seats[:4]), places[0] < places[1], None, False


def _number(
    analysis: CaseAnalysis, quantity: str, value: float, tol: float
) -> tuple[str, bool, int | None, bool]:
    if quantity == "rests":
        framework = recommendation(analysis, 1).frameworks[0]
        count = sum(1 for rest in framework.rests.values() if rest != "none")
        return str(count), count >= value - tol, None, False
    if quantity == "indirect_retainers":
        framework = recommendation(analysis, 1).frameworks[0]
        count = len(framework.indirect_retainers)
        return str(count), abs(count - value) <= tol, None, False
    name, _, figure = quantity.partition("_width_mm")
    option = analysis.engine.knowledge.catalogue.options["connector"].get(name)
    stated = option.extra.get("min_width_mm") if option and not figure else None
    return str(stated), stated is not None and abs(float(stated) - value) <= tol, None, False
