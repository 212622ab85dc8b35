"""The bare arch as a chart to point at: one button for each tooth, for screens as well as for print.

Colours come from the page: ``currentColor`` for lines and text, and variables with fallbacks for fills, so that
light and dark themes both work. No state is told by colour alone: a tooth to be replaced is dashed and crossed, an
absent one dotted, one that will be extracted has a single stroke through it, a surveyed one carries a dot, and a
selected one a thick outline and a fill.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from xml.sax.saxutils import escape, quoteattr

from recommender.documents.content import content
from recommender.documents.drawing.frame import Frame
from recommender.domain.case import Case
from recommender.domain.dentition import ARCH_ORDER
from recommender.domain.numbering import display
from recommender.domain.statement import Word, say
from recommender.facts.mechanical import case_geometry
from recommender.mechanics.arch import Point, place_teeth
from recommender.wording.words import words_in

STATES = ("standing", "missing", "absent", "extraction")
_SCALE, _EDGE, _OFF, _SIZE = 10.0, 4.0, 4.6, 3.4
_SELECTED = "var(--rpd-selected, rgba(127,127,127,0.35))"
_BLANK = "var(--rpd-tooth, transparent)"


def number(value: float) -> str:
    """A coordinate to a hundredth, without needless zeros."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def rings_path(pieces: Iterable[Sequence[Sequence[Point]]]) -> str:
    """Path data of closed rings."""
    return "".join(
        "M" + "L".join(f"{number(x)} {number(y)}" for x, y in ring) + "Z"
        for piece in pieces
        for ring in piece
    )


def chart(
    case: Case,
    selected: Collection[int] = (),
    numbering: str = "iso",
    *,
    interactive: bool = True,
) -> str:
    """The chart of a case as SVG; teeth by their ISO numbers, shown in ``numbering``.

    Each tooth is a ``<g role="button">`` with ``data-tooth`` (ISO), ``aria-pressed``, ``aria-label`` and a title;
    one tab stop for the arch (the first selected tooth, else the first). Without ``interactive`` it is a picture.
    """
    states = dict.fromkeys(ARCH_ORDER[case.arch], "standing")
    states |= dict.fromkeys(case.planned_extractions or (), "extraction")
    states |= {tooth: "absent" for tooth in case.absent or () if states[tooth] != "extraction"}
    states |= {tooth: "missing" for tooth in case.missing if states[tooth] != "extraction"}
    surveyed = {abutment.tooth for abutment in case.abutments or ()}
    frame = Frame(case_geometry(case), ())
    return _chart(frame, states, surveyed, set(selected), numbering, interactive)


def arch_chart(
    arch: str,
    states: Mapping[int, str] | None = None,
    selected: Collection[int] = (),
    numbering: str = "iso",
    *,
    interactive: bool = True,
) -> str:
    """As ``chart``, for an arch that is no case yet; ``states`` maps teeth to one of :data:`STATES`."""
    known = dict.fromkeys(ARCH_ORDER[arch], "standing") | dict(states or {})
    for tooth, state in known.items():
        if tooth not in ARCH_ORDER[arch] or state not in STATES:
            raise ValueError(f"{tooth}: {state}; allowed: teeth of the {arch}, {', '.join(STATES)}")
    return _chart(Frame(place_teeth(arch), ()), known, set(), set(selected), numbering, interactive)


def _chart(
    frame: Frame,
    states: Mapping[int, str],
    surveyed: Collection[int],
    selected: Collection[int],
    numbering: str,
    interactive: bool,
) -> str:
    page = _Sheet(frame)
    words = content("chart")
    order = list(frame.order)
    stop = next((tooth for tooth in order if tooth in selected), order[0])
    groups = []
    for tooth in order:
        said = f"{words['tooth']} {display(tooth, numbering)}, {words[states[tooth]]}"
        if tooth in surveyed:
            said += f", {words['surveyed']}"
        attributes = f'data-tooth="{tooth}" data-state="{states[tooth]}"'
        if interactive:
            pressed = "true" if tooth in selected else "false"
            attributes += (
                f' role="button" tabindex="{0 if tooth == stop else -1}" aria-pressed="{pressed}"'
                f" aria-label={quoteattr(said)}"
            )
        elif tooth in selected:
            said += f", {words['selected']}"
        body = page.tooth(
            tooth, states[tooth], tooth in selected, tooth in surveyed, display(tooth, numbering)
        )
        groups.append(f"<g {attributes}><title>{escape(said)}</title>{body}</g>")
    name = words_in(numbering).text(say("drawing.heading", arch=Word("arch", frame.arch)))
    w, h = number(page.width), number(page.height)
    role = "group" if interactive else "img"
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {w} {h}" role="{role}" aria-label={quoteattr(name)} '
        f'style="max-width:100%;height:auto;color:inherit"><title>{escape(name)}</title>'
        f"{page.sides()}{''.join(groups)}</svg>"
    )


class _Sheet:
    def __init__(self, frame: Frame) -> None:
        self.frame = frame
        self.sign = -1.0 if frame.arch == "maxilla" else 1.0
        stations = [step / 4 for step in range(65)]
        outer = [frame.facial_point(s, _OFF + _EDGE) for s in stations]
        rear = [frame.facial_point(s, 0.0) for s in (-0.5, 16.5)]
        levels = [self.sign * y for _, y in [*outer, *rear]]
        self.half = max(abs(x) for x, _ in outer)
        self.low = min(levels)
        self.width = 2 * self.half * _SCALE
        self.height = (max(levels) - self.low) * _SCALE

    def at(self, point: Point) -> Point:
        return ((self.half + point[0]) * _SCALE, (self.sign * point[1] - self.low) * _SCALE)

    def tooth(self, tooth: int, state: str, selected: bool, surveyed: bool, shown: str) -> str:
        ring = tuple(self.at(point) for point in self.frame.place(tooth).outline)
        x, y = self.at(self.frame.facial_point(self.frame.station(tooth), _OFF))
        dash = {"missing": ' stroke-dasharray="12 8"', "absent": ' stroke-dasharray="2 9"'}.get(state, "")
        fill = _SELECTED if selected else _BLANK
        wide = 9 if selected else 4
        line = 'stroke="currentColor" stroke-linecap="round"'
        body = [
            self._hit(tooth, (x, y)),
            f'<path d="{rings_path([(ring,)])}" {line} stroke-width="{wide}"{dash} style="fill:{fill}"/>',
        ]
        if state in ("missing", "extraction"):
            corners = [(-0.5, -0.5), (0.5, 0.5)], [(-0.5, 0.5), (0.5, -0.5)]
            for pair in corners[: 2 if state == "missing" else 1]:
                (ax, ay), (bx, by) = (self.at(self.frame.inside(tooth, a, o)) for a, o in pair)
                data = f"M{number(ax)} {number(ay)}L{number(bx)} {number(by)}"
                body.append(f'<path d="{data}" fill="none" {line} stroke-width="3"/>')
        if surveyed:
            cx, cy = self.at(self.frame.inside(tooth, 0.0, 0.0))
            body.append(f'<circle cx="{number(cx)}" cy="{number(cy)}" r="7" fill="currentColor"/>')
        weight = "bold" if selected else "normal"
        body.append(
            f'<text x="{number(x)}" y="{number(y + _SIZE * _SCALE * 0.34)}" text-anchor="middle" '
            f'font-size="{number(_SIZE * _SCALE)}" font-weight="{weight}" fill="currentColor" '
            f'style="font-family:var(--rpd-font, inherit);pointer-events:none">{escape(shown)}</text>'
        )
        return "".join(body)

    def _hit(self, tooth: int, label: Point) -> str:
        """An unseen shape over the crown and its number, so that a click between them counts too."""
        from shapely.geometry import MultiPoint

        points = [self.at(point) for point in self.frame.place(tooth).outline]
        reach = _SIZE * _SCALE * 0.62
        points += [(label[0] + dx * reach, label[1] + dy * reach) for dx in (-1, 1) for dy in (-1, 1)]
        hull = MultiPoint(points).convex_hull
        ring = tuple((float(x), float(y)) for x, y in list(hull.exterior.coords)[:-1])
        return f'<path d="{rings_path([(ring,)])}" fill="none" stroke="none" pointer-events="all"/>'

    def sides(self) -> str:
        """R and L of the patient, inside the arch."""
        found = ""
        for station, side in ((1.6, "right"), (14.4, "left")):
            x, y = self.at(self.frame.lingual_point(station, 5.0))
            found += (
                f'<text x="{number(x)}" y="{number(y)}" text-anchor="middle" font-size="40" font-weight="bold" '
                f'fill="currentColor" opacity="0.75" style="font-family:var(--rpd-font, inherit)">{_side(side)}</text>'
            )
        return found


def _side(side: str) -> str:
    return words_in().text(say(f"drawing.side.{side}"))
