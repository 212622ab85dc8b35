"""Hostile input for the import: a mutating fuzzer that is led by coverage, and what has to hold for every input.

For every input: the only errors are those made for a user; a refused import leaves the library as it was; an
accepted one leaves every reported case there, whole. Inputs that reach lines of the package not reached before are
kept and mutated further (the method of coverage-guided fuzzers; tracing as in the standard library's ``trace``).
"""

import contextlib
import io
import random
import sys
import zipfile
import zlib
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from types import FrameType
from typing import Any

from recommender.precedents.store.databases import create_database
from recommender.precedents.store.exporting import export
from recommender.precedents.store.importing import columns, sheets
from recommender.precedents.store.importing import rows as incoming
from recommender.precedents.store.importing.batch import dry_run, import_all
from recommender.precedents.store.importing.reports import ImportRefused, Report, Terms
from recommender.precedents.store.importing.rows import BadSource
from recommender.precedents.store.library import Library
from tests.store.invented import invented_cases

TERMS = Terms("KM", "fuzzing")
TOKENS = [
    b"null", b"true", b"-1", b"1e309", b"0012", b"90+", b"[]", b"{}", b"&a ", b"*a", b"<<: ",
    b"!!python/object:os.system", b"---\n", b"\t", b"\x00", b"\xff\xfe", b"\xef\xbb\xbf", b"\xed\xa0\x80",
    b"=1+1", b"'", b'"', b"\n", b"\r\n", b",", b";", b"abutments[1].tooth", b"abutments[64].tooth",
    b"missing[1]", b"spans[1].clearance_mm.15", b"numbering", b"universal", b"99999999999999999999",
    b"0.25 mm", b"maxilla", b"mandible", b"id", b"../", b"PK\x03\x04", b": ", b"- ", b"#", b"%YAML",
    b"\\u0000", b"\\ud800", b"NaN", b"Infinity", b"[[[[[[[[[[[[", b"{{{{{{", b"a" * 300,
]  # fmt: skip
TRACED = 0.1
_PACKAGE = str(Path(incoming.__file__).resolve().parents[3])


def corpus(folder: Path) -> list[tuple[str, bytes]]:
    """Sound inputs of every kind, as (ending, bytes)."""
    cases = list(invented_cases(3, seed=31))
    found = [(".yaml", export.as_yaml(case)) for case in cases] + [
        (".json", export.as_json(cases[0]))
    ]
    found.append(
        (".yaml", b"format: 1\nid: a\narch: maxilla\nmissing: [15, 16]\nnumbering: iso\npatient: {age: 95}\n")
    )
    found.append(
        (
            ".csv",
            b"id,arch,missing,patient.age,abutments[1].tooth\na,maxilla,15 16,58,14\nb,mandible,36,90+,\n",
        )
    )
    for name, write in (
        ("c.jsonl", lambda path: export.to_lines(cases, path)),
        ("c.csv", lambda path: export.to_csv(lambda: iter(cases), path)),
        ("c.xlsx", lambda path: export.to_xlsx(lambda: iter(cases[:1]), path)),
        ("c.zip", lambda path: export.to_zip(cases[:2], path, "yaml")),
    ):
        write(folder / name)
        found.append((Path(name).suffix, (folder / name).read_bytes()))
    return found


def mutated(data: bytes, other: bytes, chance: random.Random) -> bytes:
    """The input with one to six small changes."""
    changed = bytearray(data)
    for _ in range(chance.choice([1, 1, 1, 2, 3, 6])):
        place = chance.randrange(len(changed) + 1)
        match chance.randrange(7):
            case 0 if changed:
                changed[place % len(changed)] ^= 1 << chance.randrange(8)
            case 1:
                changed[place:place] = chance.choice(TOKENS)
            case 2:
                del changed[place : place + chance.randint(1, 20)]
            case 3:
                changed[place:place] = changed[place : place + chance.randint(1, 40)]
            case 4 if other:
                start = chance.randrange(len(other))
                changed[place : place + chance.randint(0, 30)] = other[start : start + chance.randint(1, 60)]
            case 5:
                changed[place : place + chance.randint(1, 8)] = chance.choice(TOKENS)
            case 6:
                lines = bytes(changed).split(b"\n")
                chance.shuffle(lines)
                changed = bytearray(b"\n".join(lines))
    return bytes(changed[:200_000])


def changed(ending: str, data: bytes, other: bytes, chance: random.Random) -> bytes:
    """The input changed; mostly behind what would have it refused at the door (headings, an archive's own checks)."""
    if ending == ".csv" and chance.random() < 0.7:
        head, _, rest = data.partition(b"\n")
        return head + b"\n" + mutated(rest, other, chance)
    if ending in (".zip", ".xlsx") and chance.random() < 0.8:
        with contextlib.suppress(
            zipfile.BadZipFile, NotImplementedError, ValueError, OSError, zlib.error, EOFError
        ):
            return _inside(data, other, chance)
    return mutated(data, other, chance)


def _inside(data: bytes, other: bytes, chance: random.Random) -> bytes:
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        members = {name: archive.read(name) for name in archive.namelist()}
    likely = [name for name in members if "sheet" in name or "Strings" in name or name.endswith(".yaml")]
    name = chance.choice(likely or list(members))
    members[name] = mutated(members[name], other, chance)
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        for member, content in members.items():
            archive.writestr(member, content)
    return packed.getvalue()


def rows_of(path: Path) -> Any:
    """Rows of a file, as the import command reads it."""
    if path.suffix in sheets.SUFFIXES:
        return sheets.rows(path, columns.understand(str(path), sheets.headings(path), {}))
    return incoming.rows(path)


def try_one(library: Library, path: Path, always: bool) -> str:
    """Puts one input through; returns what came of it. Raises ``AssertionError`` where something does not hold."""
    before = library.version()
    seen: list[Report] = []
    try:
        summary = dry_run(library, rows_of(path), TERMS, seen.append)
    except BadSource as error:
        told = str(error)
    else:
        told = ""
    if told:
        assert library.version() == before
        return "refused as a whole"
    assert library.version() == before, "a dry run wrote"
    assert all(str(problem) for report in seen for problem in report.problems)
    wanted = [report.case_id for report in seen if report.verdict in ("new", "changed", "near_duplicate")]
    if not always and not wanted:
        return "invalid" if summary.counts["invalid"] else "nothing new"
    try:
        written = import_all(library, rows_of(path), TERMS, lambda _report: None).written
    except ImportRefused:
        assert summary.refused
        assert library.version() == before, "a refused import wrote"
        return "invalid" if summary.counts["invalid"] else "refused"
    assert written == len(wanted)
    for case_id in wanted:
        version = library.get(str(case_id))
        assert version.intact
        assert version.case.id == case_id
    return "imported"


@dataclass(slots=True)
class Led:
    """The fuzzer: ``kept`` inputs, and the ``reached`` lines of the package."""

    folder: Path
    seed: int = 1
    kept: list[tuple[str, bytes]] = field(default_factory=list)
    reached: set[tuple[str, int]] = field(default_factory=set)
    outcomes: Counter[str] = field(default_factory=Counter)

    def run(self, inputs: int, step: Callable[[int], None] = lambda _done: None) -> None:
        """Puts so many inputs through; any failure is raised, its input left in the folder as ``failing.*``."""
        chance = random.Random(self.seed)
        self.kept = corpus(self.folder)
        library: Library | None = None
        for number in range(inputs):
            if number % 400 == 0:
                if library is not None:
                    library.close()
                library = create_database(str(self.folder / f"fuzz-{self.seed}-{number}.db"))
            ending, data = chance.choice(self.kept)
            if number >= len(self.kept) or number >= 10:
                data = changed(ending, data, chance.choice(self.kept)[1], chance)
            path = self.folder / f"failing-{self.seed}{ending}"
            path.write_bytes(data)
            assert library is not None
            always = chance.random() < 0.1
            work: Callable[[], str] = lambda lib=library, p=path, a=always: try_one(lib, p, a)  # noqa: E731
            # tracing is slow: a share of the inputs leads, the others follow
            traced = number < 100 or chance.random() < TRACED
            outcome, new = self._traced(work) if traced else (work(), False)
            self.outcomes[f"{ending} {outcome}"] += 1
            if new and len(data) < 20_000:
                self.kept.append((ending, data))
            step(number + 1)
        if library is not None:
            library.close()
        path.unlink()

    def _traced(self, work: Callable[[], str]) -> tuple[str, bool]:
        found: set[tuple[str, int]] = set()

        def lines(frame: FrameType, event: str, _argument: Any) -> Any:
            if event == "line":
                found.add((frame.f_code.co_filename, frame.f_lineno))
            return lines

        def calls(frame: FrameType, _event: str, _argument: Any) -> Any:
            return lines if frame.f_code.co_filename.startswith(_PACKAGE) else None

        sys.settrace(calls)
        try:
            outcome = work()
        finally:
            sys.settrace(None)
        new = not found <= self.reached
        self.reached |= found
        return outcome, new
