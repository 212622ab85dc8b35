"""One rule from its YAML entry: every key checked, every problem told with file, rule and place."""

import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from difflib import get_close_matches
from typing import Any, get_args

from recommender.domain import vocabulary as v
from recommender.domain.errors import Problem, shown
from recommender.domain.options import Catalogue
from recommender.knowledge.conditions import Condition, ConditionError, parse
from recommender.knowledge.model import (
    NO_SOURCE,
    BlockKind,
    DecisionKind,
    Effect,
    PreparationTemplate,
    Rule,
    Stage,
)
from recommender.knowledge.registry import Registry, visible_scopes

At = Callable[[tuple[str | int, ...]], str]
SURFACES = (
    "near", "far", "near_facial", "mid_facial", "far_facial", "near_lingual", "mid_lingual", "far_lingual",
    "near_proximal", "far_proximal", "facial", "lingual", "tip", "near_occlusal", "far_occlusal", "cingulum",
    "incisal", "crown", "tip",
)  # fmt: skip
_STAGES: tuple[str, ...] = get_args(Stage)
_DECISIONS: tuple[str, ...] = get_args(DecisionKind)
_EFFECTS: tuple[str, ...] = get_args(Effect)
_BLOCKS: tuple[str, ...] = get_args(BlockKind)
_ACTIONS: tuple[str, ...] = get_args(v.PreparationAction)
_FOUND = ("page", "memory", "common_practice")
_SCORED = {"favours": 1, "discourages": -1, "prepares": -1}
_KEYS = (
    "id", "stage", "decision", "options", "when", "effect", "block", "unlocked_by", "preparation",
    "criterion", "points", "why", "source", "found", "disputed", "note",
)  # fmt: skip
_ID = re.compile(r"[a-z][a-z0-9_]{2,79}\Z")
_OWN_STAGE = {"case": "case", "framework": "framework"}


@dataclass(slots=True)
class Setting:
    """What rules are checked against. ``strict`` false skips the check of conditions against the registry."""

    registry: Registry
    catalogue: Catalogue
    criteria: Mapping[str, str]
    strict: bool = True
    members: dict[tuple[str, str], tuple[str, ...]] = field(default_factory=dict)

    def options(self, decision: str) -> Mapping[str, object]:
        """Identifiers that a rule of this decision may name; a framework rule may name any."""
        if decision in self.catalogue.options:
            return self.catalogue.options[decision]
        return {name: option for known in self.catalogue.options.values() for name, option in known.items()}

    def family(self, decision: str, name: str) -> tuple[str, ...]:
        """Identifiers of a family's members, those of the families under it included, in catalogue order."""
        key = (decision, name)
        if key not in self.members:
            self.members[key] = tuple(
                identifier
                for identifier, option in self.catalogue.options.get(decision, {}).items()
                if name in ancestry(self.catalogue, option.families)
            )
        return self.members[key]


def ancestry(catalogue: Catalogue, names: Iterable[str]) -> tuple[str, ...]:
    """The families named and every family above them, nearest first."""
    found: dict[str, None] = {}
    waiting = list(names)
    while waiting:
        name = waiting.pop(0)
        if name not in found:
            found[name] = None
            family = catalogue.families.get(name)
            if family is not None and family.is_a:
                waiting.append(family.is_a)
    return tuple(found)


class RuleReader:
    """Reads the entry of one rule; ``problems`` grows with everything that is wrong."""

    def __init__(self, entry: Any, index: int, at: At, setting: Setting, problems: list[Problem]) -> None:
        self.entry: Mapping[str, Any] = entry if isinstance(entry, dict) else {}
        self.index = index
        self.at = at
        self.setting = setting
        self.problems = problems
        own = self.entry.get("id")
        self.name = own if isinstance(own, str) and own else f"#{index + 1}"
        if not isinstance(entry, dict):
            self.bad("", shown(entry), "a rule: a mapping with id, decision, when, effect, why, source")

    def bad(self, key: str, found: str, allowed: str, hint: str = "") -> None:
        path: tuple[str | int, ...] = ("rules", self.index, key) if key else ("rules", self.index)
        where = f"rules[{self.name}]" + (f".{key}" if key else "")
        self.problems.append(Problem(self.at(path), where, found, allowed, hint))

    def one_of(self, key: str, allowed: tuple[str, ...], default: str = "") -> str:
        value = self.entry.get(key, default or None)
        if isinstance(value, str) and value in allowed:
            return value
        close = get_close_matches(str(value), allowed, n=1)
        self.bad(key, shown(value), " | ".join(allowed), f"did you mean {close[0]}?" if close else "")
        return allowed[0]

    def text(self, key: str, required: bool = True) -> str:
        value = self.entry.get(key)
        if isinstance(value, str) and value.strip():
            return " ".join(value.split())
        if required or value is not None:
            self.bad(key, shown(value), "a sentence")
        return ""

    def rule(self) -> Rule | None:
        """The rule, or ``None`` if it cannot be used; then ``problems`` says why."""
        before = len(self.problems)
        if not self.entry:
            return None
        for key in self.entry:
            if key not in _KEYS:
                close = get_close_matches(str(key), _KEYS, n=1)
                self.bad(
                    str(key), "an unknown key", ", ".join(_KEYS), f"did you mean {close[0]}?" if close else ""
                )
        identifier = self.entry.get("id")
        if not isinstance(identifier, str) or not _ID.match(identifier):
            self.bad("id", shown(identifier), "3 to 80 small letters, digits and _, beginning with a letter")
        decision = self.one_of("decision", _DECISIONS)
        stage = self.one_of("stage", _STAGES, _OWN_STAGE.get(decision, "option"))
        effect = self.one_of("effect", _EFFECTS)
        families, options = self._options(decision)
        disputed = self.text("disputed", required=False) or None
        block = self._block(effect, disputed)
        when = self._condition(stage, decision)
        found = Rule(
            id=str(identifier),
            stage=stage,  # type: ignore[arg-type]
            decision=decision,  # type: ignore[arg-type]
            options=options,
            when=when or parse("not always"),
            effect=effect,  # type: ignore[arg-type]
            criterion=self._criterion(effect),
            points=self._points(effect),
            why=self.text("why"),
            source=self._source(),
            found=self.one_of("found", _FOUND),
            block=block,  # type: ignore[arg-type]
            unlocked_by=self._unlocked_by(effect),
            disputed=disputed,
            place=self.at(("rules", self.index)),
            families=families,
            preparation=self._preparation(effect),
        )
        return found if len(self.problems) == before else None

    def _options(self, decision: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
        named = self.entry.get("options")
        if named is None:
            return (), ()
        if not isinstance(named, list) or not named or not all(isinstance(each, str) for each in named):
            self.bad("options", shown(named), "a list of identifiers or family:NAME; left out = every option")
            return (), ()
        known = self.setting.options(decision)
        families: list[str] = []
        options: dict[str, None] = {}
        for name in named:
            if name.startswith("family:"):
                family = name.removeprefix("family:")
                members = self.setting.family(decision, family)
                if not members:
                    self._unknown(name, [f"family:{each}" for each in self._families(decision)], "family")
                families.append(family)
                options |= dict.fromkeys(members)
            elif name in known:
                options[name] = None
            else:
                self._unknown(name, list(known), f"{decision} option")
        return tuple(families), tuple(options)

    def _families(self, decision: str) -> Iterator[str]:
        return (
            name for name, family in self.setting.catalogue.families.items() if family.decision == decision
        )

    def _unknown(self, name: str, known: list[str], what: str) -> None:
        close = get_close_matches(name, known, n=1)
        hint = f"did you mean {close[0]}?" if close else f"{len(known)} are known"
        self.bad("options", name, f"a known {what} (with members)", hint)

    def _condition(self, stage: str, decision: str) -> Condition | None:
        text = self.entry.get("when")
        if not isinstance(text, str):
            word = {True: "write it as fact == true", None: "write always for a rule without a condition"}
            self.bad(
                "when", shown(text), "a condition as text", word.get(text, "") if text in (True, None) else ""
            )
            return None
        try:
            condition = parse(text)
        except ConditionError as error:
            self.bad(
                "when",
                f"{error.message}, at column {error.column}",
                "a condition as in shared/rules/README.md",
            )
            return None
        if self.setting.strict:
            for complaint in self.setting.registry.complaints(condition, visible_scopes(stage, decision)):
                column = condition.written.find(complaint.word) + 1
                unknown = complaint.message.startswith("unknown fact")
                hint = f"did you mean {complaint.allowed[0]}?" if unknown and complaint.allowed else ""
                allowed = " | ".join(complaint.allowed) if complaint.allowed and not unknown else "see facts"
                self.bad("when", f"{complaint.message}, at column {column}", allowed, hint)
        return condition

    def _block(self, effect: str, disputed: str | None) -> str | None:
        if effect != "blocks":
            if "block" in self.entry:
                self.bad("block", shown(self.entry["block"]), "left out, unless the effect is blocks")
            return None
        block = self.one_of("block", _BLOCKS)
        if disputed and block in ("impossible", "safety"):
            self.bad("block", block, "advised_against: a disputed rule never blocks as impossible or safety")
        return block

    def _criterion(self, effect: str) -> str:
        value = self.entry.get("criterion")
        if value is None and effect not in _SCORED:
            return ""
        return self.one_of("criterion", tuple(self.setting.criteria))

    def _points(self, effect: str) -> float:
        value = self.entry.get("points")
        sign = _SCORED.get(effect)
        if sign is None:
            if value not in (None, 0):
                self.bad("points", shown(value), f"left out: {effect} moves no score")
            return 0.0
        number = isinstance(value, (int, float)) and not isinstance(value, bool)
        if not number or not 0 < sign * value <= 50:  # type: ignore[operator]
            allowed = "more than 0, at most 50" if sign > 0 else "less than 0, at least -50"
            self.bad("points", shown(value), f"a number {allowed}, for {effect}")
            return float(sign)
        return float(value)  # type: ignore[arg-type]

    def _source(self) -> str:
        source = self.text("source")
        found = self.entry.get("found")
        if source == NO_SOURCE and found != "common_practice":
            self.bad("found", shown(found), f'common_practice where the source is "{NO_SOURCE}"')
        return source

    def _template(self, key: str, entry: Any) -> PreparationTemplate | None:
        action = entry.get("action") if isinstance(entry, dict) else None
        surface = entry.get("surface") if isinstance(entry, dict) else None
        if action not in _ACTIONS:
            self.bad(
                key, shown(action if isinstance(entry, dict) else entry), "action: " + " | ".join(_ACTIONS)
            )
            return None
        if surface not in SURFACES:
            self.bad(key, shown(surface), "surface: " + " | ".join(SURFACES))
            return None
        return PreparationTemplate(action, surface)

    def _unlocked_by(self, effect: str) -> tuple[PreparationTemplate, ...]:
        listed = self.entry.get("unlocked_by")
        if listed is None:
            return ()
        if effect != "blocks":
            self.bad("unlocked_by", shown(listed), "left out, unless the effect is blocks")
        entries = listed if isinstance(listed, list) else [listed]
        found = [self._template("unlocked_by", entry) for entry in entries]
        return tuple(template for template in found if template is not None)

    def _preparation(self, effect: str) -> PreparationTemplate | None:
        entry = self.entry.get("preparation")
        if effect != "prepares":
            if entry is not None:
                self.bad("preparation", shown(entry), "left out, unless the effect is prepares")
            return None
        return self._template("preparation", entry)
