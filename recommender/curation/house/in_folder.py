"""Profile files, and those adopted for a library that cannot keep them itself (a folder of cases, the packaged demo).

They stand in a folder for each such library below ``RPD_CASEBOOK_PROFILES``, else below ``profiles/`` beside the
configuration file: ``0001.yaml`` onwards, and ``current``, which holds a number, or nothing after a profile was taken
back. An adoption writes a whole new file and then replaces ``current``; nothing is ever deleted.
"""

import hashlib
import os
import re
from pathlib import Path

from recommender.domain import limits, parsing
from recommender.domain.errors import CaseError, Problem
from recommender.domain.validation import read_model
from recommender.domain.writing import write_whole
from recommender.knowledge.house import Profile
from recommender.precedents.store.opening import configuration_file

ENVIRONMENT = "RPD_CASEBOOK_PROFILES"
_CURRENT = "current"
_NUMBER = re.compile(r"[0-9]{4,6}")
_HEAD = """\
# A house profile: what this library's own approved cases say about its hand. An educator may change any figure, and
# adopt the file anew. Points are on the 0-100 scale of the house's own criterion, which counts `counts` beside about
# 100 for all others together.
"""


def parsed(path: Path) -> Profile:
    """A profile file, within the limits for files that people hand in. ``CaseError`` tells everything that is wrong."""
    name = str(path)
    try:
        document = parsing.parse(limits.decode(limits.read_bytes(path), name), name)
    except OSError as error:
        raise CaseError(
            [Problem(name, "", f"cannot be read ({error.strerror})", "a profile file")], name
        ) from error
    problems = list(document.problems)
    found = None if problems else read_model(Profile, document.value, document.at, problems)
    if found is None:
        raise CaseError(problems, path.name)
    return found


def text_of(profile: Profile) -> str:
    """A profile as the text of its file."""
    import yaml

    plain = profile.model_dump(mode="json", exclude_defaults=True)
    return _HEAD + yaml.safe_dump({"format": 1, **plain}, sort_keys=False, width=110)


def write(profile: Profile, path: Path) -> None:
    """Writes a profile file, whole or not at all. ``OSError`` where it cannot be written."""
    write_whole(path, text_of(profile).encode())


class Folder:
    """The adopted profiles of one library; ``library`` is its address."""

    def __init__(self, library: str) -> None:
        home = os.environ.get(ENVIRONMENT)
        base = Path(home) if home else configuration_file().parent / "profiles"
        self.path = base / hashlib.blake2b(library.encode(), digest_size=8).hexdigest()

    def current(self) -> Profile | None:
        """The profile that counts."""
        number = self._current()
        return parsed(self.path / f"{number}.yaml") if number else None

    def kept(self) -> list[tuple[str, Profile, bool]]:
        """Number, profile, and whether it counts; the latest first."""
        number = self._current()
        return [
            (path.stem, parsed(path), path.stem == number) for path in sorted(self._files(), reverse=True)
        ]

    def adopt(self, profile: Profile, who: str) -> str:
        """Makes a profile count; returns its number. ``OSError`` where it cannot be written; nothing changes then."""
        del who  # a folder has no history
        self.path.mkdir(parents=True, exist_ok=True)
        while True:
            last = max((int(path.stem) for path in self._files()), default=0)
            path = self.path / f"{last + 1:04d}.yaml"
            try:
                path.touch(exist_ok=False)
            except FileExistsError:
                continue  # somebody else took the number
            break
        try:
            write(profile, path)
            self._point(path.stem)
        except OSError:
            path.unlink(missing_ok=True)
            raise
        return path.stem

    def adopt_again(self, number: str, who: str) -> None:
        """Makes an earlier one count. ``KeyError`` where there is none of that number."""
        del who
        if number not in {path.stem for path in self._files()}:
            raise KeyError(number)
        self._point(number)

    def take_back(self, who: str) -> None:
        """From now on none counts."""
        del who
        self._point("")

    def _files(self) -> list[Path]:
        return [path for path in self.path.glob("*.yaml") if _NUMBER.fullmatch(path.stem)]

    def _point(self, number: str) -> None:
        write_whole(self.path / _CURRENT, f"{number}\n".encode())

    def _current(self) -> str | None:
        try:
            number = (self.path / _CURRENT).read_text(encoding="utf-8").strip()
        except FileNotFoundError:
            return None
        if number and not _NUMBER.fullmatch(number):
            raise CaseError(
                [Problem(str(self.path / _CURRENT), "", number[:20], "the number of a profile")],
                self.path.name,
            )
        return number or None
