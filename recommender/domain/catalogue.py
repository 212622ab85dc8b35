"""The option catalogue from ``shared/options/*.yaml``, checked as it is read.

See ``shared/options/README.md`` for how an option and a family are written.
"""

from collections.abc import Iterable, Mapping
from functools import cache
from pathlib import Path
from typing import Any

from recommender.domain import vocabulary as v
from recommender.domain.errors import CaseError, Problem, did_you_mean, shown
from recommender.domain.options import Arm, Catalogue, Family, Option, Tip
from recommender.resources import shared

INDIRECT_SEATS: tuple[str, ...] = ("cingulum", "mesial", "distal", "incisal")
IDENTIFIERS: dict[str, tuple[str, ...]] = {
    "retainer": v.RETAINERS,
    "rest": v.RESTS,
    "connector": tuple(dict.fromkeys((*v.connectors("maxilla"), *v.connectors("mandible")))),
    "replacement": v.REPLACEMENTS,
    "alloy": v.ALLOYS,
    "indirect_retainer": INDIRECT_SEATS,
}
_FAR_NEAR = ("near", "mid", "far")
TIP_ZONES: tuple[str, ...] = (
    *(f"{place}_{surface}" for surface in ("facial", "lingual") for place in _FAR_NEAR),
    "near_proximal",
    "far_proximal",
)
_ARCHES = ("maxilla", "mandible")
_OPTION_KEYS = (
    "id", "decision", "label", "definition", "families", "starts", "source", "arches", "tip", "arm", "parts",
    "rests", "synonyms", "extra", "because", "because_source",
)  # fmt: skip
_NEEDED = ("id", "decision", "label", "definition", "families", "starts", "source")


@cache
def load() -> Catalogue:
    """The packaged catalogue, read once; ``CaseError`` names file, option and field of everything wrong."""
    return load_folder(shared("options"))


def load_folder(folder: Path) -> Catalogue:
    """The catalogue of a folder of option files."""
    import yaml

    loader: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
    documents: dict[str, Any] = {}
    for path in sorted(folder.glob("*.yaml")):
        try:
            documents[path.name] = yaml.load(path.read_bytes(), Loader=loader)
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

    def take_families(self, name: str, document: Any) -> None:
        for where, entry in self._listed(name, document, "families"):
            share, decision = entry.get("share"), entry.get("decision")
            if isinstance(share, bool) or not isinstance(share, (int, float)) or not 0 <= share <= 1:
                self._bad(name, f"{where}.share", share, "a number from 0 to 1")
            elif decision not in IDENTIFIERS:
                self._bad(name, f"{where}.decision", decision, " | ".join(IDENTIFIERS))
            elif entry["id"] in self._families:
                self._bad(name, f"{where}.id", entry["id"], "an id used once")
            else:
                family = Family(
                    entry["id"], decision, str(entry.get("label", "")), float(share), entry.get("is_a")
                )
                self._families[family.id] = family

    def take_options(self, name: str, document: Any) -> None:
        for where, entry in self._listed(name, document, "options"):
            before = len(self._problems)
            self._check_keys(name, where, entry)
            if len(self._problems) > before:
                continue
            option = self._option(name, where, entry)
            if option.id in self._options[option.decision]:
                self._bad(name, f"{where}.id", option.id, "an id used once for its decision")
            self._options[option.decision][option.id] = option

    def _check_keys(self, name: str, where: str, entry: dict[str, Any]) -> None:
        for key in entry:
            if key not in _OPTION_KEYS:
                self._bad(
                    name, f"{where}.{key}", key, ", ".join(_OPTION_KEYS), did_you_mean(key, _OPTION_KEYS)
                )
        for key in _NEEDED:
            if key not in entry:
                self._bad(name, f"{where}.{key}", None, "a value")
        decision = entry.get("decision")
        known = IDENTIFIERS.get(str(decision))
        if known is None:
            self._bad(name, f"{where}.decision", decision, " | ".join(IDENTIFIERS))
        elif entry["id"] not in known:
            self._bad(name, f"{where}.id", entry["id"], " | ".join(known), did_you_mean(entry["id"], known))

    def _option(self, name: str, where: str, entry: dict[str, Any]) -> Option:
        starts = entry["starts"]
        for criterion, value in starts.items():
            self._number(name, f"{where}.starts.{criterion}", value, 0, 100)
        for family in entry["families"]:
            known = self._families.get(family)
            if known is None or known.decision != entry["decision"]:
                names = tuple(f.id for f in self._families.values() if f.decision == entry["decision"])
                self._bad(name, f"{where}.families", family, ", ".join(names), did_you_mean(family, names))
        arches = tuple(entry.get("arches") or _ARCHES)
        self._words(name, f"{where}.arches", arches, _ARCHES)
        return Option(
            id=entry["id"],
            decision=entry["decision"],
            label=str(entry["label"]),
            definition=str(entry["definition"]),
            families=self._with_ancestors(entry["families"]),
            starts={criterion: float(value) for criterion, value in starts.items()},
            source=str(entry["source"]),
            arches=arches,
            tip=self._tip(name, where, entry["tip"]) if entry.get("tip") else None,
            arm=self._arm(name, where, entry["arm"]) if entry.get("arm") else None,
            parts=tuple(entry.get("parts") or ()),
            rests=tuple(entry.get("rests") or ()),
            synonyms=tuple(entry.get("synonyms") or ()),
            extra=dict(entry.get("extra") or {}),
            because=str(entry.get("because") or ""),
            because_source=str(entry.get("because_source") or ""),
        )

    def _with_ancestors(self, families: Iterable[str]) -> tuple[str, ...]:
        """The families named, then every family that these are kinds of."""
        found = list(dict.fromkeys(families))
        for name in found:
            parent = self._families[name].is_a if name in self._families else None
            if parent is not None and parent not in found:
                found.append(parent)
        return tuple(found)

    def _tip(self, name: str, where: str, entry: dict[str, Any]) -> Tip:
        self._words(name, f"{where}.tip.zones", entry.get("zones") or (), TIP_ZONES)
        least, usual, most = (
            self._number(name, f"{where}.tip.{key}", entry.get(key), 0, 5) for key in _TIP_DEPTHS
        )
        if not least <= usual <= most:
            self._bad(name, f"{where}.tip", [least, usual, most], "least_mm <= usual_mm <= most_mm")
        return Tip(tuple(entry.get("zones") or ()), least, usual, most, str(entry.get("source", "")))

    def _arm(self, name: str, where: str, entry: dict[str, Any]) -> Arm:
        for key, words in _ARM_WORDS.items():
            self._words(name, f"{where}.arm.{key}", (entry.get(key),), words)
        reach = self._number(name, f"{where}.arm.reach", entry.get("reach"), 0, 4)
        level = entry.get("level")
        if not isinstance(level, list) or len(level) != 2:
            self._bad(
                name, f"{where}.arm.level", level, "two numbers from 0 to 1: at the origin and at the tip"
            )
            level = [0.0, 0.0]
        low, high = (self._number(name, f"{where}.arm.level", value, 0, 1) for value in level)
        return Arm(
            str(entry.get("origin")),
            str(entry.get("surface")),
            reach,
            str(entry.get("section")),
            str(entry.get("alloy")),
            (low, high),
        )

    def _number(self, name: str, field: str, value: Any, low: float, high: float) -> float:
        if isinstance(value, bool) or not isinstance(value, (int, float)) or not low <= value <= high:
            self._bad(name, field, value, f"a number from {low:g} to {high:g}")
            return low
        return float(value)

    def _words(self, name: str, field: str, words: Iterable[Any], known: tuple[str, ...]) -> None:
        for word in words:
            if word not in known:
                self._bad(name, field, word, " | ".join(known), did_you_mean(word, known))

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


_TIP_DEPTHS = ("least_mm", "usual_mm", "most_mm")
_ARM_WORDS: dict[str, tuple[str, ...]] = {
    "origin": ("near", "far", "gingival"),
    "surface": ("facial", "lingual", "proximal"),
    "section": ("half_round", "round"),
    "alloy": v.ALLOYS,
}
