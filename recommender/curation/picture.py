"""What a library covers, as a picture: for each kind of arch the cases held against the number expected (SVG)."""

from xml.sax.saxutils import escape

from recommender.curation.coverage import Coverage
from recommender.domain.statement import quantity
from recommender.wording.words import words_in

_ROW, _LEFT, _WIDE, _RIGHT, _TOP = 22, 300, 320, 90, 64


def coverage_svg(found: Coverage) -> str:
    """The picture. Held is the filled bar, expected the outlined one; the numbers stand beside them."""
    words = words_in()
    most = max((max(float(cell.held), cell.expected) for cell in found.cells), default=1.0) or 1.0
    height = _TOP + _ROW * len(found.cells) + 24
    width = _LEFT + _WIDE + _RIGHT
    order = words.told("coverage.picture_order", source=_short(found.source))
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}" '
        f'viewBox="0 0 {width} {height}" role="img" font-family="sans-serif" font-size="12">',
        f"<title>{words.told('coverage.picture', n=found.cases)}</title>",
        f'<rect width="{width}" height="{height}" fill="#ffffff"/>',
        f'<text x="8" y="20" font-size="14">{words.told("coverage.picture_head", n=found.cases)}</text>',
        f'<text x="8" y="40" fill="#444444">{escape(order)}</text>',
    ]
    for row, cell in enumerate(found.cells):
        top = _TOP + row * _ROW
        of = words.told("coverage.of", held=cell.held, expected=quantity(cell.expected))
        held, expected = cell.held / most * _WIDE, cell.expected / most * _WIDE
        parts += [
            f'<text x="{_LEFT - 8}" y="{top + 14}" text-anchor="end">{escape(cell.label)}</text>',
            f'<rect x="{_LEFT}" y="{top + 5}" width="{held:.1f}" height="9" fill="#33658a"/>',
            f'<rect x="{_LEFT}" y="{top + 2}" width="{max(expected, 0.5):.1f}" height="15" fill="none" '
            'stroke="#000000" stroke-dasharray="3 2"/>',
            f'<text x="{_LEFT + max(held, expected) + 6:.1f}" y="{top + 14}">{of}</text>',
        ]
    parts.append("</svg>")
    return "\n".join(parts) + "\n"


def _short(text: str, most: int = 84) -> str:
    return text if len(text) <= most else text[: most - 1] + "…"
