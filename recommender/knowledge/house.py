"""A house profile: how one house's own hand departs from the published figures, as data that an educator reads.

A profile says, for each kind of decision, how much precedents count (``neighbours``, ``kappa``), what likeness heeds
(one multiplier a group of features), how the house weighs the criteria (departures from the published weights), and
what it favours where (``habits``, written like rules). ``in_house`` puts it into knowledge: the departures move base
weights, the habits become rules on a criterion of their own. So bounds, re-runs, plausible worlds and frameworks
treat them as they treat rules. A profile holds no block and can lift none.
"""

import hashlib
from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Annotated, Literal

import orjson
from pydantic import Field, model_validator

from recommender.domain.measures import Record
from recommender.domain.options import Catalogue
from recommender.knowledge.conditions import Condition, ConditionError, parse
from recommender.knowledge.load import assemble
from recommender.knowledge.model import HOUSE, House, Knowledge, Rule
from recommender.knowledge.registry import Registry, visible_scopes
from recommender.knowledge.wording import in_words

Share = Annotated[float, Field(ge=0, le=1, allow_inf_nan=False)]
Gain = Annotated[float, Field(ge=-1, le=1, allow_inf_nan=False)]
Count = Annotated[int, Field(ge=0, le=10_000_000)]
Points = Annotated[float, Field(ge=-50, le=50, allow_inf_nan=False)]
Kind = Literal["retainer", "rest", "connector", "replacement"]
MIDDLE = 50.0


class ProfileError(ValueError):
    """A profile that does not fit the knowledge; the message says what and where."""


class Habit(Record):
    """What the house favours (points above zero) or passes over, and where.

    ``points`` are on the 0-100 scale of the house's own criterion. ``cases`` is the number of cases in which it could
    tell, ``chosen`` the number in which one of ``options`` was chosen there.
    """

    options: Annotated[list[str], Field(min_length=1)]
    when: str = "always"
    points: Points
    cases: Count = 0
    chosen: Count = 0


class Measured(Record):
    """Share of decisions at which the house's own choice came first, on cases held out: ``before`` with the published
    figures, ``after`` with the profile; the gain with its interval."""

    decisions: Count
    before: Share
    after: Share
    gain: Gain
    low: Gain
    high: Gain


class Decided(Record):
    """The profile of one kind of decision.

    ``counts`` is the weight of the house's own criterion, beside about 100 for all others together. ``weighs`` adds
    to the published base weight of a criterion. ``likeness`` multiplies the weights of features.
    """

    cases: Count
    counts: Annotated[float, Field(ge=0, le=200, allow_inf_nan=False)] = 0.0
    neighbours: Annotated[int, Field(ge=1, le=1000)]
    kappa: Annotated[float, Field(ge=0.1, le=1e6, allow_inf_nan=False)]
    likeness: dict[str, Annotated[float, Field(ge=0, le=100, allow_inf_nan=False)]] = Field(
        default_factory=dict
    )
    weighs: dict[str, Annotated[float, Field(ge=-100, le=100, allow_inf_nan=False)]] = Field(
        default_factory=dict
    )
    habits: list[Habit] = Field(default_factory=list)
    measured: Measured

    @model_validator(mode="after")
    def _heard(self) -> "Decided":
        if self.habits and self.counts <= 0:
            raise ValueError("a weight above 0 (counts) where there are habits")
        return self


class Profile(Record):
    """A house profile, version 1 of its format. ``library`` and ``at`` say from what and when it was learned."""

    format: Literal[1] = 1
    library: str = ""
    at: str = ""
    cases: Count
    decisions: dict[Kind, Decided]
    measured: Measured | None = None
    note: str = ""

    @property
    def digest(self) -> str:
        """Twelve hexadecimal digits of the content."""
        text = orjson.dumps(self.model_dump(mode="json"), option=orjson.OPT_SORT_KEYS)
        return hashlib.blake2b(text, digest_size=6).hexdigest()


def in_house(base: Knowledge, profile: Profile) -> Knowledge:
    """Knowledge with a profile put in. Raises ``ProfileError`` where a profile names what the knowledge lacks."""
    criteria, catalogue = base.criteria, base.catalogue
    weights = {kind: dict(named) for kind, named in criteria.base.items()}
    departures: dict[str, dict[str, float]] = {}
    options = dict(catalogue.options)
    for kind, found in profile.decisions.items():
        unknown = set(found.weighs) - set(weights[kind])
        if unknown:
            raise ProfileError(f"decisions.{kind}.weighs: {', '.join(sorted(unknown))} is no criterion there")
        # a criterion that weighs nothing is none, so that a little of it always stays
        least = base.figures.house.least_weight
        departures[kind] = {
            name: max(add, least - weights[kind][name]) for name, add in found.weighs.items() if add
        }
        for name, add in departures[kind].items():
            weights[kind][name] += add
        if found.habits:
            weights[kind][HOUSE] = found.counts
            options[kind] = {
                name: replace(option, starts={**option.starts, HOUSE: MIDDLE})
                for name, option in options[kind].items()
            }
    rules = (
        *base.rules,
        *(rule for kind, found in profile.decisions.items() for rule in _rules(kind, found, base)),
    )
    house = House(
        profile.digest,
        {
            kind: replace(base.scoring, neighbours=found.neighbours, kappa=found.kappa)
            for kind, found in profile.decisions.items()
        },
        {kind: _feature_weights(base, kind, found) for kind, found in profile.decisions.items()},
        departures,
    )
    labels = {**criteria.labels, HOUSE: "the house's own hand"}
    changed = replace(criteria, base=weights, labels=labels)
    known = assemble(rules, Catalogue(options, catalogue.families), changed, base.figures, base.models)
    return replace(known, scoring=base.scoring, house=house)


def _rules(kind: Kind, found: Decided, base: Knowledge) -> Iterator[Rule]:
    for number, habit in enumerate(found.habits, start=1):
        where = f"decisions.{kind}.habits[{number}]"
        unknown = set(habit.options) - set(base.catalogue.options[kind])
        if unknown:
            raise ProfileError(
                f"{where}.options: found {', '.join(sorted(unknown))}, allowed options of {kind}"
            )
        condition = _condition(habit.when, kind, where, base.registry)
        yield Rule(
            id=f"{HOUSE}.{kind}.{number}",
            stage="option",
            decision=kind,
            options=tuple(habit.options),
            when=condition,
            effect="favours" if habit.points > 0 else "discourages",
            criterion=HOUSE,
            points=habit.points,
            why="" if habit.when == "always" else in_words(condition.root, base.registry),
            source=HOUSE,
            found="common_practice",
            place="house profile",
        )


def _condition(text: str, kind: Kind, where: str, registry: Registry) -> Condition:
    try:
        condition = parse(text)
    except ConditionError as error:
        raise ProfileError(f"{where}.when: {error}") from error
    if any(atom.kind == "recorded" for atom in condition.atoms):
        raise ProfileError(f"{where}.when: recorded(..) is for questions, not for habits")
    for complaint in registry.complaints(condition, visible_scopes("option", kind)):
        raise ProfileError(f"{where}.when: {complaint.message}")
    return condition


def _feature_weights(base: Knowledge, kind: Kind, found: Decided) -> Mapping[str, float]:
    """Weights of the features whose group the house heeds more or less than published."""
    groups = base.figures.house.groups
    unknown = set(found.likeness) - set(groups)
    if unknown:
        allowed = ", ".join(groups)
        raise ProfileError(
            f"decisions.{kind}.likeness: found {', '.join(sorted(unknown))}, allowed {allowed}"
        )
    published = getattr(base.figures.similarity.kinds, kind).weights
    group_of = {name: group for group, names in groups.items() for name in names}
    return {
        name: entry.weight * found.likeness[group_of[name]]
        for name, entry in published.items()
        if group_of.get(name) in found.likeness
    }
