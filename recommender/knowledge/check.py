"""Everything wrong with a rule set that can be seen without a case."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from recommender.domain.errors import Problem
from recommender.knowledge.atoms import node_text, walk
from recommender.knowledge.load import (
    assemble,
    draft_documents,
    packaged_setting,
    read_packaged_criteria,
    read_rules,
)
from recommender.knowledge.model import NO_SOURCE, Knowledge, Rule
from recommender.knowledge.packaged import document
from recommender.knowledge.reasoning import always_true, can_be_true, dead_parts, implies
from recommender.knowledge.rulefile import ancestry

Level = Literal["error", "warning", "information"]
LEVELS: tuple[Level, ...] = ("error", "warning", "information")
# Facts of an option are worked out for options of these decisions only.
_OWNERS = {
    "arm": ("retainer",),
    "space": ("replacement",),
    "connector": ("connector",),
    "rest": ("rest", "indirect_retainer"),
}

_MOVES = frozenset({"favours", "discourages", "blocks", "prepares"})


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing to mend or to know: of which rule, option, family or fact, and where it stands."""

    level: Level
    kind: str
    subject: str
    message: str
    place: str = ""


def check(knowledge: Knowledge) -> tuple[Finding, ...]:
    """All findings, errors first, then in the order of the files."""
    found = [
        *_conditions(knowledge),
        *_pairs(knowledge),
        *_stacks(knowledge),
        *_figures(knowledge),
        *_options(knowledge),
        *_families(knowledge),
        *_unread(knowledge),
    ]
    return tuple(sorted(found, key=lambda finding: LEVELS.index(finding.level)))


def check_folder(folder: Path | None = None) -> tuple[Finding, ...]:
    """Findings of a draft folder (or the packaged rules): what cannot be read first, then :func:`check`."""
    from recommender.domain.catalogue import load as load_catalogue
    from recommender.resources import shared

    problems: list[Problem] = []
    files = draft_documents(folder or shared("rules"), problems, "" if folder else "shared/rules")
    rules = read_rules(files, packaged_setting(), problems)
    criteria = read_packaged_criteria(document("criteria.yaml"))
    unreadable = tuple(_unreadable(problem) for problem in problems)
    return unreadable + check(assemble(rules, load_catalogue(), criteria))


def _unreadable(problem: Problem) -> Finding:
    hint = f" ({problem.hint})" if problem.hint else ""
    message = f"found {problem.found}; allowed {problem.allowed}{hint}"
    return Finding("error", "unreadable", problem.field, message, problem.at)


def _about(rule: Rule, level: Level, kind: str, message: str) -> Finding:
    return Finding(level, kind, rule.id, message, rule.place)


def _conditions(knowledge: Knowledge) -> Iterator[Finding]:
    registry = knowledge.registry
    for rule in knowledge.rules:
        if not can_be_true(rule.when.root, registry):
            yield _about(rule, "error", "unreachable", f"the condition can never be true: {rule.when.text}")
            continue
        for part in dead_parts(rule.when.root, registry):
            yield _about(rule, "warning", "dead_part", f"this part can never be true: {node_text(part)}")
        if rule.when.text != "always" and always_true(rule.when.root, registry):
            yield _about(rule, "warning", "no_condition", "the condition is always true; write always")
        for atom, _ in walk(rule.when.root):
            owners = _OWNERS.get(atom.fact.split(".")[0])
            if owners and rule.stage == "option" and rule.decision not in owners:
                message = f"{atom.fact} is known at the decision {' or '.join(owners)}, not {rule.decision}"
                yield _about(rule, "warning", "other_decision", message)
    for index, shift in enumerate(knowledge.criteria.shifts):
        if not can_be_true(shift.when.root, registry):
            message = f"the condition can never be true: {shift.when.text}"
            yield Finding("error", "unreachable", f"shifts[#{index + 1}]", message, "shared/criteria.yaml")


def _pairs(knowledge: Knowledge) -> Iterator[Finding]:
    """Rules that say the same thing twice, or opposite things, of the same options on the same condition."""
    groups: dict[tuple[str, str, str, str], list[Rule]] = {}
    for rule in knowledge.rules:
        groups.setdefault((rule.stage, rule.decision, rule.when.text, rule.criterion), []).append(rule)
    for alike in groups.values():
        for i, second in enumerate(alike):
            for first in alike[:i]:
                if not (not first.options or not second.options or set(first.options) & set(second.options)):
                    continue
                if first.effect == second.effect and _asks(first) == _asks(second):
                    same = set(first.options) == set(second.options) and first.effect not in _TEXTS
                    level: Level = "error" if same else "warning"
                    if first.effect in _TEXTS and first.why != second.why:
                        continue
                    yield _about(
                        second, level, "duplicate", f"says the same as {first.id} of the same options"
                    )
                elif {first.effect, second.effect} == {"favours", "discourages"}:
                    message = f"discourages and favours on the same condition as {first.id}"
                    yield _about(second, "error", "contradiction", message)


def _stacks(knowledge: Knowledge) -> Iterator[Finding]:
    """Rules whose points always come on top of another's: wanted in stair steps, else a reason counted twice."""
    moving = [rule for rule in knowledge.rules if rule.points]
    alike: dict[tuple[str, str, str], list[Rule]] = {}
    for rule in moving:
        alike.setdefault((rule.decision, rule.effect, rule.criterion), []).append(rule)
    for rules in alike.values():
        for first in rules:
            for second in rules:
                if first is second or first.when == second.when or not first.when.facts & second.when.facts:
                    continue
                if first.options and second.options and not set(first.options) & set(second.options):
                    continue
                if implies(first.when.root, second.when.root, knowledge.registry):
                    message = (
                        f"whenever it fires, {second.id} does too ({first.points:+g} and {second.points:+g})"
                    )
                    yield _about(first, "information", "stacks", message)


_TEXTS = ("step", "caution", "question")


def _asks(rule: Rule) -> tuple[object, ...]:
    """What sets two rules of one effect apart: the work they ask for, and how they block."""
    return rule.preparation, rule.unlocked_by, rule.block


def _figures(knowledge: Knowledge) -> Iterator[Finding]:
    base = knowledge.criteria.base
    guide = knowledge.figures.guide
    most, most_disputed = guide.most_points, guide.most_disputed_points
    for rule in knowledge.rules:
        size = abs(rule.points)
        if rule.disputed and rule.block in ("impossible", "safety"):
            yield _about(rule, "error", "disputed_block", f"a disputed rule blocks as {rule.block}")
        if rule.effect == "blocks" and rule.block is None:
            yield _about(rule, "error", "block_kind", "blocks, but says not how")
        if rule.disputed and size > most_disputed:
            yield _about(
                rule,
                "warning",
                "disputed_points",
                f"disputed, with {size:g} points; at most {most_disputed:g}",
            )
        elif size > most:
            yield _about(rule, "information", "points", f"{size:g} points; the guide goes to {most:g}")
        asked = {atom.fact for atom in rule.when.atoms if atom.kind == "recorded"}
        if rule.effect in _MOVES and asked - set(guide.may_ask_whether_recorded):
            # Deleting a record would then make an answer surer, not less sure.
            named = ", ".join(sorted(asked))
            message = f"moves a score by whether {named} was recorded; only questions, cautions and steps may"
            yield _about(rule, "error", "asks_whether_recorded", message)
        if rule.criterion and rule.criterion not in knowledge.criteria.labels:
            yield _about(rule, "error", "criterion", f"unknown criterion {rule.criterion}")
        elif rule.points and rule.decision in base and not base[rule.decision].get(rule.criterion):
            message = f"{rule.criterion} weighs nothing at the {rule.decision}, so nothing reads the points"
            yield _about(rule, "error", "no_weight", message)
        if rule.source != NO_SOURCE and len(rule.source) < guide.shortest_citation:
            yield _about(rule, "warning", "source", f"not a full citation: {rule.source}")
        if rule.source != NO_SOURCE and rule.found == "common_practice":
            yield _about(rule, "warning", "source", "found says common practice, yet a source is cited")
        habit = rule.source == NO_SOURCE and rule.block in ("impossible", "safety")
        if habit and any(atom.kind == "compare" and _numeric(atom.values) for atom in rule.when.atoms):
            message = f"a figure without a source blocks as {rule.block}; advised_against where habit decides"
            yield _about(rule, "information", "habit_blocks", message)


def _numeric(values: tuple[object, ...]) -> bool:
    return not isinstance(values[0], (str, bool))


def _options(knowledge: Knowledge) -> Iterator[Finding]:
    registry = knowledge.registry
    for decision, options in knowledge.catalogue.options.items():
        rules = [
            rule for rule in knowledge.by_decision.get(decision, ()) if rule.effect in ("favours", "blocks")
        ]
        # a rule for all options tells them apart only where it reads something of the option itself
        general = [rule for rule in rules if not rule.options]
        telling = any(
            name in registry and registry[name].scope == "option"
            for rule in general
            for name in rule.when.facts
        )
        for option in options.values():
            subject = f"{decision}/{option.id}"
            named = any(option.id in rule.options for rule in rules)
            if decision != "alloy" and not named and not telling:
                yield Finding("warning", "nothing_speaks", subject, "no rule favours or blocks this option")
            for criterion, start in option.starts.items():
                if criterion not in knowledge.criteria.labels:
                    yield Finding("error", "criterion", subject, f"unknown criterion {criterion}")
                if not 0 <= start <= 100:
                    yield Finding("error", "start", subject, f"starts at {start:g} on {criterion}; 0 to 100")
            lacking = [
                name for name in knowledge.criteria.base.get(decision, {}) if name not in option.starts
            ]
            if lacking:
                yield Finding("warning", "start", subject, f"no start on {', '.join(lacking)}")


def _families(knowledge: Knowledge) -> Iterator[Finding]:
    catalogue = knowledge.catalogue
    used: set[str] = set()
    for decision, options in catalogue.options.items():
        for option in options.values():
            used.update(ancestry(catalogue, option.families))
            for name in option.families:
                if name not in catalogue.families:
                    yield Finding("error", "family", f"{decision}/{option.id}", f"unknown family {name}")
    for family in catalogue.families.values():
        if family.id not in used:
            yield Finding("warning", "empty_family", family.id, "no option belongs to this family")
        if family.is_a and family.is_a not in catalogue.families:
            yield Finding("error", "family", family.id, f"is_a names the unknown family {family.is_a}")
        if not 0 <= family.share <= 1:
            yield Finding("error", "family", family.id, f"share is {family.share:g}; 0 to 1")


def _unread(knowledge: Knowledge) -> Iterator[Finding]:
    read = {name for rule in knowledge.rules for name in rule.when.facts}
    read |= {name for shift in knowledge.criteria.shifts for name in shift.when.facts}
    for spec in knowledge.registry:
        if spec.name not in read:
            yield Finding("information", "unread_fact", spec.name, "no rule reads this fact")
