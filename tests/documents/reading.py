"""What an independent reader finds in a PDF."""

import io
import re
from typing import Any

import pypdf


def reader(content: bytes) -> pypdf.PdfReader:
    return pypdf.PdfReader(io.BytesIO(content))


def words(content: bytes) -> str:
    """All text of all pages on one line; a word that was broken at a line's end is joined again."""
    text = "\n".join(page.extract_text() for page in reader(content).pages)
    text = re.sub(r"[-\u2010\u00ad]\n", "", text)
    return re.sub(r"\s+", " ", text)


def fonts(content: bytes) -> list[dict[str, Any]]:
    """Every font of every page, forms included."""
    found: list[dict[str, Any]] = []
    seen: set[int] = set()

    def gather(resources: Any) -> None:
        resources = resources.get_object()
        for font in resources.get("/Font", {}).values():
            found.append(font.get_object())
        for form in resources.get("/XObject", {}).values():
            inner = form.get_object()
            if id(inner) not in seen and "/Resources" in inner:
                seen.add(id(inner))
                gather(inner["/Resources"])

    for page in reader(content).pages:
        gather(page["/Resources"])
    return found


def embedded(font: dict[str, Any]) -> bool:
    """Whether the font's program is in the file."""
    whole = font["/DescendantFonts"][0].get_object() if "/DescendantFonts" in font else font
    if whole.get("/Subtype") == "/Type3":
        return True
    descriptor = whole["/FontDescriptor"].get_object()
    return any(name in descriptor for name in ("/FontFile", "/FontFile2", "/FontFile3"))


def furthest_right(content: bytes) -> float:
    """The rightmost start of any piece of text, as a share of the page width."""
    most = 0.0
    for page in reader(content).pages:
        width = float(page.mediabox.width)

        def visit(text: str, _cm: Any, tm: Any, _font: Any, _size: Any, width: float = width) -> None:
            nonlocal most
            if text.strip():
                most = max(most, float(tm[4]) / width)

        page.extract_text(visitor_text=visit)
    return most
