"""Documents to PDF: tagged (PDF/UA-1), fonts embedded, the same bytes for the same content.

User text goes to the typesetter as JSON and is never part of the template. What its fonts cannot show is printed
as an empty box, control characters and direction overrides are dropped, and very long words may break anywhere.
"""

import json
import re
import unicodedata
from collections.abc import Callable
from typing import Any

from recommender.documents.blocks import Document
from recommender.documents.templates_at import TEMPLATES

PAPERS = ("a4", "letter", "us-letter")
_STANDARD = "ua-1"
_BOX = "\u25a1"
_BREAK = "\u200b"
_LONGEST_RUN = 24
_ROUNDS = 12
_REFUSED = re.compile(r"the text `?\"(?P<text>.*?)\"`? could not be displayed", re.DOTALL)
_ESCAPED = re.compile(r"\\u\{([0-9a-fA-F]+)\}")
# Scripts that the embedded faces hold: Latin, Greek, Cyrillic, Hebrew, Arabic, and common signs.
_SHOWN = ((0x20, 0x52F), (0x590, 0x6FF), (0x1E00, 0x1FFF), (0x2010, 0x206F), (0x20A0, 0x20BF), (0x2190, 0x22FF),
          (0x25A0, 0x25FF), (0xFB00, 0xFDFF), (0xFE70, 0xFEFC))  # fmt: skip


def pdf(document: Document, paper: str = "a4") -> bytes:
    """The document as PDF. ``paper`` is ``a4`` or ``letter`` (``us-letter`` is the same)."""
    made: bytes = _compiled(document, paper, lambda typst, source, inputs: typst.compile(
        source, root=str(TEMPLATES), sys_inputs=inputs, format="pdf", ignore_system_fonts=True,
        pdf_standards=_STANDARD,
    ))  # fmt: skip
    return made


def pages_as_png(document: Document, paper: str = "a4", ppi: float = 100.0) -> list[bytes]:
    """The pages as pictures, to be looked at."""
    found = _compiled(document, paper, lambda typst, source, inputs: typst.compile(
        source, root=str(TEMPLATES), sys_inputs=inputs, format="png", ignore_system_fonts=True, ppi=ppi,
    ))  # fmt: skip
    return [found] if isinstance(found, bytes) else list(found)


def _compiled(document: Document, paper: str, compile_with: Callable[..., Any]) -> Any:
    import typst

    if paper not in PAPERS:
        raise ValueError(f"paper is {paper}; allowed: {', '.join(PAPERS)}")
    unshown: set[str] = set()
    for _ in range(_ROUNDS):
        inputs = {"document": json.dumps(_data(document, paper, unshown), ensure_ascii=False)}
        try:
            return compile_with(typst, str(TEMPLATES / "document.typ"), inputs)
        except typst.TypstError as error:
            refused = _refused(str(error)) - unshown
            if not refused:
                raise
            unshown |= refused
    raise ValueError("the text holds too many signs that the fonts cannot show")


def _refused(message: str) -> set[str]:
    """The signs that the typesetter says it cannot show."""
    found: set[str] = set()
    for match in _REFUSED.finditer(message):
        text = _ESCAPED.sub(lambda code: chr(int(code[1], 16)), match["text"])
        found |= {letter for letter in text if ord(letter) > 0x7F}
    return found


def _data(document: Document, paper: str, unshown: set[str]) -> dict[str, Any]:
    def clean(value: Any, key: str = "") -> Any:
        if isinstance(value, str):
            return value if key in ("svg", "kind") else printable(value, unshown)
        if isinstance(value, dict):
            return {name: clean(inner, name) for name, inner in value.items()}
        if isinstance(value, (list, tuple)):
            return [clean(inner, key) for inner in value]
        return value

    return {
        "paper": "us-letter" if paper == "letter" else paper,
        "title": clean(document.title),
        "subtitle": clean(document.subtitle),
        "language": document.language,
        "footer": clean(document.footer),
        "shrink": list(document.shrink),
        "blocks": clean(document.blocks),
    }


def printable(words: str, unshown: set[str] | frozenset[str] = frozenset()) -> str:
    """Text as it can be set: no control signs, boxes for what no face shows, breaks inside long words."""
    kept = []
    for letter in unicodedata.normalize("NFC", words):
        kind = unicodedata.category(letter)
        if letter in "\n\t\r":
            kept.append("\n" if letter == "\n" else " ")
        elif kind in ("Cc", "Cf", "Cs"):
            continue
        elif letter in unshown or kind in ("Co", "Cn") or not _in_reach(letter):
            kept.append(_BOX)
        else:
            kept.append(letter)
    return re.sub(rf"(\S{{{_LONGEST_RUN}}})(?=\S)", rf"\1{_BREAK}", "".join(kept))


def _in_reach(letter: str) -> bool:
    code = ord(letter)
    return any(low <= code <= high for low, high in _SHOWN)
