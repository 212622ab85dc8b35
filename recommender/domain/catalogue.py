"""The option catalogue from ``shared/options/*.yaml``, checked as it is read.

See ``shared/options/README.md`` for how an option and a family are written.
"""

from collections.abc import Iterable, Mapping
from functools import cache
from pathlib import Path
from typing import Annotated, Any, Literal, TypeVar

from pydantic import Field, model_validator

from recommender.domain import vocabulary as v
from recommender.domain.errors import CaseError, Problem, did_you_mean, shown
from recommender.domain.measures import Record
from recommender.domain.options import Arm, Catalogue, Family, Option, Tip
from recommender.domain.validation import read_model
from recommender.resources import read_yaml, shared

M = TypeVar("M", bound=Record)

INDIRECT_SEATS: tuple[str, ...] = ("cingulum", "mesial", "distal", "incisal")
IDENTIFIERS: dict[str, tuple[str, ...]] = {
    "retainer": v.RETAINERS,
    "rest": v.RESTS,
    "connector": tuple(dict.fromkeys((*v.connectors("maxilla"), *v.connectors("mandible")))),
    "replacement": v.REPLACEMENTS,
    "alloy": v.ALLOYS,
    "indirect_retainer": INDIRECT_SEATS,
}
_ARCHES = ("maxilla", "mandible")
DecisionName = Literal["retainer", "rest", "connector", "replacement", "alloy", "indirect_retainer"]
TipZone = Literal[
    "near_facial", "mid_facial", "far_facial", "near_lingual", "mid_lingual", "far_lingual", "near_proximal",
    "far_proximal",
]  # fmt: skip
Depth = Annotated[float, Field(ge=0, le=5, allow_inf_nan=False)]
Start = Annotated[float, Field(ge=0, le=100, allow_inf_nan=False)]
Share = Annotated[float, Field(ge=0, le=1, allow_inf_nan=False)]
Sentence = Annotated[str, Field(pattern=r"\S", max_length=5000, description="a text")]


class FamilyEntry(Record):
    """A family as it is written; see ``shared/options/README.md``."""

    id: Annotated[str, Field(min_length=1, max_length=80)]
    decision: DecisionName
    label: str = ""
    share: Share
    is_a: str | None = None


class TipEntry(Record):
    zones: list[TipZone]
    least_mm: Depth
    usual_mm: Depth
    most_mm: Depth
    source: str = ""

    @model_validator(mode="after")
    def _rises(self) -> "TipEntry":
        if not self.least_mm <= self.usual_mm <= self.most_mm:
            raise ValueError("least_mm <= usual_mm <= most_mm")
        return self


class ArmEntry(Record):
    origin: Literal["near", "far", "gingival"]
    surface: Literal["facial", "lingual", "proximal"]
    reach: Annotated[float, Field(ge=0, le=4, allow_inf_nan=False)]
    section: Literal["half_round", "round"]
    alloy: v.Alloy
    level: Annotated[
        list[Share],
        Field(
            min_length=2, max_length=2, description="two numbers from 0 to 1: at the origin and at the tip"
        ),
    ]


class OptionEntry(Record):
    """An option as it is written; see ``shared/options/README.md``."""

    id: Annotated[str, Field(min_length=1, max_length=80)]
    decision: DecisionName
    label: Sentence
    definition: Sentence
    families: list[str]
    starts: dict[str, Start]
    source: Sentence
    arches: list[v.Arch] | None = None
    tip: TipEntry | None = None
    arm: ArmEntry | None = None
    parts: list[str] | None = None
    rests: list[str] | None = None
    synonyms: list[str] | None = None
    extra: dict[str, int | float | str] | None = None
    because: str | None = None
    because_source: str | None = None


@cache
def load() -> Catalogue:
    """The packaged catalogue, read once; ``CaseError`` names file, option and field of everything wrong."""
    return load_folder(shared("options"))


def load_folder(folder: Path) -> Catalogue:
    """The catalogue of a folder of option files."""
    import yaml

    documents: dict[str, Any] = {}
    for path in sorted(folder.glob("*.yaml")):
        try:
            documents[path.name] = read_yaml(path.read_bytes())
        except yaml.YAMLError as error:
            raise CaseError([Problem(str(path), "", shown(str(error)), "a YAML file")], path.name) from None
    return build(documents)


def build(documents: Mapping[str, Any]) -> Catalogue:
    """The catalogue from the plain values of its files by name (trusted: from the project's own data)."""
    reader = _CatalogueReader()
    for name, document in documents.items():
        reader.take_families(name, document)
    for name, document in documents.items():
        reader.take_options(name, document)
    return reader.finish()


class _CatalogueReader:
    def __init__(self) -> None:
        self._families: dict[str, Family] = {}
        self._options: dict[str, dict[str, Option]] = {decision: {} for decision in IDENTIFIERS}
        self._problems: list[Problem] = []

    def _bad(self, file: str, field: str, found: object, allowed: str, hint: str = "") -> None:
        self._problems.append(Problem(f"shared/options/{file}", field, shown(found), allowed, hint))

    def _listed(self, name: str, document: Any, key: str) -> Iterable[tuple[str, dict[str, Any]]]:
        if not isinstance(document, dict) or not ({"options", "families"} & set(document)):
            if key == "families":
                self._bad(name, "", document, "format: 1 and a list of options or families")
            return
        for index, entry in enumerate(document.get(key) or ()):
            where = f"{key}[#{index + 1}]"
            if isinstance(entry, dict) and isinstance(entry.get("id"), str):
                yield f"{key}[{entry['id']}]", entry
            else:
                self._bad(name, where, entry, "a mapping with an id")

    def _read(self, model: type[M], name: str, where: str, entry: dict[str, Any]) -> M | None:
        """The model of an entry, or ``None``; what is wrong is reported under the entry's own name."""
        told: list[Problem] = []
        found = read_model(model, entry, lambda path: f"shared/options/{name}", told)
        for problem in told:
            field = f"{where}.{problem.field}" if problem.field else where
            self._problems.append(Problem(problem.at, field, problem.found, problem.allowed, problem.hint))
        return found

    def take_families(self, name: str, document: Any) -> None:
        for where, entry in self._listed(name, document, "families"):
            read = self._read(FamilyEntry, name, where, entry)
            if read is None:
                continue
            if read.id in self._families:
                self._bad(name, f"{where}.id", read.id, "an id used once")
            else:
                self._families[read.id] = Family(read.id, read.decision, read.label, read.share, read.is_a)

    def take_options(self, name: str, document: Any) -> None:
        for where, entry in self._listed(name, document, "options"):
            read = self._read(OptionEntry, name, where, entry)
            if read is None:
                continue
            known = IDENTIFIERS[read.decision]
            if read.id not in known:
                self._bad(name, f"{where}.id", read.id, " | ".join(known), did_you_mean(read.id, known))
                continue
            self._known_families(name, where, read)
            if read.id in self._options[read.decision]:
                self._bad(name, f"{where}.id", read.id, "an id used once for its decision")
            self._options[read.decision][read.id] = self._option(read)

    def _known_families(self, name: str, where: str, read: OptionEntry) -> None:
        for family in read.families:
            known = self._families.get(family)
            if known is None or known.decision != read.decision:
                names = tuple(f.id for f in self._families.values() if f.decision == read.decision)
                self._bad(name, f"{where}.families", family, ", ".join(names), did_you_mean(family, names))

    def _option(self, read: OptionEntry) -> Option:
        return Option(
            id=read.id,
            decision=read.decision,
            label=read.label,
            definition=read.definition,
            families=self._with_ancestors(read.families),
            starts={criterion: float(value) for criterion, value in read.starts.items()},
            source=read.source,
            arches=tuple(read.arches or _ARCHES),
            tip=_tip(read.tip) if read.tip else None,
            arm=_arm(read.arm) if read.arm else None,
            parts=tuple(read.parts or ()),
            rests=tuple(read.rests or ()),
            synonyms=tuple(read.synonyms or ()),
            extra=dict(read.extra or {}),
            because=read.because or "",
            because_source=read.because_source or "",
        )

    def _with_ancestors(self, families: Iterable[str]) -> tuple[str, ...]:
        """The families named, then every family that these are kinds of."""
        found = list(dict.fromkeys(families))
        for name in found:
            parent = self._families[name].is_a if name in self._families else None
            if parent is not None and parent not in found:
                found.append(parent)
        return tuple(found)

    def finish(self) -> Catalogue:
        """The catalogue; ``CaseError`` with everything wrong, words of the vocabulary without option too."""
        for family in self._families.values():
            if family.is_a is not None and family.is_a not in self._families:
                self._bad("families", f"families[{family.id}].is_a", family.is_a, "the id of a family")
        for decision, identifiers in IDENTIFIERS.items():
            for identifier in identifiers:
                if not any(f"options[{identifier}]" in problem.field for problem in self._problems):
                    self._check_present(decision, identifier)
        if self._problems:
            raise CaseError(self._problems, "shared/options")
        ordered = {d: {i: self._options[d][i] for i in ids} for d, ids in IDENTIFIERS.items()}
        return Catalogue(ordered, self._families)

    def _check_present(self, decision: str, identifier: str) -> None:
        option = self._options[decision].get(identifier)
        if option is None:
            self._bad("", f"{decision}.{identifier}", None, "an option for every word of the vocabulary")
        elif decision == "connector":
            arches = tuple(arch for arch in _ARCHES if identifier in v.connectors(arch))
            if set(option.arches) != set(arches):
                self._bad("", f"options[{identifier}].arches", list(option.arches), str(list(arches)))


def _tip(read: TipEntry) -> Tip:
    return Tip(tuple(read.zones), read.least_mm, read.usual_mm, read.most_mm, read.source)


def _arm(read: ArmEntry) -> Arm:
    low, high = read.level
    return Arm(read.origin, read.surface, read.reach, read.section, read.alloy, (low, high))
