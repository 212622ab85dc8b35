"""What the verbs of ``exercise`` share: the cases that can be set, an exercise by its name, answers as typed."""

import sys
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from recommender.cli import output
from recommender.cli.library.common import database, source
from recommender.precedents.store.errors import LibraryError, NoSuchCase

if TYPE_CHECKING:
    from recommender.advice.recommend import Recommender
    from recommender.domain.case import Case


def recommender_of(where: str | None) -> "Recommender":
    """The recommender over a library."""
    from recommender.advice.recommend import Recommender
    from recommender.cli.advise.libraries import precedents

    return Recommender(precedents(where))


def held_cases(where: str | None) -> dict[str, tuple["Case", int]]:
    """The approved cases with a design by id, with their revision (0 where the library keeps none)."""
    from recommender.precedents.store.documents import status
    from recommender.precedents.store.opening import configured, is_database

    meant = where if where is not None else configured()
    if meant is not None and meant != "none" and is_database(meant):
        with database(meant, write=False) as library:
            found = [(version.case, version.revision) for version in library.latest(status=["approved"])]
    else:
        found = [(case, 0) for case in source(where).cases() if status(case) == "approved"]
    return {case.id: (case, revision) for case, revision in found if case.design and case.missing}


def some_of(held: Mapping[str, Any], number: int, salt: str = "") -> list[str]:
    """Some cases, the same each time. Raises ``LibraryError`` where there are none."""
    from recommender.curation.teaching.choice import spread

    if not held:
        raise LibraryError("no approved case to set as an exercise")
    return spread(held, number, salt)


def find(held: Mapping[str, tuple["Case", int]], identifier: str) -> tuple["Case", int]:
    """The case and revision behind an exercise. Raises ``NoSuchCase``."""
    from recommender.curation.teaching.exercises import exercise_id

    for case, revision in held.values():
        if identifier in (exercise_id(case.id, revision), case.id):
            return case, revision
    raise NoSuchCase(
        f"no exercise {identifier!r} in this library (a case that was changed since is a new exercise)"
    )


def answers_of(pairs: Iterable[str], file: Path | None) -> dict[str, str]:
    """Options by decision, as typed and as in the file; wrong use where there are none."""
    found: dict[str, str] = {}
    if file is not None:
        found |= _from_file(file)
    for text in pairs:
        decision, sign, option = text.partition("=")
        if not sign or not option:
            raise click.UsageError(f"{text}: write DECISION=OPTION, e.g. retainer:14=i_bar")
        found[decision.strip()] = option.strip()
    if not found:
        raise click.UsageError("give at least one answer: DECISION=OPTION, or --answers FILE")
    return found


def _from_file(file: Path) -> dict[str, str]:
    from recommender.domain import limits
    from recommender.domain.errors import CaseError
    from recommender.domain.parsing import parse

    try:
        value = parse(limits.decode(limits.read_bytes(file), str(file)), str(file)).value
    except CaseError as error:
        output.report(error, as_json=False)
        sys.exit(output.INVALID)
    if not isinstance(value, dict) or not all(isinstance(option, str) for option in value.values()):
        raise click.UsageError(f"{file}: write one DECISION: OPTION a line, e.g. retainer:14: i_bar")
    return {str(decision): option for decision, option in value.items()}
