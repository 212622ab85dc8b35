"""A framework as the rules between parts see it, and one check as it stands in the answer."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

from recommender.advice.frameworks.candidates import Part, Parts, figures
from recommender.advice.frameworks.solve import Wanted
from recommender.advice.model import Check, OptionResult, Seat
from recommender.domain.options import Option
from recommender.domain.statement import Said, say

Outcome = Literal["passed", "passed_with_preparation", "not_checked", "failed"]


@dataclass(frozen=True, slots=True)
class Whole:
    """A framework as the checks see it."""

    retainers: dict[int, Part]
    rests: dict[int, str]
    seats: tuple[Seat, ...]
    connector: Option
    connector_result: OptionResult
    parts: Parts
    wanted: Wanted

    @property
    def retentive(self) -> list[Part]:
        """The parts that hold it in."""
        return [part for part in self.retainers.values() if part.retentive]

    @property
    def alloy(self) -> str | None:
        """The alloy of the frame."""
        return self.parts.alloy

    @property
    def available(self) -> list[Part]:
        """All parts that could have been chosen."""
        return [part for options in self.parts.retainers.values() for part in options]

    @property
    def carrying(self) -> list[int]:
        """Teeth that carry a retainer or a rest."""
        held = {tooth for tooth, part in self.retainers.items() if part.option.id != "none"}
        return sorted(held | {tooth for tooth, rest in self.rests.items() if rest != "none"})


def check(rule: str, outcome: Outcome | bool, words: str = "") -> Check:
    """One check as it stands in the answer; ``words`` follow the rule's sentence."""
    known = figures()["rules"][rule]
    source = known["source"]
    result: Outcome = outcome if isinstance(outcome, str) else "passed" if outcome else "failed"
    said = say("check", rule=rule, what=Said(known["text"]), detail=Said(words) if words else None)
    return Check(rule, result, said, str(figures().get(source, source)))


def each(rule: str, parts: Sequence[Part], holds: Callable[[Part], bool], words: str) -> Check:
    """A rule that every one of these parts has to keep; ``words`` are said of each that does not."""
    bad = [part for part in parts if not holds(part)]
    if bad:
        return check(rule, "failed", ", ".join(f"{p.tooth} {p.option.label} {words}" for p in bad))
    return check(rule, "passed")


def listed(teeth: object) -> str:
    """Tooth numbers with commas."""
    return ", ".join(str(tooth) for tooth in teeth)  # type: ignore[attr-defined]
