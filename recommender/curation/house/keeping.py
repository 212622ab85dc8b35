"""Profiles that were adopted for a library: numbered files, and which of them counts.

They stand in a folder for each library below ``RPD_CASEBOOK_PROFILES``, else below ``profiles/`` beside the
configuration file: ``0001.yaml`` onwards, and ``current``, which holds a number, or nothing after a profile was taken
back. An adoption writes a whole new file and then replaces ``current``; nothing is ever deleted, so that each can be
adopted again.
"""

import hashlib
import os
import re
from dataclasses import dataclass
from pathlib import Path
from uuid import uuid4

from recommender.domain import limits, parsing
from recommender.domain.errors import CaseError, Problem
from recommender.domain.validation import read_model
from recommender.knowledge.house import Profile, ProfileError, in_house
from recommender.knowledge.in_force import knowledge
from recommender.knowledge.model import Knowledge
from recommender.precedents.store.opening import configuration_file

ENVIRONMENT = "RPD_CASEBOOK_PROFILES"
ADOPTED = "adopted"
NONE = "none"
_CURRENT = "current"
_NUMBER = re.compile(r"[0-9]{4,6}")
_PUT_IN: dict[str, tuple[Knowledge, Knowledge]] = {}
_HEAD = """\
# A house profile: what this library's own approved cases say about its hand. An educator may change any figure, and
# adopt the file anew. Points are on the 0-100 scale of the house's own criterion, which counts `counts` beside about
# 100 for all others together.
"""


@dataclass(frozen=True, slots=True)
class Kept:
    """A profile that was adopted once: its number, its file, and whether it is the one that counts."""

    number: str
    path: Path
    profile: Profile
    counts: bool


def folder_of(library: str) -> Path:
    """Where the profiles of a library are kept; ``library`` is its address."""
    home = os.environ.get(ENVIRONMENT)
    base = Path(home) if home else configuration_file().parent / "profiles"
    return base / hashlib.blake2b(library.encode(), digest_size=8).hexdigest()


def read(path: Path) -> Profile:
    """A profile file, within the limits for files that people hand in. ``CaseError`` tells everything that is wrong."""
    name = str(path)
    try:
        document = parsing.parse(limits.decode(limits.read_bytes(path), name), name)
    except OSError as error:
        raise CaseError([Problem(name, "", f"cannot be read ({error.strerror})", "a profile file")], name) from error
    problems = list(document.problems)
    found = None if problems else read_model(Profile, document.value, document.at, problems)
    if found is None:
        raise CaseError(problems, path.name)
    try:
        _put_in(found)
    except ProfileError as error:
        raise CaseError([Problem(name, "", str(error), "what the knowledge in force knows")], path.name) from error
    return found


def text_of(profile: Profile) -> str:
    """A profile as the text of its file."""
    import yaml

    plain = profile.model_dump(mode="json", exclude_defaults=True)
    return _HEAD + yaml.safe_dump({"format": 1, **plain}, sort_keys=False, width=110)


def write(profile: Profile, path: Path) -> None:
    """Writes a profile file, whole or not at all. ``OSError`` where it cannot be written."""
    _put(path, text_of(profile))


def _put(path: Path, text: str) -> None:
    part = path.with_name(f".{path.name}.{uuid4().hex[:8]}.part")
    try:
        part.write_text(text, encoding="utf-8")
        os.replace(part, path)
    finally:
        part.unlink(missing_ok=True)


def kept(library: str) -> list[Kept]:
    """Every profile ever adopted for a library, the latest first."""
    folder = folder_of(library)
    number = _current(folder)
    files = sorted((path for path in folder.glob("*.yaml") if _NUMBER.fullmatch(path.stem)), reverse=True)
    return [Kept(path.stem, path, read(path), path.stem == number) for path in files]


def adopted(library: str) -> Profile | None:
    """The profile that counts for a library, or ``None``. ``CaseError`` where its file was damaged."""
    folder = folder_of(library)
    number = _current(folder)
    return read(folder / f"{number}.yaml") if number else None


def _current(folder: Path) -> str | None:
    try:
        number = (folder / _CURRENT).read_text(encoding="utf-8").strip()
    except FileNotFoundError:
        return None
    if number and not _NUMBER.fullmatch(number):
        raise CaseError(
            [Problem(str(folder / _CURRENT), "", number[:20], "the number of a profile")], folder.name
        )
    return number or None


def adopt(library: str, profile: Profile) -> Kept:
    """Makes a profile count for a library. ``OSError`` where it cannot be written; nothing changes then."""
    folder = folder_of(library)
    folder.mkdir(parents=True, exist_ok=True)
    while True:
        last = max((int(path.stem) for path in folder.glob("*.yaml") if _NUMBER.fullmatch(path.stem)), default=0)
        path = folder / f"{last + 1:04d}.yaml"
        try:
            path.touch(exist_ok=False)
        except FileExistsError:
            continue  # somebody else took the number
        break
    try:
        write(profile, path)
        _point(folder, path.stem)
    except OSError:
        path.unlink(missing_ok=True)
        raise
    return Kept(path.stem, path, profile, True)


def adopt_again(library: str, number: str) -> Kept:
    """Makes an earlier profile count again. ``KeyError`` where there is none of that number."""
    found = next((one for one in kept(library) if one.number == number), None)
    if found is None:
        raise KeyError(number)
    _point(folder_of(library), number)
    return found


def take_back(library: str) -> bool:
    """From now on no profile counts for the library; ``False`` where none did."""
    folder = folder_of(library)
    if _current(folder) is None:
        return False
    _point(folder, "")
    return True


def _point(folder: Path, number: str) -> None:
    _put(folder / _CURRENT, f"{number}\n")


def knowledge_of(library: str, profile: str = ADOPTED) -> Knowledge:
    """The knowledge in force with a profile put in: ``adopted`` that of the library, ``none`` none, else a file's."""
    if profile == NONE or (profile == ADOPTED and library == NONE):
        return knowledge()
    found = adopted(library) if profile == ADOPTED else read(Path(profile))
    return knowledge() if found is None else _put_in(found)


def _put_in(profile: Profile) -> Knowledge:
    """The knowledge in force with a profile, put together once for each."""
    base = knowledge()
    held = _PUT_IN.get(profile.digest)
    if held is None or held[0] is not base:
        held = _PUT_IN[profile.digest] = base, in_house(base, profile)
    return held[1]
