"""Everything in ``shared/`` that says how to judge: rules, options, criteria, scoring figures."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from recommender.domain import limits, parsing
from recommender.domain.errors import CaseError, Problem, shown
from recommender.domain.options import Catalogue
from recommender.knowledge import packaged
from recommender.knowledge.conditions import ConditionError, parse
from recommender.knowledge.model import NO_SOURCE, Criteria, CriterionShift, Knowledge, Rule, ScoringFigures
from recommender.knowledge.registry import registry, visible_scopes
from recommender.knowledge.rulefile import At, RuleReader, Setting
from recommender.resources import shared


@dataclass(frozen=True, slots=True)
class RuleDocument:
    """A rule file as plain values, and how to tell where a path in it stands."""

    name: str
    value: Any
    at: At


def knowledge() -> Knowledge:
    """The packaged knowledge, or the rules adopted in the folder that ``RPD_CASEBOOK_RULES`` names, read once.

    ``CaseError`` tells everything that is wrong with the data.
    """
    folder = packaged.adopted_folder()
    if folder is None:
        return _knowledge()
    from recommender.knowledge import adopted

    return adopted.knowledge(folder)


def packaged_knowledge() -> Knowledge:
    """The packaged knowledge, whatever was adopted."""
    return _knowledge()


@cache
def _knowledge() -> Knowledge:
    from recommender.domain.catalogue import load as load_catalogue

    catalogue = load_catalogue()
    criteria = read_criteria(packaged.document("criteria.yaml"))
    # a compiled form is only ever written of rules that passed every check
    strict = packaged.compiled() is None
    setting = Setting(registry(), catalogue, criteria.labels, strict)
    names = [name for name in packaged.inputs() if name.startswith("rules/")]
    problems: list[Problem] = []
    rules = read_rules((_trusted(name) for name in names), setting, problems)
    if problems:  # read again by the parser that remembers lines, to say where
        rules = list(load_rules(shared("rules"), setting, "shared/rules"))
    return assemble(rules, catalogue, criteria)


def forget() -> None:
    """Drop the cached knowledge, so that changed files are read anew."""
    from recommender.knowledge import adopted

    packaged.forget()
    adopted.forget()
    registry.cache_clear()
    _knowledge.cache_clear()


def assemble(rules: Iterable[Rule], catalogue: Catalogue, criteria: Criteria) -> Knowledge:
    """Knowledge from its parts; ``by_decision`` keeps the order of the files."""
    listed = tuple(rules)
    by_decision: dict[str, list[Rule]] = {}
    for rule in listed:
        by_decision.setdefault(rule.decision, []).append(rule)
    grouped = {decision: tuple(found) for decision, found in by_decision.items()}
    scoring = read_scoring(packaged.document("scoring.yaml"))
    return Knowledge(listed, catalogue, criteria, scoring, registry(), grouped)


def packaged_setting() -> Setting:
    """What the rules of a draft folder are checked against: packaged facts, options and criteria."""
    from recommender.domain.catalogue import load as load_catalogue

    labels = read_criteria(packaged.document("criteria.yaml")).labels
    return Setting(registry(), load_catalogue(), labels)


def _trusted(name: str) -> RuleDocument:
    return RuleDocument(name, packaged.document(name), lambda path: f"shared/{name}")


def draft_documents(folder: Path, problems: list[Problem], shown_as: str = "") -> list[RuleDocument]:
    """The rule files of a folder (or one file), within the limits for files that people hand in.

    Messages name them under ``shown_as`` where it is given, else by their path.
    """
    if folder.is_file():
        paths = [folder]
    else:
        paths = sorted(path for path in folder.glob("*.y*ml") if path.suffix in (".yaml", ".yml"))
    if not paths:
        problems.append(Problem(str(folder), "", "no rule file", "a .yaml file, or a folder of them"))
    found: list[RuleDocument] = []
    for path in paths:
        name = f"{shown_as}/{path.name}" if shown_as else str(path)
        try:
            document = parsing.parse(limits.decode(limits.read_bytes(path), name), name)
        except CaseError as error:
            problems.extend(error.problems)
            continue
        problems.extend(document.problems)
        found.append(RuleDocument(name, document.value, _placed(document)))
    return found


def _placed(document: parsing.Document) -> Callable[[tuple[str | int, ...]], str]:
    return lambda path: document.at(path)


def read_rules(documents: Iterable[RuleDocument], setting: Setting, problems: list[Problem]) -> list[Rule]:
    """The usable rules of several files in order; everything wrong is added to ``problems``."""
    rules: dict[str, Rule] = {}
    for document in documents:
        value = document.value
        if not isinstance(value, dict) or not isinstance(value.get("rules"), list):
            problems.append(
                Problem(document.at(()), "rules", shown(value), "format: 1 and rules: a list of rules")
            )
            continue
        if value.get("format") != 1:
            problems.append(Problem(document.at(("format",)), "format", shown(value.get("format")), "1"))
        for index, entry in enumerate(value["rules"]):
            rule = RuleReader(entry, index, document.at, setting, problems).rule()
            if rule is None:
                continue
            if rule.id in rules:
                first = rules[rule.id].place
                at = document.at(("rules", index, "id"))
                problems.append(
                    Problem(at, f"rules[{rule.id}].id", rule.id, "an id used once", f"first at {first}")
                )
                continue
            rules[rule.id] = rule
    return list(rules.values())


def load_rules(folder: Path, setting: Setting | None = None, shown_as: str = "") -> tuple[Rule, ...]:
    """The rules of a folder or file; ``CaseError`` with every problem (place, rule, found, allowed)."""
    problems: list[Problem] = []
    rules = read_rules(draft_documents(folder, problems, shown_as), setting or packaged_setting(), problems)
    if problems:
        raise CaseError(problems, folder.name)
    return tuple(rules)


def read_criteria(document: Any) -> Criteria:
    """Criteria, base weights and shifts; ``CaseError`` for an unknown criterion, decision or condition."""
    labels = {entry["id"]: entry["label"] for entry in document["criteria"]}
    problems: list[Problem] = []

    def bad(field: str, found: str, allowed: str) -> None:
        problems.append(Problem("shared/criteria.yaml", field, found, allowed))

    for decision, weights in document["base"].items():
        for criterion, weight in weights.items():
            if criterion not in labels:
                bad(f"base.{decision}", criterion, " | ".join(labels))
            if not isinstance(weight, (int, float)) or weight < 0:
                bad(f"base.{decision}.{criterion}", shown(weight), "a weight of 0 or more")
    shifts: list[CriterionShift] = []
    for index, entry in enumerate(document.get("shifts") or ()):
        where = f"shifts[#{index + 1}]"
        if entry["criterion"] not in labels:
            bad(f"{where}.criterion", str(entry["criterion"]), " | ".join(labels))
        try:
            when = parse(entry["when"])
        except ConditionError as error:
            bad(f"{where}.when", str(error), "a condition as in shared/rules/README.md")
            continue
        for complaint in registry().complaints(when, visible_scopes("case", "case")):
            bad(f"{where}.when", complaint.message, " | ".join(complaint.allowed) or "facts of the case")
        source = entry.get("source") or NO_SOURCE
        shifts.append(CriterionShift(entry["criterion"], when, float(entry["add"]), entry["why"], source))
    if problems:
        raise CaseError(problems, "criteria.yaml")
    definitions = {entry["id"]: entry.get("definition", "") for entry in document["criteria"]}
    base = {decision: dict(weights) for decision, weights in document["base"].items()}
    return Criteria(labels, base, tuple(shifts), definitions)


def read_scoring(document: Any) -> ScoringFigures:
    """The figures of the blend; ``CaseError`` where one is out of range."""
    problems: list[Problem] = []

    def figure(key: str, low: float, high: float) -> float:
        value = document.get(key)
        if not isinstance(value, (int, float)) or not low <= value <= high:
            problems.append(
                Problem("shared/scoring.yaml", key, shown(value), f"a number from {low:g} to {high:g}")
            )
            return low
        return float(value)

    figures = (int(figure("neighbours", 1, 1000)), figure("lambda", 1e-9, 1e6), figure("kappa", 1e-9, 1e6))
    worth: dict[str, float] = {}
    for kind, value in document["outcome_values"].items():
        number = value["value"] if isinstance(value, dict) else value
        if not isinstance(number, (int, float)) or not -1 <= number <= 1:
            problems.append(
                Problem("shared/scoring.yaml", f"outcome_values.{kind}", shown(number), "from -1 to 1")
            )
        worth[kind] = float(number)
    near_tie = figure("near_tie", 0, 100) if "near_tie" in document else 0.0
    if problems:
        raise CaseError(problems, "scoring.yaml")
    speaks = {decision: tuple(kinds) for decision, kinds in (document.get("event_speaks_to") or {}).items()}
    return ScoringFigures(*figures, worth, near_tie, speaks)
