"""What a row says of teeth and spaces that its headings do not name: sorted to the teeth that it is said of."""

import re
from typing import Any

from recommender.domain import dentition, numbering
from recommender.precedents.store.cells import CellError
from recommender.precedents.store.importing.columns import Target
from recommender.precedents.store.importing.register_words import value_of
from recommender.precedents.store.importing.tooth_cells import pairs, teeth_in


class Gathering:
    """What one row says of abutments, spaces and prescribed parts; teeth as the table numbers them."""

    def __init__(self, system: str) -> None:
        self.system = system
        self.arch: str | None = None
        self.missing: list[int] = []
        self._teeth: list[int] = []
        self._abutments: dict[int, dict[str, Any]] = {}
        self._spans: dict[tuple[int, ...], dict[str, Any]] = {}
        self._maps: dict[str, dict[int, Any]] = {}
        self._assemblies: dict[int, Any] = {}

    def take(self, text: str, one: Target) -> None:
        """A cell of such a column. Raises ``CellError`` where it is not clear of which tooth it speaks."""
        if one.base == "abutments.tooth":
            self._teeth = teeth_in(text, self.system, self.arch)
            for tooth in self._teeth:
                self._abutments.setdefault(tooth, {})
            return
        for tooth, words in self._said(text, one):
            value = value_of(words, one.base, one.kind, one.place.shape)
            if one.group == "abutment":
                _put(self._abutments.setdefault(tooth, {}), one, value)
            elif one.group == "span":
                _put(self._spans.setdefault(self._space(tooth, text), {}), one, value)
            elif one.group == "assembly":
                self._assemblies[tooth] = value
            else:
                self._maps.setdefault(one.base, {})[tooth] = value

    def _said(self, text: str, one: Target) -> list[tuple[int, str]]:
        if one.tooth is not None:
            return [(one.tooth, text)]
        # a number alone is what is said, and no tooth: 6.5; 0, 1
        bare = _NUMERIC & {one.place.shape.kind, *(choice.kind for choice in one.place.shape.choices)}
        found = [] if bare and not _ASSIGNED.search(text) else pairs(text)
        if found and all(said.teeth and said.words for said in found):
            return [
                (tooth, said.words)
                for said in found
                for tooth in teeth_in(said.teeth, self.system, self.arch)
            ]
        concerned = self._concerned(one)
        if len(concerned) == 1 or (
            one.group in ("map", "assembly") and concerned and not any(s.teeth for s in found)
        ):
            return [(tooth, text) for tooth in concerned]
        parts = _parallel(text)
        if one.group == "abutment" and concerned and len(parts) == len(concerned):
            return list(zip(concerned, parts, strict=True))
        raise CellError(
            f'"{text}"', "what is said of which tooth, e.g. 14: 1; 24: 0",
            "one value stands for one tooth or space only; name the teeth, here or in the heading",
        )  # fmt: skip

    def _concerned(self, one: Target) -> list[int]:
        """The teeth of which a cell without teeth speaks."""
        if one.group == "span":
            return [space[0] for space in self._spaces()]
        if one.base.endswith(".replacements"):
            return self.missing
        return self._teeth

    def _spaces(self) -> list[tuple[int, ...]]:
        if self.arch is None:
            return []
        to_iso, back = (
            (numbering.to_iso, numbering.to_universal) if self.system == "universal" else (int, int)
        )
        try:
            teeth = [to_iso(tooth) for tooth in self.missing]
            return [tuple(back(tooth) for tooth in run) for run in dentition.runs(self.arch, teeth)]
        except (ValueError, KeyError):
            return []  # what is wrong with the teeth is told elsewhere

    def _space(self, tooth: int, text: str) -> tuple[int, ...]:
        for space in self._spaces():
            if tooth in space:
                return space
        raise CellError(f'"{text}" of tooth {tooth}', "a space with missing teeth")

    def into(self, data: dict[str, Any]) -> dict[str, Any]:
        """The plain values of the row with what was gathered."""
        known = {
            entry.get("tooth"): entry for entry in data.get("abutments") or [] if isinstance(entry, dict)
        }
        for tooth, said in self._abutments.items():
            known.setdefault(tooth, {"tooth": tooth})
            _merge(known[tooth], said)
        if known and self._abutments:
            data["abutments"] = list(known.values())
        if self._spans:
            data["spans"] = [
                *(data.get("spans") or []),
                *({"teeth": list(space)} | said for space, said in self._spans.items()),
            ]
        for base, parts in self._maps.items():
            part, name = base.split(".")
            inner = data.setdefault(part, {}).setdefault(name, {})
            inner.update({tooth: value for tooth, value in parts.items() if tooth not in inner})
        if self._assemblies:
            design = data.setdefault("design", {})
            design["retainers"] = [
                *(design.get("retainers") or []),
                *({"tooth": tooth, "assembly": value} for tooth, value in self._assemblies.items()),
            ]
        return data


_NUMERIC = {"number", "whole"}
_ASSIGNED = re.compile(r"[:=(]")


def _parallel(text: str) -> list[str]:
    """The entries of a list that runs along the teeth of the row; a comma may stand within a number."""
    for apart in (r"\s*;\s*", r"\s*/\s*", r",\s+", r"\s*,\s*"):
        parts = re.split(apart, text.strip())
        if len(parts) > 1:
            return parts
    return [text.strip()]


def _put(entry: dict[str, Any], one: Target, value: Any) -> None:
    node = entry
    steps = one.base.split(".")[1:]
    for step in steps[:-1]:
        node = node.setdefault(step, {})
    node[steps[-1]] = value


def _merge(into: dict[str, Any], said: dict[str, Any]) -> None:
    for key, value in said.items():
        if isinstance(value, dict) and isinstance(into.get(key), dict):
            _merge(into[key], value)
        else:
            into.setdefault(key, value)
