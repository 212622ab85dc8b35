"""Situations of a case: what the designer had before them at each decision.

Features are read from the scopes of the facts by name, near and far from the space, so that a case and its
mirror image give the same features. What is not known exactly counts as not recorded, save a measure recorded
within bounds.
"""

import hashlib
from collections.abc import Iterable, Iterator, Mapping
from typing import Any, Protocol

import orjson

from recommender.domain.case import Case
from recommender.domain.designs import DesignRetainer
from recommender.facts.figures import ModelFigures
from recommender.facts.values import Scope, Value
from recommender.precedents.model import Kind, Situation
from recommender.precedents.outcome_value import OutcomeFigures, outcome_figures, value_of_outcome
from recommender.precedents.search.tables import FeatureSet, FeatureValue, Likeness

# How a case is named, what was asked for and made, who vouches for it and how it fared are not part of what was
# found. Two cases with the same findings are the same mouth: neither is evidence for the other.
_NOT_CONTENT = frozenset(
    {
        "id",
        "title",
        "asked",
        "survey",
        "review",
        "source",
        "outcome",
        "dentist_answer",
        "design",
        "prescription",
    }
)


class Facts(Protocol):
    """What is asked of the facts of a case (``recommender.facts.derive``)."""

    case: Case
    considered: tuple[int, ...]

    @property
    def case_scope(self) -> Scope: ...
    def tooth(self, tooth: int) -> Scope: ...
    def toward(self, tooth: int, side: str) -> Scope: ...
    def space(self, tooth: int) -> Scope: ...
    def sides(self, tooth: int) -> tuple[str, ...]: ...


def fingerprint(case: Case) -> str:
    """Digest (32 hexadecimal digits) of what was found, whatever the order of its lists."""
    data = case.model_dump(mode="json", exclude_none=True, exclude=set(_NOT_CONTENT))
    text = orjson.dumps(_canonical(data), option=orjson.OPT_SORT_KEYS | orjson.OPT_NON_STR_KEYS)
    return hashlib.blake2b(text, digest_size=16).hexdigest()


def _canonical(value: Any) -> Any:
    if isinstance(value, dict):
        return {str(key): _canonical(inner) for key, inner in value.items()}
    if isinstance(value, list):
        inner = [_canonical(item) for item in value]
        return sorted(inner, key=lambda item: orjson.dumps(item, option=orjson.OPT_SORT_KEYS))
    return value


def read_features(
    features: FeatureSet, scopes: Iterable[Scope], given: Mapping[str, Value | None] | None = None
) -> dict[str, FeatureValue | None]:
    """Value of each feature: what all the scopes agree on, else ``None``; ``given`` values take
    precedence."""
    looked = tuple(scopes)
    values: dict[str, FeatureValue | None] = {}
    for item in features.weighted:
        feature = item.feature
        if given and feature.name in given:
            values[feature.name] = given[feature.name]
            continue
        found = [feature.read(scope.fact(feature.fact)) for scope in looked]
        values[feature.name] = found[0] if all(other == found[0] for other in found) else None
    return values


def _scopes(facts: Facts, kind: Kind, tooth: int, side: str | None) -> tuple[Scope, ...]:
    if kind == "connector":
        return (facts.case_scope,)
    if kind == "replacement":
        return (facts.space(tooth),)
    if side is not None:
        return (facts.toward(tooth, side),)
    # Not told from which side: only what holds from either side is known.
    sides = facts.sides(tooth) or ("mesial", "distal")
    return tuple(facts.toward(tooth, each) for each in sides)


def situation_for(
    facts: Facts,
    kind: Kind,
    tooth: int = 0,
    side: str | None = None,
    *,
    likeness: Likeness,
    assembly: str | None = None,
    content: str | None = None,
) -> Situation:
    """The situation to ask about: ``retainer`` or ``rest`` at a tooth (from one ``side``: mesial or distal),
    ``replacement`` of a missing tooth, or the ``connector``.

    ``assembly`` is the retainer that a rest is ranked for. ``content`` is the case's fingerprint where it is
    known already. Raises ``KeyError`` for a missing tooth that lies in no restored space.
    """
    given = {"rest.assembly": assembly} if kind == "rest" else None
    values = read_features(likeness.kinds[kind], _scopes(facts, kind, tooth, side), given)
    print_ = fingerprint(facts.case) if content is None else content
    return Situation(facts.case.id, kind, tooth, facts.case.arch, values, fingerprint=print_)


def situations(case: Case, facts: Facts, likeness: Likeness, figures: OutcomeFigures) -> list[Situation]:
    """Every decision that a stored case's design records. A retired case gives none.

    A considered tooth without a retainer in the design got ``rest_only`` or ``none``, provided that the
    design records its retainers and its rests; what the design leaves out altogether is not recorded.
    """
    status = case.review.status if case.review else None
    if case.design is None or status == "retired":
        return []
    content = fingerprint(case)
    vouched = _vouched(case)
    found = []
    for kind, site, side, choice, assembly in choices_of(case, facts):
        asked = situation_for(facts, kind, site, side, likeness=likeness, assembly=assembly, content=content)
        fared = value_of_outcome(case, figures, kind, site, choice)
        found.append(
            Situation(
                case.id, kind, site, case.arch, asked.features, choice, fared.value, fared.verdict + vouched,
                status == "approved", fared.outcome_known, content,
            )
        )  # fmt: skip
    return found


def _vouched(case: Case) -> str:
    """Why it was approved in spite of a rule: that goes along wherever the case is cited."""
    review = case.review
    if review is None or review.status != "approved" or not review.reason:
        return ""
    return f"|{review.reason}"


Chosen = tuple[Kind, int, str | None, str, str | None]


def choices_of(case: Case, facts: Facts) -> Iterator[Chosen]:
    """What a design chose: kind, site, side, choice, and the assembly that a rest is for."""
    design = case.design
    assert design is not None
    if design.connector is not None:
        yield "connector", 0, None, design.connector, None
    for tooth, choice in (design.replacements or {}).items():
        try:
            facts.space(tooth)
        except KeyError:
            continue  # not in a space that is restored: nothing to compare
        yield "replacement", tooth, None, choice, None
    yield from _carriers(case, facts)


def _carriers(case: Case, facts: Facts) -> Iterator[Chosen]:
    design = case.design
    assert design is not None
    retainers: dict[int, DesignRetainer] = {item.tooth: item for item in design.retainers or ()}
    rests: dict[int, str] = {
        item.tooth: item.rest for item in design.retainers or () if item.rest is not None
    }
    rests |= {item.tooth: item.rest for item in design.indirect_retainers or ()}
    rests |= design.rests or {}
    rests_known = design.rests is not None
    for tooth in sorted({*retainers, *rests, *facts.considered}):
        entry = retainers.get(tooth)
        side: str | None = entry.approach if entry else None
        facing = facts.sides(tooth)
        if side is None and len(facing) == 1:
            side = facing[0]
        rest = rests.get(tooth, "none" if rests_known else None)
        assembly: str | None = entry.assembly if entry else None
        if assembly is None and design.retainers is not None and rest is not None:
            assembly = "none" if rest == "none" else "rest_only"
        if assembly is not None:
            yield "retainer", tooth, side, assembly, None
        if rest is not None:
            yield "rest", tooth, side, rest, assembly


def all_situations(
    cases: Iterable[Case],
    likeness: Likeness,
    figures: OutcomeFigures | None = None,
    models: ModelFigures | None = None,
) -> Iterator[Situation]:
    """The situations of every case's design."""
    from recommender.facts.derive import derive

    known = figures or outcome_figures()
    for case in cases:
        if case.design is not None and case.missing:
            yield from situations(case, derive(case, models), likeness, known)
