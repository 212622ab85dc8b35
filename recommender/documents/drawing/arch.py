"""A case and a design in, a drawing out."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

from shapely.affinity import affine_transform
from shapely.geometry.base import BaseGeometry

from recommender.documents.drawing.build import build_parts
from recommender.documents.drawing.labels import Label, labels, with_depths
from recommender.documents.drawing.layout import Layout
from recommender.documents.drawing.lettering import Words as Lettered
from recommender.documents.drawing.page import Page
from recommender.documents.drawing.shapes import DrawnPart
from recommender.documents.drawing.svg import INK, PAPER, document
from recommender.domain.case import Case
from recommender.domain.designs import Design
from recommender.domain.statement import Choice, Said, Statement, Word, say, several, tooth
from recommender.mechanics.arch import Point
from recommender.wording.templates import DEFAULT
from recommender.wording.words import Words, capital, ended, words_in


class Flagged(Protocol):
    """Something that cannot be made: its tooth (0 for the frame), and why."""

    @property
    def tooth(self) -> int: ...

    @property
    def said(self) -> Statement: ...


@dataclass(frozen=True, slots=True)
class Spot:
    """Where a part lies on the picture, for a page that shows it as an image: its name and reason, and its outline in
    shares of the picture's width and height (0 to 1; rings of one shape, even-odd). Later spots lie over earlier ones.
    """

    title: str
    decision: str
    rings: tuple[tuple[Point, ...], ...]


@dataclass(frozen=True, slots=True)
class Drawing:
    """The picture, the same in words for those who cannot see it, and what was drawn.

    ``parts`` are in arch coordinates; ``words`` (with their measured boxes) and ``leaders`` on the paper, in mm.
    ``placing`` turns the one into the other: ``(a, b, c, d, x, y)`` as in SVG's ``matrix``. ``spots`` are given where
    reasons were asked for; ``flags`` are the frames round the numbers of what cannot be made (mm on paper).
    """

    svg: str
    alt_text: str
    parts: tuple[DrawnPart, ...]
    words: tuple[Lettered, ...] = ()
    leaders: tuple[tuple[Point, ...], ...] = ()
    placing: tuple[float, float, float, float, float, float] = (1.0, 0.0, 0.0, 1.0, 0.0, 0.0)
    spots: tuple[Spot, ...] = ()
    flags: tuple[tuple[float, float, float, float], ...] = ()

    def on_paper(self, shape: BaseGeometry) -> BaseGeometry:
        """A shape in arch coordinates where it lies on the paper."""
        a, b, c, d, x, y = self.placing
        return affine_transform(shape, [a, c, b, d, x, y])

    def in_colours(self, ink: str, paper: str) -> str:
        """The same SVG in two other colours, such as light on dark (``currentColor``: that of the page)."""
        parts = self.svg.split(f'"{INK}"')
        return f'"{ink}"'.join(part.replace(f'"{PAPER}"', f'"{paper}"') for part in parts)


def arch_drawing(
    case: Case,
    design: Design,
    *,
    numbering: str = "iso",
    language: str = DEFAULT,
    with_labels: bool = True,
    with_legend: bool = True,
    with_undercuts: bool = True,
    provisional: bool = False,
    reasons: Mapping[str, str] | None = None,
    faults: Sequence["Flagged"] = (),
) -> Drawing:
    """Draw a design on the arch of its case. Needs nothing but the two; what was not recorded is not drawn.

    ``reasons``: words for the parts, by the decision that each belongs to, as ``explain --for`` names it
    (``retainer:14``, ``rest:14``, ``connector``, ``replacement:15``, ``indirect_retainer:23``). Where it is given (it
    may be empty), every part answers to the pointer with its name and its reason, and is told to those who listen;
    ``spots`` say the same for a page that shows the picture as an image. ``faults`` are what cannot be made, by tooth
    (0 for the frame): each gets a number at its part and, with labels, a line of words under the arch.
    """
    layout = Layout(case, design)
    parts, depths = build_parts(layout)
    if not with_undercuts:
        parts = [part for part in parts if part.kind != "undercut"]
    says = words_in(numbering, language)
    page = Page(layout, says, parts, labelled=with_labels, flagged=bool(faults))
    body = page.painted(reasons or {}, told=reasons is not None)
    page.numbers()
    page.heading(provisional)
    flags = [(flag.tooth, says.text(flag.said)) for flag in faults]
    page.flags([tooth for tooth, _ in flags])
    left = page.depths(depths)
    said = labels(layout, says)
    if with_labels:
        page.labels(with_depths(said, layout, left, says))
    if with_labels:
        page.told_faults([said for _, said in flags])
    height = page.bottom + 1.0
    drawn = page.written()
    words = tuple(page.words)
    if with_legend:
        legend, height = page.legend(page.bottom + 2.0)
        drawn = [*legend, *page.written()]
        words = tuple(page.words)
    alt = " ".join((alt_text(layout, said, says), *(ended(capital(fault)) for _, fault in flags)))
    svg = document(
        page.width, height, says.text(say("drawing.title")), alt, [*body, *drawn], parts=reasons is not None
    )
    placing = (page.scale, 0.0, 0.0, page.sign * page.scale, page.x0, page.y0)
    spots = tuple(Spot(*one) for one in page.spots(height)) if reasons is not None else ()
    return Drawing(svg, alt, tuple(parts), words, tuple(page.leaders), placing, spots, tuple(page.frames))


def alt_text(layout: Layout, said: Sequence[Label], words: Words) -> str:
    """The drawing in one paragraph of words."""
    name, axis = layout.design.connector, layout.axis()
    parts = [
        say("drawing.alt_part", where=Said(label.heading), what=Said(label.words))
        for label in sorted(said, key=lambda label: label.station)
    ]
    ends = [tooth(number) for number, _ in axis] if axis is not None else []
    between = say("drawing.axis_ends", first=ends[0], last=ends[1]) if ends else None
    return words.text(
        say(
            "drawing.alt",
            arch=Word("arch", layout.case.arch),
            connector=say("drawing.connector", option=Choice("connector", name)) if name else None,
            parts=several(parts, "space"),
            axis=say("drawing.axis", teeth=between) if between is not None else None,
        )
    )
