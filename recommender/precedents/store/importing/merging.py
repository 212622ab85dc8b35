"""Three-way merge by field: what a file says now, what it said at its last import, and what the library says.

A field on which the file is silent keeps what the library knows. A field that only the file changed is taken over, one
that only the library changed is kept, and one that both changed is for a person to decide, as is another sex or an age
that fell. Follow-up is added to and never taken back, and a text that was taken out of the library stays out.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Literal

from recommender.domain.shape import BOUNDS
from recommender.precedents.store import documents

Fate = Literal["taken", "kept", "open"]
Decision = Literal["keep", "take", "ask"]

GUARDED = ("outcome", "dentist_answer", "review")
"""What an import never takes back unless it is asked for by name."""

TAKEN_OUT = "[taken out]"  # what stands in place of a text that identified somebody
_MISSING: Any = object()
_GATHERED = ("outcome.events",)  # lists that only grow
_TEETH = ("arch", "missing", "absent")


@dataclass(frozen=True, slots=True)
class Change:
    """A field on which file and library differ: ``before`` in the library, ``after`` in the file.

    ``fate``: the file's is ``taken``, the library's is ``kept``, or it is ``open`` which of the two.
    """

    field: str
    before: Any
    after: Any
    fate: Fate


@dataclass(frozen=True, slots=True)
class Merged:
    """The case as it comes out, as plain values, and every field on which the file says something else."""

    data: dict[str, Any]
    changes: tuple[Change, ...]

    @property
    def open(self) -> bool:
        """Whether somebody has to decide."""
        return any(change.fate == "open" for change in self.changes)


def collides(
    last: Mapping[str, Any] | None, given: Mapping[str, Any], held: Mapping[str, Any]
) -> tuple[str, str] | None:
    """Whether a file means another arch or dentition than the case that the library has under this id; then both are
    shown (file, library). A dentition that was corrected here, while the file says what it always said, is none.
    """
    differing = [
        name
        for name in _TEETH
        if name in given
        and name in held
        and _teeth(given[name]) != _teeth(held[name])
        and (last is None or _teeth(given[name]) != _teeth(last.get(name)))
    ]
    if not differing:
        return None
    return _shown(given), _shown(held)


def _teeth(value: Any) -> Any:
    return sorted(value) if isinstance(value, list) else value


def _shown(data: Mapping[str, Any]) -> str:
    return ", ".join(f"{name}: {data[name]}" for name in _TEETH if name in data)


def kept_out(given: Any, *known: Any, path: str = "") -> Any:
    """What a file says, without texts that were taken out of the library (``known``: what it says, and what is kept
    of the file's last form)."""
    if TAKEN_OUT in [one for one in known if isinstance(one, str)]:
        return TAKEN_OUT
    if isinstance(given, dict):
        inner = [one for one in known if isinstance(one, dict)]
        return {
            key: kept_out(value, *(one.get(key) for one in inner), path=f"{path}.{key}" if path else str(key))
            for key, value in given.items()
        }
    if isinstance(given, list):
        lists = [_keyed(path, given, one, _MISSING) for one in known if isinstance(one, list)]
        found = [one for one in lists if one is not None]
        if found:
            return [
                kept_out(value, *(one[1].get(key) for one in found)) for key, value in found[0][0].items()
            ]
    return given


def merge(
    last: Mapping[str, Any] | None,
    given: Mapping[str, Any],
    held: Mapping[str, Any],
    decision: Decision = "ask",
    named: frozenset[str] = frozenset(),
) -> Merged:
    """Merges plain values of one case, without its review.

    ``last``: what the file said at its last import, ``None`` where that is not known; ``given``: what it says now;
    ``held``: what the library says. ``decision``: whose word stands where both changed a field; ``named``: those of
    ``GUARDED`` that the file may change.
    """
    work = _Merging(decision, named)
    before = {} if last is None else {key: value for key, value in last.items() if key != "review"}
    file = {key: value for key, value in given.items() if key not in ("review", "id", "format")}
    library = {key: value for key, value in held.items() if key != "review"}
    data = work.mapping(before, file, library, "")
    return Merged(data, tuple(work.changes))


class _Merging:
    def __init__(self, decision: Decision, named: frozenset[str]) -> None:
        self.decision, self.named = decision, named
        self.changes: list[Change] = []

    def mapping(
        self, last: Any, given: Mapping[str, Any], held: Mapping[str, Any], path: str
    ) -> dict[str, Any]:
        before = last if isinstance(last, dict) else {}
        made = dict(held)
        for key, value in given.items():
            at = f"{path}.{key}" if path else str(key)
            found = self.value(before.get(key, _MISSING), value, held.get(key, _MISSING), at)
            if found is not _MISSING:
                made[key] = found
        return made

    def value(self, last: Any, given: Any, held: Any, path: str) -> Any:
        if _same(given, held):
            return held
        if _record(given) and (_record(held) or (held is _MISSING and _record(last))):
            return self.mapping(last, given, {} if held is _MISSING else held, path) or _MISSING
        if path in _GATHERED and isinstance(given, list) and isinstance(held, list):
            return self._gathered(last, given, held, path)
        if (keyed := _keyed(path, given, held, last)) is not None:
            return self._records(keyed, path)
        return self._leaf(last, given, held, path)

    def _records(self, keyed: "_Keyed", path: str) -> list[Any]:
        given, held, last = keyed
        made = dict(held)
        for key, value in given.items():
            found = self.value(last.get(key, _MISSING), value, held.get(key, _MISSING), f"{path}[{key}]")
            if found is not _MISSING:
                made[key] = found
        return list(made.values())

    def _gathered(self, last: Any, given: list[Any], held: list[Any], path: str) -> list[Any]:
        if path.split(".")[0] in self.named:
            return list(self._leaf(last, given, held, path))
        known = [*held, *(last if isinstance(last, list) else [])]
        new = [item for item in given if item not in known]
        # without knowing what the file said before, an entry that was put right here cannot be told from a new one
        if last is _MISSING and held and new:
            self._note(path, held, given, "kept")
            return held
        if new:
            self._note(path, held, [*held, *new], "taken")
        return [*held, *new]

    def _leaf(self, last: Any, given: Any, held: Any, path: str) -> Any:
        if TAKEN_OUT in (last, held):
            return held
        fate: Fate
        if held is _MISSING and last is _MISSING:
            fate = "taken"
        elif _same(given, last):
            return held  # the file says what it said: whatever differs was changed here
        elif last is not _MISSING and _same(held, last) and not _another_person(path, held, given):
            fate = "taken"
        else:
            fate = self._both(path)
        self._note(path, held, given, fate)
        return given if fate == "taken" else held

    def _both(self, path: str) -> Fate:
        top = path.split(".")[0].split("[")[0]
        if top in GUARDED:
            return "taken" if top in self.named else "kept"
        fates: dict[Decision, Fate] = {"keep": "kept", "take": "taken", "ask": "open"}
        return fates[self.decision]

    def _note(self, path: str, held: Any, given: Any, fate: Fate) -> None:
        self.changes.append(Change(path, None if held is _MISSING else held, given, fate))


def _another_person(path: str, held: Any, given: Any) -> bool:
    """Whether a change is none of one person: another sex, or an age that fell. It may be a correction, or another
    patient under the same number."""
    if path == "patient.age":
        return isinstance(held, int) and isinstance(given, int) and given < held
    return path == "patient.sex" and isinstance(held, str) and isinstance(given, str)


def _same(one: Any, other: Any) -> bool:
    if one is _MISSING or other is _MISSING:
        return one is other
    if (
        isinstance(one, list)
        and isinstance(other, list)
        and not any(isinstance(i, (dict, list)) for i in one)
    ):
        # lists of words or teeth: the order in which they were written is no news
        return sorted(map(repr, one)) == sorted(map(repr, other))
    return bool(one == other)


def _record(value: Any) -> bool:
    return isinstance(value, dict) and value.keys() != BOUNDS and bool(value)


_Keyed = tuple[dict[Any, Any], dict[Any, Any], dict[Any, Any]]


def _keyed(path: str, given: Any, held: Any, last: Any) -> _Keyed | None:
    """Lists of records as mappings by what names each (tooth, first tooth of a space, item of an answer)."""
    name: Callable[[Any], Any] = _answer if path == "dentist_answer" else documents.named_by

    def by_name(value: Any) -> dict[Any, Any] | None:
        if value is _MISSING:
            return {}
        if not isinstance(value, list) or not all(isinstance(item, dict) for item in value):
            return None
        names = [name(item) for item in value]
        return None if None in names or len(set(names)) < len(names) else dict(zip(names, value, strict=True))

    file, here, before = by_name(given), by_name(held), by_name(last)
    return None if not file or here is None or before is None else (file, here, before)


def _answer(item: Mapping[str, Any]) -> Any:
    return item.get("item")
