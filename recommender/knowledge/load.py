"""Everything in ``shared/`` that says how to judge: rules, options, criteria, scoring figures."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from recommender.domain import limits, parsing
from recommender.domain.errors import CaseError, Problem, shown
from recommender.domain.options import Catalogue
from recommender.domain.validation import At
from recommender.facts.figures import ModelFigures
from recommender.knowledge import packaged
from recommender.knowledge.criteria import read_criteria
from recommender.knowledge.figures.files import Figures, read_figures
from recommender.knowledge.figures.scoring import Scoring
from recommender.knowledge.model import Criteria, Knowledge, Rule, ScoringFigures
from recommender.knowledge.registry import registry
from recommender.knowledge.rulefile import Setting, read_rule
from recommender.resources import shared


@dataclass(frozen=True, slots=True)
class RuleDocument:
    """A rule file as plain values, and how to tell where a path in it stands."""

    name: str
    value: Any
    at: At


def packaged_knowledge() -> Knowledge:
    """The packaged knowledge, whatever was adopted."""
    return _knowledge()


@cache
def _knowledge() -> Knowledge:
    from recommender.domain.catalogue import load as load_catalogue

    catalogue = load_catalogue()
    criteria = read_packaged_criteria(packaged.document("criteria.yaml"))
    # a compiled form is only ever written of rules that passed every check
    strict = packaged.compiled() is None
    setting = Setting(registry(), catalogue, criteria.labels, strict)
    names = [name for name in packaged.inputs() if name.startswith("rules/")]
    problems: list[Problem] = []
    rules = read_rules((_trusted(name) for name in names), setting, problems)
    if problems:  # read again by the parser that remembers lines, to say where
        rules = list(load_rules(shared("rules"), setting, "shared/rules"))
    return assemble(rules, catalogue, criteria)


def assemble(
    rules: Iterable[Rule],
    catalogue: Catalogue,
    criteria: Criteria,
    figures: Figures | None = None,
    models: ModelFigures | None = None,
) -> Knowledge:
    """Knowledge from its parts; ``by_decision`` keeps the order of the files, ``figures`` are the packaged ones
    unless others are given."""
    listed = tuple(rules)
    by_decision: dict[str, list[Rule]] = {}
    for rule in listed:
        by_decision.setdefault(rule.decision, []).append(rule)
    grouped = {decision: tuple(found) for decision, found in by_decision.items()}
    known = packaged_figures() if figures is None else figures
    scoring = scoring_figures(known.scoring)
    return Knowledge(listed, catalogue, criteria, scoring, registry(), known, grouped, models)


def packaged_setting() -> Setting:
    """What the rules of a draft folder are checked against: packaged facts, options and criteria."""
    from recommender.domain.catalogue import load as load_catalogue

    labels = read_packaged_criteria(packaged.document("criteria.yaml")).labels
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
            rule = read_rule(entry, index, document.at, setting, problems)
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


def read_packaged_criteria(document: Any) -> Criteria:
    """Criteria of the packaged file; ``CaseError`` with everything that is wrong."""
    problems: list[Problem] = []
    decisions = frozenset(document["base"]) if isinstance(document.get("base"), dict) else frozenset()
    place = "shared/criteria.yaml"
    found = read_criteria(document, lambda path: place, registry(), decisions, problems)
    if found is None:
        raise CaseError(problems, "criteria.yaml")
    return found


def scoring_figures(file: Scoring) -> ScoringFigures:
    """The figures of the blend from their file."""
    speaks: dict[str, tuple[str, ...]] = {
        decision: tuple(kinds) for decision, kinds in file.event_speaks_to.items()
    }
    figures = (file.neighbours, file.lambda_, file.kappa, file.outcome_values, file.near_tie)
    return ScoringFigures(*figures, speaks)


@cache
def packaged_figures() -> Figures:
    """Every packaged file of figures, read once; ``CaseError`` tells everything that is wrong, with its place."""
    found = read_figures(lambda name: (packaged.document(name), lambda path: f"shared/{name}"), [])
    if found is not None:
        return found
    problems: list[Problem] = []  # read again by the parser that remembers lines, to say where
    read_figures(_placed_file, problems)
    raise CaseError(problems, "shared")


def _placed_file(name: str) -> tuple[Any, At]:
    return figures_file(shared(*name.split("/")), f"shared/{name}")


def figures_file(path: Path, name: str) -> tuple[Any, At]:
    """A file of figures with the places of its values, within the limits for files that people hand in."""
    document = parsing.parse(limits.decode(limits.read_bytes(path), name), name)
    if document.problems:
        raise CaseError(document.problems, name)
    return document.value, _placed(document)


def forget_packaged() -> None:
    """Drop the cached packaged knowledge."""
    registry.cache_clear()
    packaged_figures.cache_clear()
    _knowledge.cache_clear()
