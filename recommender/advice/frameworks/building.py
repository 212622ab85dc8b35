"""Whether an assembly can be made on a tooth, and how: where its rest, its tip and its uprights lie.

Every arm grows from a body at its end of the tooth, every tip lies in an undercut that was measured deep enough
or not measured (or is going to be made, where nothing deeper is within reach), the clasp goes more than half
way round and its tip is opposed, and metal has its least thickness in the room that was recorded.
"""

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from recommender.advice.frameworks.crown import Clasp, arcs, grows, opposed, rotate, widest_gap
from recommender.advice.frameworks.seating import touches_late
from recommender.advice.frameworks.tooth_site import ToothSite
from recommender.domain.dentition import opposite, side_facing
from recommender.domain.options import Option
from recommender.facts.option import anatomical
from recommender.knowledge.figures.frameworks import FrameworkFigures

Reason = Literal[
    "no_rest", "no_partner", "no_tooth_beyond", "no_base", "nothing_to_grow_from", "too_shallow", "gap", "unopposed",
    "no_room", "no_room_behind", "touches_late", "not_measured",
    "not_covered",
]  # fmt: skip
_REASONS: tuple[Reason, ...] = (
    "no_partner", "no_tooth_beyond", "no_base", "no_rest", "too_shallow", "no_room", "no_room_behind",
    "nothing_to_grow_from", "gap", "unopposed", "touches_late",
)  # fmt: skip
_ENDS = ("mesial", "distal")


@dataclass(frozen=True, slots=True)
class Build:
    """How one assembly is made on its tooth.

    ``zone`` is the anatomical zone of the tip (on the tooth that it grips), ``depth_mm`` how deep the arm is
    set there, ``None`` where that was not recorded; ``made`` tells that the undercut has to be made first.
    ``uprights`` are minor connectors besides the bases, ``plates`` the sides with a proximal plate, ``cuts``
    the embrasures that a seat has to open for the metal, ``start`` the side of the tooth from which the arm
    comes.
    """

    rest: str | None = None
    zone: str | None = None
    depth_mm: float | None = None
    made: bool = False
    uprights: tuple[tuple[int, str], ...] = ()
    plates: tuple[str, ...] = ()
    cuts: tuple[str, ...] = ()
    start: str | None = None


@dataclass(frozen=True, slots=True)
class Unbuildable:
    """Why an assembly cannot be made on a tooth from one approach: the reason, and the end or zone that it is
    about.
    """

    reason: Reason
    at: str = ""


def seat_sites(rest: str, approach: str | None, toward_partner: str | None) -> tuple[str, ...]:
    """The places on a tooth that a rest takes: ``mesial``, ``distal``, ``cingulum``, ``incisal``."""
    if rest == "none":
        return ()
    if rest in ("mesial_distal", "onlay"):
        return _ENDS
    if rest == "embrasure":
        return (toward_partner,) if toward_partner else _ENDS
    if rest == "long":
        return (approach or "mesial",)
    return (rest,)


def upright_sites(
    sites: Sequence[str], based: frozenset[str], own_upright: bool, plated: bool = False
) -> Iterator[str]:
    """Sites of rests that stand away from every base and need a minor connector of their own.

    On a front tooth beside a base the plate carries the rest, unless the assembly brings an upright.
    """
    for site in sites:
        on_plate = site in ("cingulum", "incisal") and ((bool(based) and not own_upright) or plated)
        if site not in based and not on_plate:
            yield site


def hung(
    rest: str, sites: Sequence[str], carried: frozenset[str], near: str, own_upright: bool
) -> tuple[str, ...]:
    """The minor connectors by which a rest hangs on the frame, besides what carries it (``carried``).

    An onlay is one casting: held at one end it is held.
    """
    if rest == "onlay":
        return () if carried & frozenset(_ENDS) else (near,)
    return tuple(upright_sites(sites, carried, own_upright))


def build(
    option: Option,
    site: ToothSite,
    beyond: ToothSite | None,
    approach: str | None,
    rests: Sequence[str],
    partner: int | None,
    work: Collection[tuple[str, str]],
    figures: FrameworkFigures,
) -> Build | Unbuildable:
    """The best way of making an assembly from one approach, or the reason why there is none.

    ``rests`` are the usable rests, best first; ``beyond`` is the tooth on which the tip lies where that is
    another one; ``work`` is what will be prepared for it: (surface, action).
    """
    if "tip_on_neighbour" in option.parts and beyond is None:
        return Unbuildable("no_tooth_beyond")
    if "partner" in option.parts and partner is None:
        return Unbuildable("no_partner")
    if "rest" in option.parts and not rests:
        return Unbuildable("no_rest")
    near = approach or "mesial"
    gripped = beyond or site
    seen_from = side_facing(beyond.tooth, site.tooth) if beyond else near
    failed: list[Unbuildable] = []
    may_create = any(action == "create_undercut" for _, action in work)
    for word, depth, made in _tips(option, gripped, seen_from, may_create, failed):
        tip = Build(None, anatomical(word, seen_from) if word else None, depth, made)
        for rest in rests or (None,):
            found = _one(option, site, near, rest, word, tip, partner, work, figures)
            if isinstance(found, Build):
                extra = ((beyond.tooth, "lingual"),) if beyond else ()
                return replace(found, uprights=(*found.uprights, *extra))
            failed.append(found)
    return min(failed, key=lambda one: _REASONS.index(one.reason))


def _tips(
    option: Option, site: ToothSite, near: str, may_create: bool, failed: list[Unbuildable]
) -> Iterator[tuple[str | None, float | None, bool]]:
    """Zones for the tip, the deepest measured first, then those not measured; a shallow one only to be deepened.

    Each as the word seen from the approach, the depth to which the arm is set, and whether it is to be made.
    """
    if option.tip is None or not any(word.startswith("retentive") for word in option.parts):
        yield None, None, False
        return
    least, most = option.tip.least_mm, option.tip.most_mm
    deep: list[tuple[float, str]] = []
    unknown: list[str] = []
    shallow: list[str] = []
    for word in option.tip.zones:
        fact = site.undercuts[anatomical(word, near)]
        low, high = fact.low or 0.0, fact.high
        if low >= least:
            deep.append((-low, word))
        elif high is not None and high < least:
            shallow.append(word)
        else:
            unknown.append(word)
    yield from ((word, min(-depth, most), False) for depth, word in sorted(deep, key=lambda one: one[0]))
    yield from ((word, None, False) for word in unknown)
    if not deep and not unknown and may_create:
        yield from ((word, least, True) for word in shallow)
    elif not deep and not unknown:
        failed.append(Unbuildable("too_shallow", anatomical(option.tip.zones[0], near)))


def _one(
    option: Option,
    site: ToothSite,
    near: str,
    rest: str | None,
    word: str | None,
    tip: Build,
    partner: int | None,
    work: Collection[tuple[str, str]],
    figures: FrameworkFigures,
) -> Build | Unbuildable:
    toward = near if partner is not None else None
    sites = seat_sites(rest, near, toward) if rest else ()
    own = "minor_connector" in option.parts
    uprights = list(hung(rest, sites, site.based, near, own)) if rest else []
    plates = tuple(sorted(site.based)) if "on_root_or_implant" not in option.parts else ()
    start = clasp_of(option, near, word, sites, uprights, plates, site.based).start
    start_side = {"near": near, "far": opposite(near)}.get(start or "")
    if (
        start_side
        and start_side not in site.based
        and start_side not in sites
        and own
        and rest != "embrasure"
    ):
        uprights.append(start_side)
    clasp = clasp_of(option, near, word, sites, uprights, plates, site.based)
    if option.arm is not None and not grows(clasp):
        return Unbuildable("no_base" if clasp.bar else "nothing_to_grow_from", start_side or "")
    cuts = _passages(option, site, start_side, partner, figures)
    if isinstance(cuts, Unbuildable):
        return cuts
    if clasp.flexing:
        if is_open(clasp, figures) and own:  # an upright at the lingual closes the ring and braces
            uprights.append("lingual")
            clasp = clasp_of(option, near, word, sites, uprights, plates, site.based)
        if widest_gap(arcs(clasp, figures.crown)) >= figures.crown.gap_below:
            return Unbuildable("gap")
        if not opposed(clasp, figures.crown):
            return Unbuildable("unopposed")
        if touches_late(clasp, site, near, tip.depth_mm, work, figures):
            return Unbuildable("touches_late", "lingual")
    needed = tuple((site.tooth, one) for one in dict.fromkeys(uprights))
    return replace(tip, rest=rest, uprights=needed, plates=plates, cuts=cuts, start=start_side)


def clasp_of(
    option: Option,
    near: str,
    word: str | None,
    sites: Sequence[str],
    uprights: Sequence[str],
    plates: Sequence[str],
    based: frozenset[str],
    plated: bool = False,
) -> Clasp:
    """The clasp as seen from its approach."""

    def seen(words: Sequence[str] | frozenset[str]) -> frozenset[str]:
        return frozenset(rotate(one, near) for one in words)

    return Clasp(option, word, seen(sites), seen(uprights), seen(plates), seen(based), plated)


def is_open(clasp: Clasp, figures: FrameworkFigures) -> bool:
    """Whether a clasp lets its tooth slip out, or has nothing rigid against its tip."""
    found = arcs(clasp, figures.crown)
    return widest_gap(found) >= figures.crown.gap_below or not opposed(clasp, figures.crown)


def _passages(
    option: Option, site: ToothSite, start: str | None, partner: int | None, figures: FrameworkFigures
) -> tuple[str, ...] | Unbuildable:
    """Whether metal that comes round an end without a base has room there; the sides where a seat has to make it."""
    if start is None or start in site.based:
        return ()
    room = site.embrasures[start]
    if start not in site.touching:  # behind the last tooth
        enough = room.low is not None and room.low >= figures.room.least_mm
        return () if enough else Unbuildable("no_room_behind", start)
    least = figures.room.shared_embrasure_mm if partner is not None else figures.room.least_mm
    if room.high is None or room.high >= least:
        return ()
    return Unbuildable("no_room", start) if site.leave["rest_seat"] is False else (start,)
