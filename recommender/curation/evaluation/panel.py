"""The advice beside a panel's answers: invented cases, each answered three times independently.

The answers are opinions, no evidence (``shared/panel/README.md``). Each choice of the program is held against each
answer set: *accepted* where that set would sign or accept it, *same* where it is what it would sign, *refused* where it
would refuse it. Once for the first of each ranked list, once for the first whole framework; and the sets are held
against each other in the same way. What the panel answered is never shown to the recommender: only the case is.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from itertools import permutations
from pathlib import Path
from typing import Any

from recommender.advice.analysis import CaseAnalysis
from recommender.advice.model import Decision, Framework
from recommender.advice.recommend import Recommender, recommendation
from recommender.curation.evaluation.published import short_label
from recommender.domain.case import Case
from recommender.domain.reader import read_case
from recommender.resources import read_yaml, shared

KINDS = ("kennedy", "connector", "retainer", "rest", "replacement", "alloy", "indirect")
Seats = frozenset[tuple[int, str]]


@dataclass(frozen=True, slots=True)
class Answer:
    """What one set says about one decision. Seats of an indirect retainer are a set of (tooth, rest)."""

    best: str | Seats
    also: frozenset[str] = frozenset()
    never: frozenset[str] = frozenset()
    why: str = ""

    def accepts(self, choice: str | Seats) -> float:
        """1 if the choice would be signed or accepted, else 0; for seats the share of the two sets that is common."""
        if isinstance(choice, frozenset) and isinstance(self.best, frozenset):
            either = choice | self.best
            return len(choice & self.best) / len(either) if either else 1.0
        return float(choice == self.best or choice in self.also)


@dataclass(frozen=True, slots=True)
class Tally:
    """How many answers were compared, and how many accepted, shared or refused the choice."""

    of: int = 0
    accepted: float = 0.0
    same: int = 0
    refused: int = 0

    def __add__(self, other: "Tally") -> "Tally":
        return Tally(
            self.of + other.of,
            self.accepted + other.accepted,
            self.same + other.same,
            self.refused + other.refused,
        )


@dataclass(frozen=True, slots=True)
class Difference:
    """A choice of the program that not every answer set accepts, with what each says."""

    case: str
    decision: str
    of_framework: bool
    found: str
    refused: bool
    answers: Mapping[str, str]


@dataclass(slots=True)
class PanelAgreement:
    """Tallies by kind of decision: the ranked lists, the first framework, and the panel against itself."""

    ranked: dict[str, Tally] = field(default_factory=lambda: defaultdict(Tally))
    framework: dict[str, Tally] = field(default_factory=lambda: defaultdict(Tally))
    itself: dict[str, Tally] = field(default_factory=lambda: defaultdict(Tally))
    differences: list[Difference] = field(default_factory=list)


def panel_cases(folder: Path | None = None) -> Iterator[tuple[Case, dict[str, dict[str, Answer]]]]:
    """Every case with the answers of each set by decision key, such as ``retainer:14``."""
    root = folder or shared("panel")
    for path in sorted((root / "cases").glob("*.yaml")):
        sets = {}
        for answers in sorted((root / "answers").iterdir()):
            raw = read_yaml((answers / path.name).read_bytes())
            sets[answers.name] = {key: _answer(key, value) for key, value in raw.items()}
        yield read_case(path), sets


def _answer(key: str, value: Any) -> Answer:
    if key == "kennedy":
        return Answer(str(value))
    if key == "indirect":
        seats = frozenset((int(seat["tooth"]), str(seat["rest"])) for seat in value.get("seats", ()))
        return Answer(seats if value["needed"] else frozenset(), why=str(value.get("why", "")))
    also, never = (frozenset(value.get(name, ())) for name in ("also", "never"))
    return Answer(str(value["best"]), also, never, str(value.get("why", "")))


def judge_panel(
    recommender: Recommender, cases: Iterable[tuple[Case, Mapping[str, Mapping[str, Answer]]]]
) -> PanelAgreement:
    """Every decision of every case against every answer set."""
    agreement = PanelAgreement()
    for case, sets in cases:
        analysis = recommender.work(case)
        frameworks = recommendation(analysis, 1).frameworks
        for key in dict.fromkeys(key for answers in sets.values() for key in answers):
            given = {name: answers[key] for name, answers in sets.items() if key in answers}
            kind = key.partition(":")[0]
            for one, other in permutations(given, 2):
                agreement.itself[kind] += _held_against(given[one].best, [given[other]])
            if key != "alloy":
                first = _of_lists(analysis, key, given)
                agreement.ranked[kind] += _held_against(first, given.values())
                _note(agreement, case.id, key, first, given, of_framework=False)
            if key != "kennedy":
                whole = _of_framework(frameworks[0], key) if frameworks else "no framework"
                agreement.framework[kind] += _held_against(whole, given.values())
                _note(agreement, case.id, key, whole, given, of_framework=True)
    return agreement


def _held_against(choice: str | Seats, answers: Iterable[Answer]) -> Tally:
    total = Tally()
    for answer in answers:
        total += Tally(1, answer.accepts(choice), int(choice == answer.best), int(choice in answer.never))
    return total


def _of_lists(analysis: CaseAnalysis, key: str, given: Mapping[str, Answer]) -> str | Seats:
    """The leading option; of seats as many of the first as most sets name."""
    if key == "kennedy":
        return short_label(analysis.case)
    if key == "indirect":
        named = [len(answer.best) for answer in given.values()]
        seats = recommendation(analysis, 0).indirect_retainers[: max(named, key=named.count)]
        return frozenset((seat.tooth, seat.rest) for seat in seats)
    kind, _, tooth = key.partition(":")
    return analysis.leader(Decision(kind, int(tooth or 0)))


def _of_framework(framework: Framework, key: str) -> str | Seats:
    kind, _, tooth = key.partition(":")
    if kind == "indirect":
        return frozenset((seat.tooth, seat.rest) for seat in framework.indirect_retainers)
    if kind == "connector":
        return framework.connector
    if kind == "alloy":
        return str(framework.design.alloy)
    parts = {"retainer": framework.retainers, "rest": framework.rests, "replacement": framework.replacements}
    return parts[kind].get(int(tooth), "none")


def _note(
    agreement: PanelAgreement,
    case: str,
    key: str,
    choice: str | Seats,
    given: Mapping[str, Answer],
    *,
    of_framework: bool,
) -> None:
    if all(answer.accepts(choice) == 1 for answer in given.values()):
        return
    said = {name: f"{told(answer.best)} ({answer.why})" for name, answer in given.items()}
    refused = any(choice in answer.never for answer in given.values())
    agreement.differences.append(Difference(case, key, of_framework, told(choice), refused, said))


def told(choice: str | Seats) -> str:
    """A choice in one line."""
    if isinstance(choice, frozenset):
        return ", ".join(f"{tooth} {rest}" for tooth, rest in sorted(choice)) or "no seat"
    return choice
