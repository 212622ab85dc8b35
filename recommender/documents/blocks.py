"""What a printed document is made of: headings, paragraphs, lists, tables, figures, boxes to fill in.

Plain values that turn into JSON for the typesetter. Text is text: nothing in it is ever read as markup.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

Block = dict[str, Any]


def heading(words: str) -> Block:
    return {"kind": "heading", "text": words}


def paragraph(words: str, *, small: bool = False, strong: bool = False) -> Block:
    return {"kind": "paragraph", "text": words, "small": small, "strong": strong}


def quoted(words: str) -> Block:
    """Someone else's words, set apart and as long as they are."""
    return {"kind": "quote", "text": words}


def items(lines: Sequence[str], *, numbered: bool = False, small: bool = False) -> Block:
    return {"kind": "list", "items": list(lines), "numbered": numbered, "small": small}


def table(head: Sequence[str], rows: Sequence[Sequence[str]], widths: Sequence[float]) -> Block:
    """A table with a head row; ``widths`` are shares of the text width."""
    return {"kind": "table", "head": list(head), "rows": [list(row) for row in rows], "widths": list(widths)}


def figure(svg: str, alt: str, width: float = 1.0) -> Block:
    """A drawing; ``width`` is its share of the text width."""
    return {"kind": "figure", "svg": svg, "alt": alt, "width": width}


def banner(words: str) -> Block:
    """Words in a heavy frame that nobody overlooks."""
    return {"kind": "banner", "text": words}


def answer(choices: Sequence[str], free: str, signature: Sequence[str]) -> Block:
    """Boxes to tick, room to write, and lines to sign."""
    return {"kind": "answer", "choices": list(choices), "free": free, "signature": list(signature)}


@dataclass(frozen=True, slots=True)
class Document:
    """A whole document: ``footer`` are the words at the foot of each page, beside the page number."""

    title: str
    subtitle: str
    language: str
    footer: str
    blocks: tuple[Block, ...]
    provisional: bool = False
