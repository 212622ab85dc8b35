"""What is recorded of a case, as it bears on what is plausible for fields that are not.

Messages go up the trees of ``plausible``: how likely what is recorded below a field is, for each of its values (Pearl
1988, *Probabilistic Reasoning in Intelligent Systems*).
"""

import re
from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from recommender.advice.confidence.plausible import HIDDEN, Entry, Plausible, space_place, tooth_place
from recommender.domain.case import Case
from recommender.domain.fields import get_field
from recommender.domain.measures import Interval, Record
from recommender.facts.derive import CaseFacts

TOOTH = re.compile(r"\[(\d+)\]")
_KEPT_ENTRIES = 64
_ITSELF: dict[int, tuple[Entry, Entry]] = {}


class Told:
    """The records of one case."""

    def __init__(self, facts: CaseFacts, known: Plausible) -> None:
        self.facts, self.case, self.known = facts, facts.case, known
        self._level = stands_level(self.case)
        self._weights: dict[str, Any] = {}

    def recorded(self, path: str) -> Any:
        """What stands in the case; ``None`` for what stands in none."""
        return None if path.startswith(HIDDEN) else get_field(self.case, path)

    def weight(self, path: str, entry: Entry) -> Any:
        """How likely what is recorded below this field is, for each of its values; ``None`` where nothing is."""
        if path not in self._weights:
            found: Any = None
            for child in self._children(path):
                below = self.entry(child)
                if below is None:
                    continue
                seen = self._seen(child, below)
                if seen is None:
                    continue
                message = below.table[[below.row(value) for value in entry.values]] @ seen
                found = message if found is None else found * message
                found = found / found.max() if found.max() > 0 else None
            self._weights[path] = found
        return self._weights[path]

    def _seen(self, path: str, entry: Entry) -> Any:
        """The weight of each value of a field: by its own record, else by what is recorded below it."""
        try:
            recorded = self.recorded(path)
        except ValueError:  # recorded as one number for all places: says nothing of this one beside another
            return None
        if recorded is None:
            return self.weight(path, entry)
        if isinstance(recorded, Interval):
            inside = np.array([float(recorded.low <= v <= recorded.high) for v in entry.values])
            return inside if inside.any() else np.eye(len(entry.values))[entry.nearest(recorded.value)]
        if isinstance(recorded, (dict, Record)):  # place by place: each place has its own path
            return None
        return np.eye(len(entry.values))[entry.nearest(recorded)]

    def _children(self, path: str) -> Iterable[str]:
        for child in self._below(path):
            if not child.endswith(".*"):
                yield child
                continue
            places = self.recorded(child[:-2])
            if isinstance(places, Record) and not isinstance(places, Interval):
                yield from (f"{child[:-1]}{name}" for name, held in places if held is not None)

    def _below(self, path: str) -> Iterable[str]:
        pattern = TOOTH.sub("[]", path)
        tooth = TOOTH.search(path)
        for child in self.known.children.get(pattern, ()):
            if "[]" not in child:
                yield child
            elif tooth is not None:
                yield child.replace("[]", tooth[0], 1)
            elif child.startswith("spans[]"):
                for space in self.facts.spaces:
                    at = child.replace("[]", f"[{space.teeth[0]}]", 1)
                    yield from (at.replace("[]", f"[{one}]") for one in space.teeth) if "[]" in at else (at,)
            else:
                for known in self.facts.considered:
                    yield child.replace("[]", f"[{known}]", 1)
        if ".undercuts_mm." in path:
            yield path.replace(".undercuts_mm.", ".undercuts_level_mm.")

    def entry(self, path: str) -> Entry | None:
        """The entry of a field; of an undercut at level tilt, where the cast stands level, the undercut itself."""
        entry = self.known.entry(path, place_of(self.facts, path))
        if entry is not None and ".undercuts_level_mm." in path and self._level:
            return _itself(entry)
        return entry


def stands_level(case: Case) -> bool:
    """Whether the path of placement is known to be that at level tilt: undercuts are then the same by both."""
    return all(get_field(case, f"records.{tilt}") == 0 for tilt in ("tilt_ap_deg", "tilt_lateral_deg"))


def _itself(entry: Entry) -> Entry:
    """The entry with every value of the parent as its own."""
    kept = _ITSELF.get(id(entry))
    if kept is None or kept[0] is not entry:
        if len(_ITSELF) > _KEPT_ENTRIES:
            _ITSELF.clear()
        kept = _ITSELF[id(entry)] = entry, replace(entry, table=np.eye(len(entry.values)))
    return kept[1]


def parent_of(path: str, entry: Entry) -> str | None:
    """The path of the field that this one depends on."""
    if entry.parent is None:
        return None
    if entry.parent.startswith("="):
        return path.replace("undercuts_level_mm", entry.parent[1:])
    tooth = TOOTH.search(path)
    return entry.parent.replace("[]", tooth[0] if tooth else "[]", 1)


def place_of(facts: CaseFacts, path: str) -> Mapping[str, Any]:
    """What an entry's ``where`` may ask of the tooth or space of a path."""
    found = TOOTH.search(path)
    arch = facts.case.arch
    if found is None:
        return {"arch": arch}
    tooth = int(found[1])
    if path.startswith("spans["):
        space = facts.space_of(tooth)
        return space_place(arch, space.teeth, space.support) if space else {"arch": arch}
    return tooth_place(arch, tooth)
