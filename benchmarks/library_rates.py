"""Import and export rates of the case library, with memory: one line of JSON for each measurement.

    python benchmarks/library_rates.py --cases 100000 [--url postgresql://…] [--forms jsonl,csv,zip-json,…]

Cases are drawn by chance (seeded) and mean nothing. Each step runs in a process of its own, so that the greatest
memory of each is its own. The database is a new SQLite file, or an empty PostgreSQL schema at the URL.
"""

import argparse
import json
import multiprocessing
import resource
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any
from uuid import uuid4

from recommender.precedents.store.backup import back_up
from recommender.precedents.store.database_source import DatabaseSource
from recommender.precedents.store.databases import create_database, open_database
from recommender.precedents.store.exporting import export
from recommender.precedents.store.importing import rows as incoming
from recommender.precedents.store.importing import sheets
from recommender.precedents.store.importing.batch import dry_run, import_all, import_valid
from recommender.precedents.store.importing.reports import Terms
from tests.store.invented import invented_cases

TERMS = Terms("bench", "measured", keep_status=True)


def measured(name: str, cases: int, work: Callable[..., Any], *arguments: Any) -> None:
    """Runs the work in a process of its own and prints seconds, processor seconds, rate and greatest memory."""
    queue = multiprocessing.get_context("spawn").Queue()
    process = multiprocessing.get_context("spawn").Process(target=_timed, args=(queue, work, arguments))
    process.start()
    seconds, busy, memory = queue.get()
    process.join()
    line = {"step": name, "cases": cases, "seconds": round(seconds, 1), "processor_seconds": round(busy, 1),
            "cases_per_second": round(cases / seconds),
            "greatest_memory_mb": round(memory)}  # fmt: skip
    print(json.dumps(line), flush=True)


def _timed(queue: Any, work: Callable[..., Any], arguments: tuple[Any, ...]) -> None:
    start = time.perf_counter()
    work(*arguments)
    used = resource.getrusage(resource.RUSAGE_SELF)
    queue.put((time.perf_counter() - start, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024))


def make(path: Path, cases: int) -> None:
    """The source: JSON Lines."""
    export.to_lines(invented_cases(cases), path)


def bring_in(where: str, path: Path, mode: str) -> None:
    """A dry run, or an import of all or of the valid rows."""
    with open_database(where, write=mode != "dry") as library:
        if path.suffix in sheets.SUFFIXES:
            rows = sheets.rows(path, sheets.understand(path, sheets.headings(path), {}))
        else:
            rows = incoming.rows(path)
        if mode == "dry":
            dry_run(library, rows, TERMS, _silent)
        elif mode == "all":
            import_all(library, rows, TERMS, _silent)
        else:
            import_valid(library, rows, TERMS, _silent, digest=incoming.digest(path), name=path.name)


def _silent(_report: object) -> None:
    return None


def take_out(where: str, path: Path, form: str) -> None:
    """An export."""
    with open_database(where) as library:
        source = DatabaseSource(library)
        match form:
            case "jsonl":
                export.to_lines(source.cases(), path)
            case "yaml" | "json":
                export.to_folder(source.cases(), path, form)
            case "csv":
                export.to_csv(source.cases, path)
            case "xlsx":
                export.to_xlsx(source.cases, path)
            case _:
                export.to_zip(source.cases(), path, form.removeprefix("zip-"))


def save_copy(where: str, path: Path) -> None:
    """A backup, verified."""
    with open_database(where) as library:
        back_up(library, path)


def main() -> None:
    """Measures on one database."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--cases", type=int, default=100_000)
    parser.add_argument("--url", default="")
    parser.add_argument("--forms", default="jsonl,csv,zip-json")
    given = parser.parse_args()
    name = "postgresql" if given.url else "sqlite"
    with tempfile.TemporaryDirectory() as folder:
        base = Path(folder)
        source = base / "source.jsonl"
        make(source, given.cases)
        where, clear = _place(given.url, base)
        create_database(where).close()
        try:
            measured(f"{name}: dry run of JSON Lines", given.cases, bring_in, where, source, "dry")
            measured(
                f"{name}: import of JSON Lines, all or nothing", given.cases, bring_in, where, source, "all"
            )
            measured(f"{name}: the same again (all identical)", given.cases, bring_in, where, source, "valid")
            for form in given.forms.split(","):
                path = base / f"out.{form.removeprefix('zip-') if 'zip' not in form else 'zip'}"
                measured(f"{name}: export to {form}", given.cases, take_out, where, path, form)
            measured(f"{name}: backup with verification", given.cases, save_copy, where, base / "backup.db")
        finally:
            clear()


def _place(url: str, base: Path) -> tuple[str, Callable[[], None]]:
    if not url:
        return f"sqlite:///{base / 'cases.db'}", lambda: None
    import psycopg

    schema = f"bench{uuid4().hex[:10]}"
    with psycopg.connect(url, autocommit=True) as connection:
        connection.execute(f"CREATE SCHEMA {schema}")

    def clear() -> None:
        with psycopg.connect(url, autocommit=True) as connection:
            connection.execute(f"DROP SCHEMA {schema} CASCADE")

    return f"{url}?options=-csearch_path%3D{schema}", clear


if __name__ == "__main__":
    main()
