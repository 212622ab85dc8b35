"""Which rules speak of an option in which worlds, and the status that they give it.

Only rules that what is recorded leaves undecided are looked at again, and those that a record may turn.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from recommender.advice.analysis import CaseAnalysis
from recommender.advice.confidence.columns import NONE, WorldScope
from recommender.advice.confidence.option_columns import OptionColumns
from recommender.advice.confidence.ranked import ADVISED_AGAINST, EXCLUDED, PREPARED, Flags
from recommender.advice.confidence.truths import truths
from recommender.advice.confidence.world_fields import ALWAYS, CaseColumns
from recommender.advice.decision import DecisionAnalysis
from recommender.advice.model import STATUS_ORDER, Decision
from recommender.advice.preparations import permitted
from recommender.advice.scoring.judge import Judged
from recommender.advice.scoring.views import View, main_side
from recommender.facts.values import Fact
from recommender.knowledge.evidence import RuleSet
from recommender.knowledge.model import Rule

_STATUS = {"impossible": EXCLUDED, "safety": EXCLUDED, "advised_against": ADVISED_AGAINST}
_SPEAKS = frozenset({"favours", "discourages", "blocks", "prepares"})


@dataclass(frozen=True, slots=True)
class Way:
    """One option from one approach: the rules that speak in every world, and those that speak in some; ``blocks`` are
    those of both that block it."""

    judged: Judged
    fixed: tuple[Rule, ...]
    waiting: tuple[tuple[Rule, npt.NDArray[np.int8]], ...]
    blocks: "tuple[Blocking, ...]"
    fields: frozenset[str]


Blocking = tuple[Rule, npt.NDArray[np.int8] | None]
WayStatus = tuple[Way, npt.NDArray[np.int8], frozenset[str]]


class WorldRules:
    """The rules about one case in every world."""

    def __init__(self, analysis: CaseAnalysis, columns: CaseColumns, count: int) -> None:
        self.analysis = analysis
        self.columns = columns
        self.count = count
        self.option_columns = OptionColumns(columns)
        self._ways: dict[tuple[Decision, str | None, str], list[Way]] = {}
        self._refused: dict[tuple[int, str], tuple[Flags | bool, frozenset[str]]] = {}
        self._again: dict[tuple[str, str], dict[str, Rule]] = {}
        self._known_status: dict[tuple[Decision, str | None, str], list[WayStatus]] = {}
        self._open = np.zeros(count, dtype=np.int8)
        self._open.setflags(write=False)

    def scope(self, decision: Decision, side: str | None) -> WorldScope:
        """The scope of a decision seen from a side."""
        if decision.kind == "connector":
            return self.columns.case_scope
        if decision.kind == "replacement":
            return self.columns.space(decision.tooth)
        return self.columns.toward(decision.tooth, side or "mesial")

    def main_scope(self, decision: Decision) -> WorldScope:
        """The scope of a decision seen from its main side."""
        return self.scope(decision, main_side(self.analysis.facts, decision))

    def _ways_of(self, examined: DecisionAnalysis, identifier: str) -> list[Way]:
        """An option from each of its approaches."""
        key = (examined.decision, examined.given, identifier)
        found = self._ways.get(key)
        if found is None:
            found = self._ways[key] = [
                self._way(examined, view, judged)
                for view in examined.views
                if identifier in view.layers
                for judged in examined.judged[identifier]
                if judged.approach == view.approach
            ]
        return found

    def _way(self, examined: DecisionAnalysis, view: View, judged: Judged) -> Way:
        base = self.scope(examined.decision, view.approach)
        option = judged.option
        layer = view.layers[option.id]
        scope = base.extended(self.option_columns.layer(examined.decision, view.approach, option, layer))
        again = self._again_for(examined, option.id)
        fixed = [rule for rule in judged.fired if rule.id not in again]
        blocks: list[Blocking] = (
            [(rule, None) for rule in fixed if rule.effect == "blocks"] if judged.blocks else []
        )
        waiting: list[tuple[Rule, npt.NDArray[np.int8]]] = []
        fields: frozenset[str] = NONE
        asked = [rule for rule in judged.undecided if rule.id not in again]
        for rule in (*asked, *again.values()):
            if rule.effect not in _SPEAKS:
                continue
            held = truths(rule.when.root, scope)
            if isinstance(held.levels, int):
                if held.levels == 2:
                    fixed.append(rule)
                    if rule.effect == "blocks":
                        blocks.append((rule, None))
            else:
                waiting.append((rule, held.levels))
                fields |= held.fields
                if rule.effect == "blocks":
                    blocks.append((rule, held.levels))
        return Way(judged, tuple(fixed), tuple(waiting), tuple(blocks), fields)

    def _again_for(self, examined: DecisionAnalysis, identifier: str) -> Mapping[str, Rule]:
        """The rules about an option whose answer a record may turn although it looks settled."""
        key = (examined.decision.kind, identifier)
        found = self._again.get(key)
        if found is None:
            every = _restless(examined.engine.rule_set(examined.decision.kind))
            found = self._again[key] = {rule.id: rule for rule in every if rule.speaks_of(identifier)}
        return found

    def _forbidden(self, tooth: int, action: str) -> tuple[Flags | bool, frozenset[str]]:
        """Where the dentist will not prepare a tooth in this way."""
        key = (tooth, action)
        if key not in self._refused:
            layer = self.columns.tooth_layer(tooth)
            willing, listed = layer.column("abutment.preparable"), layer.column("abutment.permitted")
            answers = np.array([[_refuses(a, b, action) for b in listed.forms] for a in willing.forms])
            if willing.codes is None and listed.codes is None:
                self._refused[key] = bool(answers[0, 0]), NONE
            else:
                rows = 0 if willing.codes is None else willing.codes
                lines = 0 if listed.codes is None else listed.codes
                self._refused[key] = answers[rows, lines], willing.fields | listed.fields
        return self._refused[key]

    def _status(
        self, decision: Decision, way: Way, facts: bool
    ) -> tuple[npt.NDArray[np.int8], frozenset[str]]:
        """Status of an option from one approach, in each world."""
        if not (way.blocks if facts else way.judged.blocks):
            return self._open, NONE
        status = np.zeros(self.count, dtype=np.int8)
        fields: frozenset[str] = NONE
        recorded = (
            () if facts else tuple((rule, None) for rule in way.judged.fired if rule.effect == "blocks")
        )
        for rule, levels in way.blocks if facts else recorded:
            if rule.block is None:
                continue
            worst = _STATUS[rule.block]
            height: npt.NDArray[np.int8] | int = worst
            if rule.unlocked_by:
                refused: Flags | bool = False
                if decision.tooth in self.analysis.facts.considered and decision.kind in ("retainer", "rest"):
                    for step in rule.unlocked_by:
                        if facts:
                            one, behind = self._forbidden(decision.tooth, step.action)
                            fields |= behind
                        else:
                            abutment = self.analysis.facts.surveyed.get(decision.tooth)
                            one = permitted(abutment, step.action) is False
                        refused = refused | one
                height = np.where(refused, worst, PREPARED).astype(np.int8)
            if levels is not None:
                height = np.where(levels == 2, height, 0).astype(np.int8)
            np.maximum(status, height, out=status)
        return status, fields

    def statuses(self, examined: DecisionAnalysis, identifier: str, facts: bool) -> list[WayStatus]:
        """Each approach of an option with its status in every world, and the drawn fields behind it."""
        if not facts:
            return [
                (way, self._status(examined.decision, way, False)[0], NONE)
                for way in self._ways_of(examined, identifier)
            ]
        key = (examined.decision, examined.given, identifier)
        found = self._known_status.get(key)
        if found is None:
            found = self._known_status[key] = []
            for way in self._ways_of(examined, identifier):
                status, behind = self._status(examined.decision, way, True)
                found.append((way, status, behind | way.fields))
        return found

    def floor(self, examined: DecisionAnalysis, identifier: str, facts: bool) -> int:
        """The best status that an option can have in any world."""
        if facts and any(rule.effect == "blocks" for rule in self._again_for(examined, identifier).values()):
            return 0
        return min(STATUS_ORDER.index(way.status) for way in examined.judged[identifier])


@lru_cache(maxsize=32)
def _restless(rules: RuleSet) -> list[Rule]:
    """Rules whose answer a record may turn although it looks settled: those that ask whether something is recorded,
    and those that read a fact which more records may move."""
    return [
        rule
        for rule in rules.rules
        if not rule.when.facts.isdisjoint(ALWAYS) or any(atom.kind == "recorded" for atom in rule.when.atoms)
    ]


def _refuses(willing: Fact, listed: Fact, action: str) -> bool:
    """As ``preparations.permitted``, of facts: whether it says no."""
    if willing.value is False:
        return True
    return isinstance(listed.value, frozenset) and action not in listed.value
