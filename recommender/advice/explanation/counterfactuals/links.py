"""Which fields of the case bear on one decision, through which facts, and at which limits.

A field bears on a decision when a fact that a rule, a shift of the weights or a feature of the precedents reads
rests on it, or waits for it.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from recommender.advice.model import Decision
from recommender.advice.scoring.views import scope_of
from recommender.domain.fields import split
from recommender.facts.values import Fact, Scope
from recommender.knowledge.atoms import Atom, walk
from recommender.knowledge.conditions import Condition

if TYPE_CHECKING:
    from recommender.advice.analysis import CaseAnalysis

_BARE_SITE = re.compile(r"\.(\d+)")
# A change of these is another dentition or another question, not another finding.
_NOT_CHANGED = ("kind", "set_teeth", "teeth", "tooth")
# What a block or a shift counts for when fields are put in order, in points of a criterion.
_DECIDES = 100.0


@dataclass(slots=True)
class Link:
    """How one field bears on the decision.

    ``limits`` are the numbers with which rules compare the field itself, and whether the limit itself belongs
    to what lies below it (``>`` and ``<=``). ``worked`` says that rules also read something worked out from it.
    ``pull`` is the most by which its rules together can move two options apart, in points of the score; a
    field that ``decides`` (a block, a weight, a feature of the precedents) can do more than that.
    """

    path: str
    limits: set[tuple[float, bool]] = field(default_factory=set)
    worked: bool = False
    pull: float = 0.0
    decides: bool = False
    rules: set[str] = field(default_factory=set)


def plain_path(path: str) -> str:
    """A path with every site in brackets: ``occlusion.contacts[15]``."""
    return _BARE_SITE.sub(r"[\1]", path)


def links_of(analysis: "CaseAnalysis", decision: Decision) -> dict[str, Link]:
    """Every field that bears on the decision, by path."""
    examination = analysis.examine(decision)
    shares = examination.weights.share
    links: dict[str, Link] = {}
    scopes = [judged.scope for ways in examination.judged.values() for judged in ways]
    by_option = {option: [judged.scope for judged in ways] for option, ways in examination.judged.items()}
    for rule in analysis.engine.rule_set(decision.kind).rules:
        pull = _DECIDES if rule.effect == "blocks" else shares.get(rule.criterion, 0.0) * abs(rule.points)
        if not pull:
            continue
        spoken = [scope for option, each in by_option.items() if rule.speaks_of(option) for scope in each]
        _read(links, rule.when, spoken, pull, rule.id, rule.effect == "blocks")
    for shift in analysis.engine.knowledge.criteria.shifts:
        if shift.criterion in shares:
            _read(links, shift.when, scopes[:1], abs(shift.add) / 10, f"weight of {shift.criterion}", True)
    _features(analysis, decision, examination.evidence.weight, links)
    return {path: link for path, link in links.items() if _changeable(path)}


def _changeable(path: str) -> bool:
    try:
        steps = split(path)
    except ValueError:
        return False
    return path not in ("missing", "absent", "prescription", "design") and steps[-1] not in _NOT_CHANGED


def _read(
    links: dict[str, Link], condition: Condition, scopes: list[Scope], pull: float, name: str, decides: bool
) -> None:
    seen: set[str] = set()
    for atom, scope in _looked_up(condition, scopes):
        for fact_name in atom.facts:
            fact = scope.fact(fact_name)
            for path in (*fact.fields, *fact.gaps):
                link = links.setdefault(plain_path(path), Link(plain_path(path)))
                if path not in seen:
                    seen.add(path)
                    link.pull += pull
                    link.rules.add(name)
                    link.decides = link.decides or decides
                _limits(link, atom, fact_name, fact)


def _looked_up(condition: Condition, scopes: list[Scope]) -> Iterator[tuple[Atom, Scope]]:
    for atom, group in walk(condition.root):
        if atom.inner is not None:
            continue
        if not group:
            yield from ((atom, scope) for scope in scopes)
        elif scopes:
            yield from ((atom, member) for member in scopes[0].groups.get(group, ()))


def _limits(link: Link, atom: Atom, name: str, fact: Fact) -> None:
    numbers = [float(v) for v in atom.values if isinstance(v, (int, float)) and not isinstance(v, bool)]
    itself = len(fact.fields) + len(fact.gaps) == 1
    if not itself or atom.kind == "against":
        link.worked = True
    if numbers and (fact.unit == "mm" or (itself and (fact.unit or name.count(".") == 1))):
        link.limits.update((number, atom.op in (">", "<=")) for number in numbers)
        if atom.op in ("==", "!=", "in", "not in"):
            link.limits.update((number, True) for number in numbers)


def _features(analysis: "CaseAnalysis", decision: Decision, weight: float, links: dict[str, Link]) -> None:
    """Features of the precedents: they move a score by their share of the likeness at most."""
    library = analysis.engine.library
    if library is None or not weight:
        return
    features = library.likeness.kinds[decision.kind]
    scope = scope_of(analysis.facts, decision)
    total = sum(item.weight for item in features.weighted) or 1.0
    for item in features.weighted:
        fact = scope.fact(item.feature.fact)
        for path in (*fact.fields, *fact.gaps):
            link = links.setdefault(plain_path(path), Link(plain_path(path)))
            link.pull += weight * 50.0 * item.weight / total
            link.rules.add("precedents")
            link.decides = True
