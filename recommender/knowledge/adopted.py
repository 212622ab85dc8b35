"""Rules that an educator adopted in place of the packaged ones, which stay as they are.

``RPD_CASEBOOK_RULES`` names a draft folder (see ``drafts``) in which something was adopted. Beside the draft
stands ``adopted/``: a numbered folder for each adoption, with the rules, the criteria and who adopted them
when and why, and the file ``adopted/current``, which holds the number that counts. An adoption writes a whole
new folder and then replaces that one file, so that a reader sees the old rules or the new ones, never a
mixture; earlier adoptions stay and can be adopted again. Editing the draft afterwards changes nothing until
it is adopted.
"""

import hashlib
import os
import re
import shutil
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import lru_cache
from pathlib import Path
from uuid import uuid4

import orjson

from recommender.domain.errors import CaseError, Problem
from recommender.knowledge import drafts
from recommender.knowledge.drafts import CRITERIA, DraftError
from recommender.knowledge.model import Knowledge
from recommender.knowledge.packaged import RULES_ENVIRONMENT
from recommender.privacy.gate import first_in

FOLDER = "adopted"
CURRENT = "current"
RECORD = "adoption.json"
_NUMBER = re.compile(r"[0-9]{4,6}")
_WHO = re.compile(r"[A-Za-z][A-Za-z0-9 ._/-]{0,39}")


@dataclass(frozen=True, slots=True)
class Adoption:
    """One adopted rule set: its number, who adopted it when (UTC) and why, and a digest of its files."""

    folder: Path
    number: str
    who: str
    at: str
    why: str
    digest: str


def current(folder: Path) -> Adoption | None:
    """The adoption that counts in a draft folder, or ``None`` where nothing was adopted yet.

    Raises ``DraftError`` for a damaged record.
    """
    pointer = folder / FOLDER / CURRENT
    if not pointer.is_file():
        return None
    number = pointer.read_text(encoding="utf-8").strip()
    if not _NUMBER.fullmatch(number):
        raise DraftError(f"{pointer}: found {number[:20]!r}; allowed the number of an adoption")
    return _record(folder / FOLDER / number)


def history(folder: Path) -> list[Adoption]:
    """Every adoption of a draft folder, the latest first. Raises ``DraftError`` for a damaged record."""
    made = (path for path in (folder / FOLDER).glob("*") if _NUMBER.fullmatch(path.name))
    return [_record(path) for path in sorted(made, reverse=True)]


def _record(path: Path) -> Adoption:
    try:
        kept = orjson.loads((path / RECORD).read_bytes())
        return Adoption(path, path.name, kept["who"], kept["at"], kept["why"], kept["digest"])
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise DraftError(f"{path / RECORD}: cannot be read ({error}); adopt the draft again") from error


def adopt(folder: Path, *, who: str, why: str) -> Adoption:
    """Adopts the draft as it stands. Raises ``DraftError`` where it has problems, or cannot be written."""
    found = drafts.read(folder)
    if found.problems:
        raise DraftError(
            f"{folder}: {len(found.problems)} problems; nothing was adopted. The first: {found.problems[0]}"
        )
    return _put(folder, folder, who, why)


def adopt_again(folder: Path, number: str, *, who: str, why: str) -> Adoption:
    """Makes an earlier adoption count again, as a new one. Raises ``DraftError``."""
    earlier = folder / FOLDER / number
    if not _NUMBER.fullmatch(number) or not drafts.is_draft(earlier):
        raise DraftError(f"{folder}: no adoption {number}")
    read(_record(earlier))
    return _put(folder, earlier, who, why)


def _put(folder: Path, source: Path, who: str, why: str) -> Adoption:
    found = first_in(who)
    if not _WHO.fullmatch(who.strip()) or (
        found is not None and (found.kind != "name" or " " in found.words)
    ):
        raise DraftError(
            "who: give a role or initials, 1 to 40 letters, digits, spaces and . _ / - (never a patient)"
        )
    if not why.strip():
        raise DraftError("why: say in a few words why these rules are adopted; it is kept with them")
    found = first_in(why)
    if found is not None:
        raise DraftError(f"why: it holds {found.label} ({found.words!r}); write it without")
    home = folder / FOLDER
    part = home / f".{uuid4().hex[:8]}.part"
    at = datetime.now(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")
    try:
        home.mkdir(exist_ok=True)
        drafts.copy_rules(source, part)
        if drafts.read(part).problems:  # the draft was changed in between
            raise DraftError(f"{folder}: changed while it was being adopted; nothing was adopted")
        kept = {"who": who.strip(), "at": at, "why": why.strip(), "digest": digest(part)}
        (part / RECORD).write_bytes(orjson.dumps(kept, option=orjson.OPT_INDENT_2) + b"\n")
        made = _settle(home, part)
        pointer = home / f".{uuid4().hex[:8]}.part"
        pointer.write_text(made.name + "\n", encoding="utf-8")
        os.replace(pointer, home / CURRENT)
    except OSError as error:
        raise DraftError(f"{home}: cannot be written ({error.strerror}); nothing was adopted") from error
    finally:
        shutil.rmtree(part, ignore_errors=True)
    return _record(made)


def _settle(home: Path, part: Path) -> Path:
    while True:
        last = max((int(path.name) for path in home.glob("*") if _NUMBER.fullmatch(path.name)), default=0)
        target = home / f"{last + 1:04d}"
        try:
            os.rename(part, target)
        except OSError:
            if not target.exists():
                raise
            continue  # somebody else took the number; the next one is tried
        return target


def digest(folder: Path) -> str:
    """SHA-256 over names and bytes of the rules, the criteria and the figures in a folder."""
    total = hashlib.sha256()
    named = [(path.name, path) for path in [*drafts.rule_files(folder), folder / CRITERIA]]
    for name, path in [
        *named,
        *((f"{drafts.FIGURES}/{name}", path) for name, path in drafts.figure_files(folder)),
    ]:
        data = path.read_bytes()
        total.update(f"{name}\0{len(data)}\0".encode())
        total.update(data)
    return total.hexdigest()


def read(adoption: Adoption) -> Knowledge:
    """The knowledge of an adoption. Raises ``CaseError`` where its files were changed since, or do not fit."""
    return _read(adoption.folder, adoption.digest)


@lru_cache(maxsize=4)
def _read(folder: Path, expected: str) -> Knowledge:
    if digest(folder) != expected:
        raise CaseError(
            [Problem(str(folder), "", "files changed since they were adopted", "the files as adopted",
                     "change the draft and adopt it anew")],
            folder.name,
        )  # fmt: skip
    found = drafts.read(folder)
    if found.knowledge is None:
        raise CaseError(found.problems, folder.name)
    return found.knowledge


def forget() -> None:
    """Drop what was read, so that changed files are seen."""
    _read.cache_clear()


def knowledge(folder: Path) -> Knowledge:
    """What the adopted rules of a draft folder teach. Raises ``CaseError`` where nothing was adopted there."""
    try:
        found = current(folder)
    except DraftError as error:
        raise CaseError([Problem(str(folder), "", str(error), "an adopted rule set")], folder.name) from error
    if found is None:
        raise CaseError(
            [Problem(str(folder), RULES_ENVIRONMENT, "a folder in which nothing was adopted",
                     "a draft folder with an adopted rule set, or nothing for the packaged rules",
                     "adopt the draft on the page of the rules")],
            folder.name,
        )  # fmt: skip
    return read(found)
