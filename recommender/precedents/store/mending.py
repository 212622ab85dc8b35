"""What a damaged case is mended with: its own sound versions, a backup, what its source last said; in that order of
nearness to what was saved, and never silently."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import orjson

from recommender.precedents.store import documents
from recommender.precedents.store.checking import KINDS, Kept, fault_of_version, serving_by
from recommender.precedents.store.records import now


@dataclass(frozen=True, slots=True)
class Mended:
    """The rows of a case as they should be, and a line for each thing that is not as it was saved."""

    head: dict[str, Any]
    versions: tuple[dict[str, Any], ...]
    told: tuple[str, ...]


def mended(kept: Kept, spare: Kept | None = None, form: str | None = None) -> Mended | None:
    """The case mended; ``spare``: the same case in a backup, ``form``: what its source last said of it. ``None`` where
    there is nothing to mend it with."""
    told: list[str] = []
    own, other = _sound(kept), _sound(spare) if spare else {}
    last = max({*own, *other}, default=0)
    stated = kept.head["revision"] if kept.head else None
    if stated == last + 1 and last:
        last += 1  # the latest version is lost altogether
    if not last:
        return _from_form(kept, form)
    history: list[dict[str, Any]] = []
    for revision in range(1, last + 1):
        if revision in own:
            history.append(own[revision])
        elif revision in other:
            history.append({**other[revision], "seq": None})
            told.append(f"revision {revision}: taken from the backup")
        else:
            near = min((one for one in {**other, **own}), key=lambda one: (abs(one - revision), one))
            state = _state(kept) if revision == last else None
            history.append(_in_place_of(revision, own.get(near) or other[near], state))
            told.append(f"revision {revision}: lost; revision {near} stands in its place")
    head = documents.columns(documents.load(history[-1]["document"])).row()
    serving = serving_by(history)
    if kept.head is not None and kept.head["serving"] is None and not told:
        serving = None  # approvals of before this was recorded did not outlive an edit
    head |= {"revision": last, "updated_at": history[-1]["at"], "serving": serving}
    if kept.head is not None and not told and any(kept.head[name] != value for name, value in head.items()):
        told.append("its columns were worked out again from its versions")
    return Mended(head, tuple(history), tuple(told))


def _sound(kept: Kept) -> dict[int, dict[str, Any]]:
    return {
        version["revision"]: version
        for version in kept.versions
        if isinstance(version["revision"], int)
        and version["revision"] > 0
        and version["kind"] in KINDS
        and not fault_of_version(kept.case_id, version)
    }


def _state(kept: Kept) -> str:
    """A lost latest version never brings an approval back by itself, nor takes a retirement away."""
    state = kept.head["status"] if kept.head else None
    return "retired" if state == "retired" else "draft"


def _in_place_of(revision: int, near: Mapping[str, Any], state: str | None) -> dict[str, Any]:
    document = near["document"]
    if state is not None:
        data = orjson.loads(document)
        if (data.get("review") or {}).get("status", "draft") != state:
            data["review"] = {**(data.get("review") or {}), "status": state}
            document = orjson.dumps(data, option=orjson.OPT_SORT_KEYS).decode()
    why = f"this version was damaged and lost; revision {near['revision']} stands in its place"
    return {
        "seq": None, "case_id": near["case_id"], "revision": revision, "kind": "lost", "who": "repair", "at": now(),
        "why": why, "document": document, "checksum": documents.checksum(document),
    }  # fmt: skip


def _from_form(kept: Kept, form: str | None) -> Mended | None:
    if form is None or not isinstance(kept.case_id, str):
        return None
    data = orjson.loads(form)
    data["review"] = {**(data.get("review") or {}), "status": "draft"}
    document = orjson.dumps(data, option=orjson.OPT_SORT_KEYS).decode()
    lost = {"case_id": kept.case_id, "revision": 1, "document": document}
    why = "every version was lost; what its source last said stands in its place, as a draft"
    version = _in_place_of(1, lost, None) | {"why": why}
    head = documents.columns(documents.load(document)).row()
    head |= {"revision": 1, "updated_at": version["at"], "serving": None}
    return Mended(head, (version,), (why,))
