"""What a printed document is made of: headings, paragraphs, lists, tables, figures, boxes to fill in.

Plain values that turn into JSON for the typesetter. Text is text: nothing in it is ever read as markup.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

Block = dict[str, Any]


def heading(words: str) -> Block:
    return {"kind": "heading", "text": words}


def paragraph(words: str, *, small: bool = False, strong: bool = False, large: bool = False) -> Block:
    """``large``: in the type of a page that is read after a fax."""
    return {"kind": "paragraph", "text": words, "small": small, "strong": strong, "large": large}


def quoted(words: str) -> Block:
    """Someone else's words, set apart and as long as they are."""
    return {"kind": "quote", "text": words}


def items(
    lines: Sequence[str],
    *,
    numbered: bool = False,
    small: bool = False,
    large: bool = False,
    spare: int = 0,
) -> Block:
    """``spare``: left out where a first page would not hold it; 1 goes first, then 2; 0 stays."""
    return {
        "kind": "list",
        "items": list(lines),
        "numbered": numbered,
        "small": small,
        "large": large,
        "spare": spare,
    }


def table(
    head: Sequence[str], rows: Sequence[Sequence[str]], widths: Sequence[float], *, large: bool = False
) -> Block:
    """A table with a head row; ``widths`` are shares of the text width."""
    found = [list(row) for row in rows]
    return {"kind": "table", "head": list(head), "rows": found, "widths": list(widths), "large": large}


def ticks(
    head: Sequence[str],
    rows: Sequence[Sequence[str]],
    choices: Sequence[Sequence[str]],
    widths: Sequence[float],
) -> Block:
    """A table whose last column holds boxes to tick, each with its word; ``widths`` count that column too."""
    return {
        "kind": "ticks",
        "head": list(head),
        "rows": [list(row) for row in rows],
        "choices": [list(each) for each in choices],
        "widths": list(widths),
    }


def page_break() -> Block:
    """What follows begins a new page."""
    return {"kind": "page"}


def figure(svg: str, alt: str, width: float = 1.0) -> Block:
    """A drawing; ``width`` is its share of the text width."""
    return {"kind": "figure", "svg": svg, "alt": alt, "width": width}


def banner(words: str) -> Block:
    """Words in a heavy frame that nobody overlooks."""
    return {"kind": "banner", "text": words}


def answer(signing: str, choices: Sequence[str], free: str, signature: Sequence[str]) -> Block:
    """What is being signed, boxes to tick, room to write, and lines to sign."""
    return {
        "kind": "answer",
        "signing": signing,
        "choices": list(choices),
        "free": free,
        "signature": list(signature),
    }


@dataclass(frozen=True, slots=True)
class Document:
    """A whole document: ``footer`` are the words at the foot of each page, beside the page number.

    ``shrink`` are factors to try for its figures, the largest first, until what stands before the first page break fits
    on one page; where even the last does not help, blocks marked ``spare`` are left out.
    """

    title: str
    subtitle: str
    language: str
    footer: str
    blocks: tuple[Block, ...]
    shrink: tuple[float, ...] = (1.0,)
