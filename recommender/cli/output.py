"""What the verbs share: reading CASE arguments, one JSON document a line, error documents, exit status.

Standard output carries the answer and nothing else; progress and warnings go to standard error. Exit status:
0 done, 1 a case (or the library) is invalid, 2 the command was misused.
"""

import os
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping
from functools import wraps
from pathlib import Path
from typing import Any

import click

from recommender.cli import output
from recommender.domain.case import Case
from recommender.domain.errors import CaseError, Problem

DONE, INVALID, MISUSED = 0, 1, 2
STANDARD_INPUT = "standard input"
_MANY = 20
# Widths in characters for tables that are not drawn on a terminal.
_NARROWEST, _PIPED = 60, 120


def case_argument(many: bool = True) -> Callable[[Any], Any]:
    """The CASE argument of a verb: a file, a folder or ``-``; several where ``many``."""
    return click.argument("cases" if many else "case", metavar="CASE", nargs=-1 if many else 1, required=True)


def json_option() -> Callable[[Any], Any]:
    """The ``--json`` switch of a verb."""
    return click.option(
        "--json", "as_json", is_flag=True, help="Print one JSON document a line, and nothing else."
    )


def words_options() -> Callable[[Any], Any]:
    """``--numbering`` and ``--language`` of a verb that names teeth;

    The verb is handed ``words``, which says statements so.
    """

    def decorate(verb: Callable[..., Any]) -> Callable[..., Any]:
        @click.option(
            "--numbering",
            type=click.Choice(["iso", "universal"]),
            default="iso",
            show_default=True,
            help="Tooth numbers, in every text and in --for. Fields and keys of JSON are always ISO 3950.",
        )
        @click.option(
            "--language",
            default="en",
            show_default=True,
            callback=_language,
            help="Language of what is said about the case; what a language lacks is said in English.",
        )
        @wraps(verb)
        def called(*args: Any, numbering: str, language: str, **given: Any) -> Any:
            from recommender.wording.words import words_in

            return verb(*args, words=words_in(numbering, language), **given)

        return called

    return decorate


def told(code: str, **args: Any) -> str:
    """What the template of that code says, in a verb that names no tooth."""
    from recommender.wording.words import words_in

    return words_in().told(code, **args)


def _language(_context: click.Context, _option: click.Parameter, value: str) -> str:
    from recommender.wording.templates import languages

    if value not in languages():
        raise click.BadParameter(f"{value} is not there; choose from {', '.join(languages())}")
    return value


def read_arguments(arguments: Iterable[str]) -> Iterator[Case | CaseError]:
    """Every case that the arguments name, in their order; what cannot be used comes as its ``CaseError``."""
    for argument in arguments:
        if argument == "-":
            yield _attempt(_standard_input)
            continue
        path = Path(argument)
        if path.is_dir():
            yield from _folder(path)
        else:
            yield _attempt(lambda path=path: _file(path))  # type: ignore[misc]


def read_one(argument: str) -> Case:
    """The one case that an argument names. Raises ``CaseError``; a folder must hold exactly one case."""
    found = list(read_arguments([argument]))
    if len(found) != 1:
        raise CaseError([Problem(argument, "", f"a folder of {len(found)} cases", "one case")], argument)
    if isinstance(found[0], CaseError):
        raise found[0]
    return found[0]


def _attempt(read: Callable[[], Case]) -> Case | CaseError:
    try:
        return read()
    except CaseError as error:
        return error


def _file(path: Path) -> Case:
    from recommender.domain.reader import read_case

    return read_case(path)


def _standard_input() -> Case:
    from recommender.domain.limits import MOST_BYTES
    from recommender.domain.reader import read_bytes

    return read_bytes(sys.stdin.buffer.read(MOST_BYTES + 1), STANDARD_INPUT)


def _folder(path: Path) -> Iterator[Case | CaseError]:
    from recommender.domain.reader import SUFFIXES, case_files, read_many

    files = case_files(path)
    if not files:
        allowed = ", ".join(SUFFIXES)
        problem = Problem(
            str(path), "", "a folder without case files", f"at least one file ending in {allowed}"
        )
        yield CaseError([problem], str(path))
        return
    if len(files) < _MANY or not sys.stderr.isatty():
        yield from read_many(files)
        return
    with click.progressbar(read_many(files), length=len(files), label=str(path), file=sys.stderr) as progress:
        yield from progress


def each_case(
    arguments: Iterable[str],
    as_json: bool,
    document: Callable[[Case], Mapping[str, Any]],
    text: Callable[[Case], None],
) -> int:
    """Answer every case, as JSON or as text, and report those that cannot be used; returns the exit status.

    A ``CaseError`` that the answer itself raises is reported in the same way.
    """
    status = DONE
    for case in read_arguments(arguments):
        if isinstance(case, CaseError):
            report(case, as_json)
            status = INVALID
            continue
        try:
            if as_json:
                emit(document(case))
            else:
                text(case)
        except CaseError as error:
            report(error, as_json)
            status = INVALID
    return status


def emit(document: Mapping[str, Any]) -> None:
    """One document as a line of JSON on standard output; integer keys become strings, nothing is rounded."""
    import orjson

    line = orjson.dumps(document, option=orjson.OPT_NON_STR_KEYS | orjson.OPT_APPEND_NEWLINE)
    click.echo(line, nl=False)


def report(error: CaseError, as_json: bool) -> None:
    """What is wrong with a case: an error document on standard output, or sentences on standard error."""
    if as_json:
        emit(error.document())
    else:
        for problem in error.problems:
            warn(str(problem))


def warn(message: str) -> None:
    """A line on standard error."""
    click.echo(message, err=True)


def tell_how_far(what: str, done: int, of: int) -> None:
    """How far it is, on standard error, where that is a terminal: "cases: 3 of 40"."""
    if sys.stderr.isatty() and of:
        end = "\n" if done == of else ""
        click.echo(("\r" + output.told("verb.of", what=what, done=done, of=of, end=end)), nl=False, err=True)


def coloured() -> bool:
    """Whether text output may carry colour: a terminal, and ``NO_COLOR`` not set (https://no-color.org)."""
    return sys.stdout.isatty() and not os.environ.get("NO_COLOR")


def style(text: str, **styles: Any) -> str:
    """The text with terminal styles, plain where colour is unwanted."""
    return click.style(text, **styles) if coloured() else text


def console() -> Any:
    """A rich console for tables; ``NO_COLOR`` and narrow terminals are respected."""
    from rich.console import Console

    columns = os.environ.get("COLUMNS", "")
    piped = int(columns) if columns.isdigit() and int(columns) >= _NARROWEST else _PIPED
    return Console(
        width=None if sys.stdout.isatty() else piped,
        no_color=not coloured(),
        highlight=False,
        markup=False,
        emoji=False,
    )
