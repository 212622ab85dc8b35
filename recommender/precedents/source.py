"""Where stored cases come from: one small interface, and a folder of case files as its simplest form."""

import hashlib
from collections.abc import Iterator
from pathlib import Path
from typing import Protocol

from recommender.domain import reader
from recommender.domain.case import Case
from recommender.domain.errors import CaseError
from recommender.resources import read_yaml


class CaseSource(Protocol):
    """Stored cases, read-only. ``version`` changes whenever any case does."""

    def cases(self) -> Iterator[Case]:
        """Every case, in order of id."""
        ...

    def ids(self) -> list[str]:
        """Every id, in order."""
        ...

    def get(self, case_id: str) -> Case:
        """One case; ``KeyError`` if there is none of that id."""
        ...

    def version(self) -> str:
        """A stamp of the content."""
        ...


class NoCases:
    """The empty library (``--library none``)."""

    def cases(self) -> Iterator[Case]:
        """Nothing."""
        return iter(())

    def ids(self) -> list[str]:
        """Nothing."""
        return []

    def get(self, case_id: str) -> Case:
        """Always ``KeyError``."""
        raise KeyError(case_id)

    def version(self) -> str:
        """Always the same."""
        return "none"


class FolderSource:
    """The case files (YAML or JSON) of a folder and the folders in it, read once, when first asked for.

    A faulty file, or an id that stands in two files, raises ``CaseError`` that names the file. ``trusted``
    files (the packaged ones, checked by the project's tests) are read by the fast loader, which keeps no
    line numbers.
    """

    def __init__(self, folder: Path, *, trusted: bool = False) -> None:
        self.folder = folder
        self._trusted = trusted
        self._cases: dict[str, Case] | None = None
        self._version = ""

    def cases(self) -> Iterator[Case]:
        """Every case, in order of id."""
        return iter(self._read().values())

    def ids(self) -> list[str]:
        """Every id, in order."""
        return list(self._read())

    def get(self, case_id: str) -> Case:
        """One case; ``KeyError`` if there is none of that id."""
        return self._read()[case_id]

    def version(self) -> str:
        """Digest of names and contents of the files."""
        self._read()
        return self._version

    def _read(self) -> dict[str, Case]:
        if self._cases is not None:
            return self._cases
        digest = hashlib.blake2b(digest_size=12)
        found: dict[str, tuple[Case, Path]] = {}
        for path in reader.case_files(self.folder):
            content = path.read_bytes()
            digest.update(f"{path.relative_to(self.folder).as_posix()}\0{len(content)}\0".encode())
            digest.update(content)
            case = _quick(content, path) if self._trusted else reader.read_bytes(content, str(path))
            if case.id in found:
                raise _twice(case.id, path, found[case.id][1])
            found[case.id] = case, path
        self._version = digest.hexdigest()
        self._cases = {key: found[key][0] for key in sorted(found)}
        return self._cases


def _quick(content: bytes, path: Path) -> Case:
    """A case of our own, read without keeping lines; any trouble is reported by the careful reader."""
    import yaml

    try:
        return Case.model_validate(read_yaml(content))
    except (ValueError, yaml.YAMLError):
        return reader.read_bytes(content, str(path))


def _twice(case_id: str, path: Path, other: Path) -> CaseError:
    from recommender.domain.errors import Problem

    problem = Problem(str(path), "id", case_id, "an id of its own", f"{other} has the same")
    return CaseError([problem], case_id)


def latest_cases(source: CaseSource) -> Iterator[Case]:
    """Every case in its latest version, also where an approved one goes on serving while a change of it waits."""
    latest = getattr(source, "latest", source.cases)
    found: Iterator[Case] = latest()
    return found


def latest_of(source: CaseSource, case_id: str) -> Case:
    """One case in its latest version; ``KeyError`` if there is none of that id."""
    latest = getattr(source, "latest_of", source.get)
    found: Case = latest(case_id)
    return found


class DemoSource(FolderSource):
    """The packaged demo library: invented cases of an invented laboratory."""

    def __init__(self) -> None:
        from recommender.resources import demo_library

        super().__init__(demo_library(), trusted=True)


def demo_source() -> DemoSource:
    """The packaged demo library."""
    return DemoSource()
