"""``read-order``: a dentist's order in free text, read into proposals for the fields of a case."""

import sys
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from recommender.cli import output
from recommender.domain.errors import CaseError, Problem

if TYPE_CHECKING:
    from recommender.orders.model import ArchOrder

_SUFFIXES = (".txt", ".text", ".md")
_MOST_BYTES = 200_000


@click.command("read-order")
@click.argument("file", metavar="FILE")
@click.option(
    "--numbering",
    type=click.Choice(["iso", "universal"]),
    default=None,
    help="The numbering of the order, where you know it. Left out: found from the whole text, or asked.",
)
@output.json_option()
def read_order(file: str, numbering: str | None, as_json: bool) -> None:
    """An order in free text (English, German, French, Spanish) as proposals, each with the words it came from.

    FILE is a text file, a folder of them, or - for standard input. Nothing is written and nothing leaves the
    machine: a person checks each proposal before it becomes part of a case.

    \b
    Example: echo "OK: 14, 15 fehlen, Akersklammer 13" | rpd-casebook read-order -
    """
    from recommender.orders import read

    status = output.DONE
    for name, text in _texts(file):
        if isinstance(text, CaseError):
            output.report(text, as_json)
            status = output.INVALID
            continue
        try:
            found = read.read_order(text, numbering)
        except read.OrderTooLongError as error:
            allowed = output.told("intake.most_characters", most_letters=f"{read.MOST_LETTERS:,}")
            output.report(CaseError([Problem(name, "", str(error), allowed)], name), as_json)
            status = output.INVALID
            continue
        if not found:
            output.report(
                CaseError([Problem(name, "", "an empty order", "the text of an order")], name), as_json
            )
            status = output.INVALID
        many = Path(file).is_dir()
        if many and not as_json:
            click.echo(output.style(name, bold=True))
        for one in found:
            if as_json:
                output.emit({**({"order": name} if many else {}), **one.document()})
            else:
                show(one, numbering)
    sys.exit(status)


def _texts(file: str) -> Iterator[tuple[str, str | CaseError]]:
    """Names and texts of the orders that the argument names."""
    if file == "-":
        yield _decoded(output.STANDARD_INPUT, sys.stdin.buffer.read(_MOST_BYTES + 1))
        return
    path = Path(file)
    paths = (
        sorted(one for one in path.glob("*") if one.suffix.lower() in _SUFFIXES) if path.is_dir() else [path]
    )
    if not paths:
        found = "a folder without orders"
        yield file, CaseError([Problem(file, "", found, f"files ending in {', '.join(_SUFFIXES)}")], file)
    for one in paths:
        try:
            with one.open("rb") as stream:
                yield _decoded(one.name if path.is_dir() else file, stream.read(_MOST_BYTES + 1))
        except OSError as error:
            yield str(one), CaseError([Problem(str(one), "", str(error.strerror), "a text file")], str(one))


def _decoded(name: str, content: bytes) -> tuple[str, str | CaseError]:
    if len(content) > _MOST_BYTES:
        found = output.told("intake.more_than_bytes", most_bytes=f"{_MOST_BYTES:,}")
        return name, CaseError([Problem(name, "", found, "an order of a page or two")], name)
    try:
        return name, content.decode("utf-8-sig")
    except UnicodeDecodeError:
        return name, CaseError([Problem(name, "", "text that is not UTF-8", "a text file in UTF-8")], name)


def show(order: "ArchOrder", numbering: str | None) -> None:
    """One arch in words: what is proposed and from which words, what is asked, what stayed unread."""
    from recommender.orders.model import said
    from recommender.wording.words import words_in

    arch = {"maxilla": "Upper arch", "mandible": "Lower arch"}.get(order.arch or "", "Arch not settled")
    system = {"iso": "ISO 3950", "universal": "the universal system", "ambiguous": "not settled"}[
        order.numbering
    ]
    click.echo(output.style(f"{arch}; tooth numbers: {system} ({order.because})", bold=True))
    words = words_in(numbering or ("universal" if order.numbering == "universal" else "iso"))
    for one in order.proposals:
        mark = f"  [look twice: {one.marked}]" if one.marked else ""
        click.echo(f'  {words.text(said(one))}  <- "{_flat(one.words.text)}"{mark}')
    for question in order.ask:
        click.echo(f'  To ask: "{_flat(question.words.text)}": {question.why}')
    for left in order.unread:
        click.echo("  " + output.told("intake.not_understood_kept_note", flat=_flat(left.text)))
    for left in order.withheld:
        click.echo("  " + output.told("intake.left_out_note", flat=_flat(left.text)))
    click.echo(
        "  A proposal read by rule from the words: check each against the order before it is taken over."
    )


def _flat(text: str) -> Any:
    return " ".join(text.split())
