"""Working copies of cases on disk, so that a reload, a closed tab or a stopped server loses nothing.

One JSON file a case in the user's cache folder, named by the case id, written through a temporary file and a
rename. Each file carries a revision; who saves says which revision they last saw, and a file that somebody
else has changed since is not written over (:class:`ChangedElsewhere`). Only the user can read the files.
"""

import contextlib
import os
import re
import tempfile
import threading
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any

import orjson

from recommender.domain.case import Case
from recommender.screens.session import person

ENVIRONMENT = "RPD_CASEBOOK_DRAFTS"
_ID = re.compile(r"[A-Za-z0-9_-]{1,80}")
_LOCK = threading.Lock()


@dataclass(frozen=True, slots=True)
class Draft:
    """A case as it was last saved. ``choices`` maps decision keys to what the designer chose there.

    ``history`` is what can be undone, as :mod:`~recommender.screens.session.history` packs it.
    """

    case: Case
    revision: int
    saved_at: str
    choices: Mapping[str, Any] = field(default_factory=dict)
    history: Sequence[Mapping[str, Any]] = ()


class DraftError(Exception):
    """A working copy that cannot be read or written; the message names the file."""


class ChangedElsewhere(DraftError):  # noqa: N818 - it is a state of affairs more than an error
    """Another tab or window saved this case since it was last read here."""

    def __init__(self, stored: Draft) -> None:
        super().__init__(f"{stored.case.id} was changed elsewhere at {stored.saved_at}")
        self.stored = stored


def folder() -> Path:
    """Where working copies stand: ``RPD_CASEBOOK_DRAFTS``, else the user's cache folder; in a team each has one."""
    named = os.environ.get(ENVIRONMENT)
    base = os.environ.get("XDG_CACHE_HOME") or os.environ.get("LOCALAPPDATA") or str(Path.home() / ".cache")
    return (Path(named) if named else Path(base) / "rpd-casebook" / "drafts") / person.folder()


def load(case_id: str) -> Draft | None:
    """The working copy of a case, ``None`` where there is none. Raises ``DraftError`` for a damaged file."""
    if not _ID.fullmatch(case_id):
        return None
    path = _path(case_id)
    try:
        data = path.read_bytes()
    except FileNotFoundError:
        return None
    except OSError as error:
        raise DraftError(f"{path}: {error.strerror}") from error
    try:
        kept = orjson.loads(data)
        case = Case.model_validate(kept["case"])
        choices, history = dict(kept.get("choices") or {}), list(kept.get("history") or ())
        return Draft(case, int(kept["revision"]), str(kept["saved_at"]), choices, history)
    except (ValueError, KeyError, TypeError) as error:
        raise DraftError(f"{path}: not a working copy of this program") from error


def save(
    case: Case,
    seen: int,
    choices: Mapping[str, Any] | None = None,
    history: Sequence[Mapping[str, Any]] = (),
) -> Draft:
    """Save a case that was last seen at revision ``seen`` (0: never saved).

    Raises ``ChangedElsewhere`` if the file holds another revision, ``DraftError`` if it cannot be written.
    """
    path = _path(case.id)
    with _LOCK:
        stored = load(case.id)
        if (stored.revision if stored else 0) != seen and stored is not None:
            raise ChangedElsewhere(stored)
        now = datetime.now().astimezone().isoformat(timespec="seconds")
        draft = Draft(case, seen + 1, now, dict(choices or {}), history)
        kept = {
            "revision": draft.revision,
            "saved_at": now,
            "case": case.model_dump(mode="json", exclude_none=True),
            "choices": draft.choices,
            "history": history,
        }
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            _write(path, orjson.dumps(kept, option=orjson.OPT_NON_STR_KEYS))
        except OSError as error:
            raise DraftError(f"{path}: {error.strerror}") from error
    return draft


def revision(case_id: str) -> int:
    """The stored revision, 0 where there is no readable working copy."""
    with contextlib.suppress(DraftError):
        draft = load(case_id)
        return draft.revision if draft else 0
    return 0


def kept() -> list[tuple[str, str, datetime]]:
    """Every working copy as (id, title, when it was saved), newest first; damaged ones are left out."""
    found = []
    for path in folder().glob("*.json") if folder().is_dir() else ():
        with contextlib.suppress(DraftError):
            draft = load(path.stem)
            if draft is not None:
                found.append((draft.case.id, draft.case.title or "", datetime.fromisoformat(draft.saved_at)))
    return sorted(found, key=lambda item: item[2], reverse=True)


def discard(case_id: str) -> None:
    """Delete a working copy (nothing happens where there is none)."""
    _path(case_id).unlink(missing_ok=True)


def _path(case_id: str) -> Path:
    if not _ID.fullmatch(case_id):
        raise DraftError(f"{case_id!r} is no case id: 1 to 80 letters, digits, - and _")
    return folder() / f"{case_id}.json"


def _write(path: Path, data: bytes) -> None:
    handle, name = tempfile.mkstemp(prefix=f".{path.stem}-", dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        Path(name).replace(path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
