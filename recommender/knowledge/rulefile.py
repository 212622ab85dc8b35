"""One rule from its YAML entry: its shape by a model, then what its keys say of each other and of the catalogue."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from difflib import get_close_matches
from typing import Annotated, Any, Literal

from pydantic import Field

from recommender.domain import vocabulary as v
from recommender.domain.errors import Problem, shown
from recommender.domain.measures import Record
from recommender.domain.options import Catalogue
from recommender.domain.validation import At, Issue, as_problems, read_model
from recommender.knowledge.conditions import ConditionError, parse
from recommender.knowledge.model import (
    NO_SOURCE,
    BlockKind,
    DecisionKind,
    Effect,
    PreparationTemplate,
    Rule,
    Stage,
)
from recommender.knowledge.registry import VISIBLE, Registry, visible_scopes

Surface = Literal[
    "near", "far", "near_facial", "mid_facial", "far_facial", "near_lingual", "mid_lingual", "far_lingual",
    "near_proximal", "far_proximal", "facial", "lingual", "near_occlusal", "far_occlusal", "cingulum", "incisal",
    "crown", "tip",
]  # fmt: skip
Sentence = Annotated[str, Field(max_length=5000, pattern=r"\S", description="a sentence")]
_SCORED = {"favours": 1, "discourages": -1, "prepares": -1}
_OWN_STAGE: Mapping[str, Stage] = {"case": "case", "framework": "framework"}
_ID_WORDS = "3 to 80 small letters, digits and _, beginning with a letter"
_POINTS = (
    "a number more than 0, at most 50, for favours; less than 0, at least -50, for discourages and prepares"
)
_NAMED_OPTIONS = "a list of identifiers or family:NAME; left out = every option"


class PreparationEntry(Record):
    action: v.PreparationAction
    surface: Surface


class RuleEntry(Record):
    """A rule as it is written; see ``shared/rules/README.md``."""

    id: Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]{2,79}$", description=_ID_WORDS)]
    decision: DecisionKind
    stage: Stage | None = None
    options: Annotated[list[str], Field(min_length=1, description=_NAMED_OPTIONS)] | None = None
    when: Annotated[str, Field(description="a condition as text")]
    effect: Effect
    block: BlockKind | None = None
    unlocked_by: list[PreparationEntry] | PreparationEntry | None = None
    preparation: PreparationEntry | None = None
    criterion: str | None = None
    points: Annotated[float, Field(ge=-50, le=50, allow_inf_nan=False, description=_POINTS)] | None = None
    why: Sentence
    source: Sentence
    found: Literal["page", "memory", "common_practice"]
    disputed: Sentence | None = None
    note: str | None = None


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


def read_rule(entry: Any, index: int, at: At, setting: Setting, problems: list[Problem]) -> Rule | None:
    """The rule of one entry, or ``None``; everything wrong is added to ``problems``."""
    within = ("rules", index)
    told: list[Problem] = []
    read = read_model(RuleEntry, entry, at, told, within)
    if read is not None:
        told += as_problems(list(_issues(read, setting)), entry, at, within)
    elif isinstance(entry, dict) and isinstance(entry.get("when"), str):
        # what is wrong with the condition is reported along with what is wrong with the shape of the rule
        found = _condition_issues(entry["when"], str(entry.get("stage")), str(entry.get("decision")), setting)
        told += as_problems(list(found), entry, at, within)
    own = entry.get("id") if isinstance(entry, dict) else None
    name = f"rules[{own if isinstance(own, str) and own else f'#{index + 1}'}]"
    for problem in told:
        field_name = f"{name}.{problem.field}" if problem.field else name
        problems.append(Problem(problem.at, field_name, problem.found, problem.allowed, problem.hint))
    return None if told or read is None else _rule(read, setting, at(within))


def _rule(entry: RuleEntry, setting: Setting, place: str) -> Rule:
    families, options = _named(entry, setting)
    unlocked = entry.unlocked_by or []
    templates = unlocked if isinstance(unlocked, list) else [unlocked]
    return Rule(
        id=entry.id,
        stage=entry.stage or _OWN_STAGE.get(entry.decision, "option"),
        decision=entry.decision,
        options=options,
        when=parse(entry.when),
        effect=entry.effect,
        criterion=entry.criterion or "",
        points=entry.points or 0.0,
        why=_line(entry.why),
        source=_line(entry.source),
        found=entry.found,
        block=entry.block,
        unlocked_by=tuple(PreparationTemplate(each.action, each.surface) for each in templates),
        disputed=_line(entry.disputed) if entry.disputed else None,
        place=place,
        families=families,
        preparation=PreparationTemplate(entry.preparation.action, entry.preparation.surface)
        if entry.preparation
        else None,
    )


def _line(text: str) -> str:
    return " ".join(text.split())


def _named(entry: RuleEntry, setting: Setting) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The families that a rule names, and every option that it speaks of."""
    families: list[str] = []
    options: dict[str, None] = {}
    for name in entry.options or ():
        if name.startswith("family:"):
            families.append(name.removeprefix("family:"))
            options |= dict.fromkeys(setting.family(entry.decision, families[-1]))
        else:
            options[name] = None
    return tuple(families), tuple(options)


def _issues(entry: RuleEntry, setting: Setting) -> Iterator[Issue]:
    yield from _option_issues(entry, setting)
    stage = entry.stage or _OWN_STAGE.get(entry.decision, "option")
    yield from _condition_issues(entry.when, stage, entry.decision, setting)
    yield from _effect_issues(entry)
    if entry.criterion is None and entry.effect in _SCORED:
        yield Issue(("criterion",), " | ".join(setting.criteria), found="nothing")
    elif entry.criterion is not None and entry.criterion not in setting.criteria:
        close = get_close_matches(entry.criterion, setting.criteria, n=1)
        yield Issue(
            ("criterion",), " | ".join(setting.criteria), f"did you mean {close[0]}?" if close else ""
        )
    if _line(entry.source) == NO_SOURCE and entry.found != "common_practice":
        yield Issue(("found",), f'common_practice where the source is "{NO_SOURCE}"')


def _option_issues(entry: RuleEntry, setting: Setting) -> Iterator[Issue]:
    known = setting.options(entry.decision)
    families = [
        f"family:{name}"
        for name, family in setting.catalogue.families.items()
        if family.decision == entry.decision
    ]
    for name in entry.options or ():
        of_family = name.startswith("family:")
        if of_family and setting.family(entry.decision, name.removeprefix("family:")):
            continue
        if not of_family and name in known:
            continue
        among = families if of_family else list(known)
        close = get_close_matches(name, among, n=1)
        hint = f"did you mean {close[0]}?" if close else f"{len(among)} are known"
        what = "family" if of_family else f"{entry.decision} option"
        yield Issue(("options",), f"a known {what} (with members)", hint, name)


def _condition_issues(text: str, stage: str, decision: str, setting: Setting) -> Iterator[Issue]:
    try:
        condition = parse(text)
    except ConditionError as error:
        found = f"{error.message}, at column {error.column}"
        yield Issue(("when",), "a condition as in shared/rules/README.md", found=found)
        return
    if not setting.strict or decision not in VISIBLE:
        return
    for complaint in setting.registry.complaints(condition, visible_scopes(stage, decision)):
        column = condition.written.find(complaint.word) + 1
        unknown = complaint.message.startswith("unknown fact")
        hint = f"did you mean {complaint.allowed[0]}?" if unknown and complaint.allowed else ""
        allowed = " | ".join(complaint.allowed) if complaint.allowed and not unknown else "see facts"
        yield Issue(("when",), allowed, hint, f"{complaint.message}, at column {column}")


def _effect_issues(entry: RuleEntry) -> Iterator[Issue]:
    """What goes with which effect: a block with its kind, points with their sign, preparation with its work."""
    if entry.effect == "blocks":
        if entry.block is None:
            yield Issue(("block",), "impossible | safety | advised_against", found="nothing")
        elif entry.disputed and entry.block in ("impossible", "safety"):
            yield Issue(("block",), "advised_against: a disputed rule never blocks as impossible or safety")
    else:
        for name in ("block", "unlocked_by"):
            value = getattr(entry, name)
            if value is not None:
                yield Issue((name,), "left out, unless the effect is blocks")
    if entry.effect == "prepares" and entry.preparation is None:
        yield Issue(("preparation",), "a mapping with the keys action, surface", found="nothing")
    elif entry.effect != "prepares" and entry.preparation is not None:
        yield Issue(("preparation",), "left out, unless the effect is prepares")
    sign = _SCORED.get(entry.effect)
    if sign is not None and (entry.stage or _OWN_STAGE.get(entry.decision)) == "framework":
        # what one choice of parts is worth beside another stands in frameworks.yaml
        allowed = "caution | step | question | blocks: nothing reads points at this stage"
        yield Issue(("effect",), allowed)
    elif sign is None:
        if entry.points:
            yield Issue(("points",), f"left out: {entry.effect} moves no score")
    elif entry.points is None or not sign * entry.points > 0:
        allowed = "more than 0, at most 50" if sign > 0 else "less than 0, at least -50"
        yield Issue(("points",), f"a number {allowed}, for {entry.effect}", found=shown(entry.points))
