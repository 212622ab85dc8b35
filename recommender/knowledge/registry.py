"""Every fact that a rule may read: its scope, type, unit and the words it can have.

Two sources, no third: ``shared/facts.yaml`` for what is worked out, and the case model for fields that are
facts under their own names. With them a condition is checked before any case is seen: unknown facts, words
that a fact cannot have, a number where a word belongs, and facts of another scope.
"""

import re
import types
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from difflib import get_close_matches
from functools import cache
from typing import Any, Literal, Union, get_args, get_origin

import annotated_types
from pydantic import BaseModel

from recommender.domain import findings as model
from recommender.domain import vocabulary as v
from recommender.facts.case_fields import unit_of
from recommender.knowledge.atoms import Atom, walk
from recommender.knowledge.conditions import Condition

_SITE = re.compile(r"\[\d+\]")
FactScope = Literal["case", "tooth", "approach", "space", "option", "framework"]
FactType = Literal["bool", "word", "words", "number"]
_SECTIONS: tuple[tuple[str, FactScope, type[BaseModel]], ...] = (
    ("patient", "case", model.Patient),
    ("occlusion", "case", model.Occlusion),
    ("records", "case", model.Records),
    ("palate", "case", model.Palate),
    ("floor", "case", model.Floor),
    ("abutment", "tooth", model.Abutment),
    ("span", "space", model.Span),
)
# Which scopes a rule can see, by its decision; stage "case" sees the case alone.
VISIBLE: Mapping[str, frozenset[str]] = {
    "case": frozenset({"case"}),
    "retainer": frozenset({"case", "tooth", "approach", "option"}),
    "rest": frozenset({"case", "tooth", "approach", "option"}),
    "indirect_retainer": frozenset({"case", "tooth", "approach", "option"}),
    "connector": frozenset({"case", "option"}),
    "replacement": frozenset({"case", "space", "option"}),
    "framework": frozenset({"case", "framework"}),
}
_IN_GROUP = {"abutment": {"case", "tooth"}, "standing": {"case", "tooth"}, "span": {"case", "space"}}


@dataclass(frozen=True, slots=True)
class FactSpec:
    """What is known of a fact before any case: ``values`` are the words it can have (empty for no closed
    list), ``low`` and ``high`` the bounds of a number where the case format sets them."""

    name: str
    scope: FactScope
    type: FactType
    unit: str = ""
    values: tuple[str, ...] = ()
    label: str = ""
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True, slots=True)
class Complaint:
    """Something wrong in a condition; ``word`` is what to look for in the written text."""

    message: str
    word: str
    found: str = ""
    allowed: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Registry:
    """The facts by name; ``dangerous`` are fields that can hurt when they are wrong (``shared/facts.yaml``)."""

    facts: Mapping[str, FactSpec]
    words: frozenset[str] = field(default_factory=frozenset)
    dangerous: frozenset[str] = field(default_factory=frozenset)

    def is_dangerous(self, path: str) -> bool:
        """Whether the field at a path of the case (``abutments[14].disease``) can hurt when it is wrong."""
        plain = _SITE.sub("", path)
        return plain.replace("abutments.", "abutment.", 1) in self.dangerous

    def __getitem__(self, name: str) -> FactSpec:
        return self.facts[name]

    def __contains__(self, name: object) -> bool:
        return name in self.facts

    def __iter__(self) -> Iterator[FactSpec]:
        return iter(self.facts.values())

    def suggestion(self, name: str) -> tuple[str, ...]:
        """Names of facts that are written much like this one, closest first."""
        return tuple(get_close_matches(name, self.facts, n=3, cutoff=0.6))

    def complaints(self, condition: Condition, visible: Iterable[str]) -> list[Complaint]:
        """Everything wrong with a condition read where facts of the ``visible`` scopes are known."""
        outside = set(visible)
        found: list[Complaint] = []
        for atom, group in walk(condition.root):
            if atom.inner is not None or atom.kind == "always":
                continue
            found += self._atom(atom, _IN_GROUP[group] if group else outside, group)
        return list(dict.fromkeys(found))

    def _atom(self, atom: Atom, visible: set[str], group: str) -> Iterator[Complaint]:
        for name in atom.facts:
            spec = self.facts.get(name)
            if spec is None:
                yield Complaint(f"unknown fact {name}", name, name, self.suggestion(name))
            elif spec.scope not in visible:
                where = f"inside {group}(..)" if group else "here"
                yield Complaint(f"{name} is a fact of {_article(spec.scope)} and is not known {where}", name)
        first = self.facts.get(atom.fact)
        if first is None or any(name not in self.facts for name in atom.facts):
            return
        if atom.kind == "against":
            second = self.facts[atom.other]
            if first.type != second.type or (first.type == "words"):
                yield Complaint(
                    f"{first.type} {first.name} compared with {second.type} {second.name}", atom.other
                )
            elif first.unit != second.unit:
                units = (first.unit or "no unit", second.unit or "no unit")
                yield Complaint(f"{first.name} is in {units[0]}, {second.name} in {units[1]}", atom.other)
            elif first.type != "number" and atom.op not in ("==", "!="):
                yield Complaint(f"{first.name} has no order", atom.fact)
        elif atom.kind == "member":
            if first.type != "words":
                yield Complaint(
                    f"{first.name} is one {first.type}, not a set; write {first.name} == ..", atom.fact
                )
            else:
                yield from _words(first, atom)
        elif atom.kind in ("compare", "among"):
            yield from self._values(first, atom)

    def _values(self, spec: FactSpec, atom: Atom) -> Iterator[Complaint]:
        if spec.type == "words":
            yield Complaint(f"{spec.name} is a set; write word in {spec.name}", spec.name)
            return
        wanted = {"bool": (bool,), "word": (str,), "number": (int, float)}[spec.type]
        for value in atom.values:
            right = isinstance(value, wanted) and (spec.type != "number" or not isinstance(value, bool))
            if not right:
                kind = {"bool": "true or false", "word": "a word", "number": "a number"}[spec.type]
                allowed = spec.values if spec.type == "word" else ()
                yield Complaint(
                    f"{spec.name} is {kind}, compared with {_shown(value)}",
                    _shown(value),
                    _shown(value),
                    allowed,
                )
                return
        if spec.type == "word":
            yield from _words(spec, atom)


def _words(spec: FactSpec, atom: Atom) -> Iterator[Complaint]:
    for value in atom.values:
        if spec.values and value not in spec.values:
            yield Complaint(f"{spec.name} cannot be {value}", str(value), str(value), spec.values)


def _shown(value: object) -> str:
    return str(value).lower() if isinstance(value, bool) else str(value)


def _article(scope: str) -> str:
    return {"approach": "one tooth seen from a space", "option": "an option"}.get(scope, f"a {scope}")


def visible_scopes(stage: str, decision: str) -> frozenset[str]:
    """Scopes of facts that are known where a rule of this stage and decision is evaluated."""
    if stage == "case":
        return VISIBLE["case"]
    if stage == "framework":
        return VISIBLE.get(decision, frozenset()) | VISIBLE["framework"]
    return VISIBLE[decision]


# ---- fields of the case model


def _unwrapped(annotation: Any) -> tuple[list[Any], list[Any]]:
    """The alternatives of an annotation without ``None``, and the metadata met on the way."""
    if get_origin(annotation) in (Union, types.UnionType):
        parts: list[Any] = []
        metadata: list[Any] = []
        for each in get_args(annotation):
            inner, found = _unwrapped(each)
            parts += inner
            metadata += found
        return [part for part in parts if part is not type(None)], metadata
    if hasattr(annotation, "__metadata__"):
        inner, found = _unwrapped(annotation.__origin__)
        extra: list[Any] = []
        for each in annotation.__metadata__:
            extra += getattr(each, "metadata", [each])
        return inner, found + extra
    return [annotation], []


def _limit(metadata: Iterable[Any], kind: type, name: str) -> float | None:
    return next((float(getattr(m, name)) for m in metadata if isinstance(m, kind)), None)


def _field_specs(prefix: str, scope: FactScope, record: type[BaseModel]) -> Iterator[FactSpec]:
    for name, info in record.model_fields.items():
        path = f"{prefix}.{name}"
        parts, metadata = _unwrapped(info.annotation)
        metadata += info.metadata
        own = ".".join(path.split(".")[1:])
        label = own.replace("_mm", "").replace("_deg", "").replace("_", " ").replace(".", ", ")
        unit = "years" if name == "age" else unit_of(path)
        spec = FactSpec(path, scope, "number", unit, (), label)
        literals = [part for part in parts if get_origin(part) is Literal]
        if name in ("tooth", "teeth"):
            continue
        if bool in parts:
            yield replace(spec, type="bool", unit="")
        elif int in parts or float in parts:
            low = _limit(metadata, annotated_types.Ge, "ge")
            high = None if literals else _limit(metadata, annotated_types.Le, "le")
            yield replace(spec, low=low, high=high)
        elif literals:
            yield replace(spec, type="word", values=get_args(literals[0]))
        elif get_origin(parts[0]) is list:
            yield replace(spec, type="words", values=get_args(get_args(parts[0])[0]))
        elif isinstance(parts[0], type) and issubclass(parts[0], BaseModel):
            yield from _field_specs(path, scope, parts[0])


# Facts of facts.yaml whose words are a list of identifiers of the vocabulary.
_IDENTIFIERS: Mapping[str, tuple[str, ...]] = {
    "rest.assembly": v.RETAINERS,
    "framework.connector": get_args(v.Connector),
    "framework.alloy": v.ALLOYS,
}


def build(listed: Iterable[Mapping[str, Any]], dangerous: Iterable[str] = ()) -> Registry:
    """The registry from the entries of ``facts.yaml`` and the fields of the case model."""
    facts: dict[str, FactSpec] = {}
    for prefix, scope, record in _SECTIONS:
        facts |= {spec.name: spec for spec in _field_specs(prefix, scope, record)}
    for entry in listed:
        name = entry["name"]
        if name in facts:
            raise ValueError(f"facts.yaml: {name} is listed twice, or is a field of the case")
        values = tuple(entry.get("values") or _IDENTIFIERS.get(name, ()))
        facts[name] = FactSpec(
            name, entry["scope"], entry["type"], entry.get("unit", ""), values, entry.get("label", "")
        )
    unknown = sorted(set(dangerous) - set(facts))
    if unknown:
        raise ValueError(f"facts.yaml: dangerous: {', '.join(unknown)} is no field of the case")
    words = frozenset(word for spec in facts.values() for word in spec.values)
    return Registry(facts, words, frozenset(dangerous))


@cache
def registry() -> Registry:
    """The packaged registry."""
    from recommender.knowledge.packaged import document

    found = document("facts.yaml")
    return build(found["facts"], found["dangerous"])
