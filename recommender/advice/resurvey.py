"""A design on the cast it was made for, held against the survey of the cast after preparation: tooth by tooth."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Literal

from recommender.advice.analysis import CaseAnalysis
from recommender.advice.frameworks.stored import faults_of_design
from recommender.advice.model import USABLE, Decision
from recommender.advice.recommend import Recommender
from recommender.domain.case import Case
from recommender.domain.dentition import in_arch_order
from recommender.domain.designs import Design, DesignRetainer
from recommender.domain.errors import CaseError, Problem
from recommender.domain.statement import Choice, Field, Name, Statement, Work, say, several, tooth

Standing = Literal["stands", "stands_changed", "falls"]


@dataclass(frozen=True, slots=True)
class ToothResurvey:
    """One tooth that carries something: whether its part still stands, what changed, and what to do."""

    tooth: int
    part: str
    standing: Standing
    changed: tuple[Statement, ...]
    to_do: tuple[Statement, ...]
    said: Statement


def on_new_cast(
    recommender: Recommender, before: Case, after: Case, named: tuple[str, str] | None = None
) -> tuple[ToothResurvey, ...]:
    """The design of ``before`` (its own, else the first proposal for it) held against the new survey, ``after``.

    ``named`` is how the two are called in an error. Raises ``CaseError`` for two different mouths and where
    there is no design, ``NoAdviceError`` for a case without a Kennedy class.
    """
    first, second = named or (before.id, after.id)
    if (before.arch, set(before.missing)) != (after.arch, set(after.missing)):
        found = f"{after.arch}, {sorted(after.missing)}"
        raise CaseError(
            [Problem(second, "missing", found, f"the same arch and missing teeth as {first}")], after.id
        )
    design = before.design
    if design is None:
        frameworks = recommender.recommend(before, 1).frameworks
        if not frameworks:
            raise CaseError(
                [Problem(first, "design", "none, and none can be proposed", "a design")], before.id
            )
        design = frameworks[0].design
    return resurvey(design, before, recommender.work(after))


def resurvey(design: Design, before: Case, after: CaseAnalysis) -> tuple[ToothResurvey, ...]:
    """A line for each tooth that the design uses, in arch order. ``after`` is the case with the new survey,
    analysed.
    """
    faults = faults_of_design(after, design)
    clasps = {retainer.tooth: retainer for retainer in design.retainers or ()}
    used = in_arch_order(before.arch, {*clasps, *(design.rests or {})})
    changes = _changes(before, after.case)
    return tuple(_tooth(number, clasps.get(number), design, faults, changes, after) for number in used)


def _tooth(
    number: int,
    clasp: DesignRetainer | None,
    design: Design,
    faults: Mapping[int, tuple[Statement, ...]],
    changes: Mapping[int, tuple[Statement, ...]],
    after: CaseAnalysis,
) -> ToothResurvey:
    option = str(clasp.assembly) if clasp is not None else "rest_only"
    to_do = [*faults.get(number, ()), *_blocks(number, option, after), *_undone(number, design, after.case)]
    to_do += _instead(number, option, after) if to_do else []
    changed = changes.get(number, ())
    standing: Standing = "falls" if to_do else "stands_changed" if changed else "stands"
    said = say(
        f"resurvey.{standing}", tooth=tooth(number), option=Choice("retainer", option),
        changed=several(changed, "comma"), to_do=several(to_do, "semicolon"),
    )  # fmt: skip
    return ToothResurvey(number, option, standing, changed, tuple(to_do), said)


def _blocks(number: int, option: str, after: CaseAnalysis) -> Iterator[Statement]:
    """What speaks against the part on the new cast: blocks that no preparation was planned for any more."""
    if number not in after.facts.standing:
        yield say("resurvey.gone")
        return
    if number in after.facts.considered:
        result = after.decide(Decision("retainer", number)).option(option)
        if result.status != "open":
            yield from (block.statement for block in result.blocked_by)


def _instead(number: int, option: str, after: CaseAnalysis) -> Iterator[Statement]:
    """What leads on this tooth now, where that is another part."""
    if number in after.facts.considered and number in after.facts.standing:
        lead = after.decide(Decision("retainer", number)).ranked[0]
        if lead.option != option and lead.status in USABLE:
            yield say("resurvey.leads", option=Choice("retainer", lead.option))


def _undone(number: int, design: Design, after: Case) -> Iterator[Statement]:
    """Seats and guiding planes that were asked for and are not recorded on the new cast."""
    survey = next((a for a in after.abutments or () if a.tooth == number), None)
    recorded = {
        "rest_seat": survey.rest_seats if survey else None,
        "guiding_plane": survey.guiding_planes if survey else None,
    }
    for step in design.preparation or ():
        there = recorded.get(str(step.action))
        if step.tooth == number and there is not None and step.surface not in there:
            yield say("resurvey.not_done", work=Work(number, step.surface or "", str(step.action)))


def _changes(before: Case, after: Case) -> dict[int, tuple[Statement, ...]]:
    """What was recorded otherwise, by tooth."""
    old = {a.tooth: _flat(a.model_dump(mode="json", exclude_none=True)) for a in before.abutments or ()}
    new = {a.tooth: _flat(a.model_dump(mode="json", exclude_none=True)) for a in after.abutments or ()}
    found = {}
    for number, now in new.items():
        was = old.get(number, {})
        found[number] = tuple(
            say(
                "resurvey.field", field=Field(f"abutments[{number}].{path}"),
                was=Name(_told(was.get(path))), now=Name(_told(now.get(path))),
            )
            for path in dict.fromkeys((*was, *now))
            if was.get(path) != now.get(path)
        )  # fmt: skip
    return {number: said for number, said in found.items() if said}


def _flat(record: Mapping[str, Any], head: str = "") -> dict[str, Any]:
    flat: dict[str, Any] = {}
    for key, value in record.items():
        if isinstance(value, dict) and set(value) != {"low", "value", "high"}:
            flat |= _flat(value, f"{head}{key}.")
        else:
            flat[f"{head}{key}"] = value
    return flat


def _told(value: object) -> str:
    if value is None:
        return "–"
    if isinstance(value, list):
        return ", ".join(map(str, value)) or "none"
    if isinstance(value, dict):
        return f"{value['value']:g} ({value['low']:g}–{value['high']:g})"
    return f"{value:g}" if isinstance(value, float) else str(value)
