"""The survey as the ticket says it: which cast, at which path, what was measured, how the path is found again."""

from recommender.documents import blocks
from recommender.domain.case import Case
from recommender.domain.measures import Interval, Measured, expected
from recommender.domain.statement import Arg, Quantity, Statement, Word, quantity, say, several
from recommender.domain.statement import teeth as teeth_of
from recommender.domain.vocabulary import ZONES
from recommender.wording.words import Words


def survey_lines(case: Case) -> list[Statement]:
    """The path and the cast, then what of the survey was measured from a scan."""
    return [tilt_said(case), *cast_said(case), *_measured(case)]


def tilt_said(case: Case) -> Statement:
    """The path of placement, as recorded."""
    records = case.records
    marked = records.tripod_marked if records is not None else None
    tripod = None if marked is None else say("ticket.tripod_on_cast" if marked else "ticket.no_tripod")
    if records is None or (records.tilt_ap_deg is None and records.tilt_lateral_deg is None):
        return say("ticket.tilt_missing", tripod=tripod)
    front, side = tilts(records.tilt_ap_deg, records.tilt_lateral_deg)
    return say("ticket.tilt", front=front, side=side, tripod=tripod)


def cast_said(case: Case) -> list[Statement]:
    """Which cast the survey is of."""
    cast = case.records.cast if case.records is not None else None
    if cast is None:
        return []
    return [say("ticket.cast_before" if cast == "before_preparation" else "ticket.cast_after")]


def _measured(case: Case) -> list[Statement]:
    """What of the survey was measured from a scan, and how the bench finds the same path again."""
    scanned = case.survey
    if scanned is None or not scanned.confirmed:
        return []
    lines = [say("ticket.measured", teeth=teeth_of(scanned.confirmed))]
    tripod = scanned.path.tripod if scanned.path is not None else None
    if tripod is not None and tripod.points_mm and tripod.heights_level_mm:
        places = [
            say(
                "ticket.place_left" if x >= 0 else "ticket.place_right",
                across=quantity(abs(x), "mm"),
                forward=quantity(y, "mm"),
                height=quantity(height, "mm"),
            )
            for (x, y, _), height in zip(tripod.points_mm, tripod.heights_level_mm, strict=True)
        ]
        lines.append(say("ticket.tripod", places=several(places)))
    return lines


def tilts(front: Measured | None, right: Measured | None) -> tuple[Statement, Statement]:
    """How the cast is tilted, front to back and to the side."""
    return _tilt(front, "front", ("front_down", "front_up")), _tilt(
        right, "side", ("right_down", "left_down")
    )


def _tilt(value: Measured | None, name: str, ways: tuple[str, str]) -> Statement:
    if value is None:
        return say(f"papers.{name}_missing")
    turned = expected(value) < 0
    if isinstance(value, Interval):
        low, high = (-value.high, -value.low) if turned else (value.low, value.high)
        angle = Quantity(low, high, "degrees", 1)
    else:
        angle = quantity(abs(value), "degrees", 0 if float(value).is_integer() else 1)
    return say(f"papers.{ways[turned]}", angle=angle)


def found_undercuts(case: Case, words: Words) -> list[blocks.Block]:
    """Every undercut that the survey found, tooth by tooth."""
    rows = []
    for abutment in case.abutments or ():
        depths = abutment.undercuts_mm
        if depths is None:
            continue
        found = [
            say("ticket.undercuts", zone=Word("zone", zone), depth=_depth(value))
            for zone in ZONES
            if (value := getattr(depths, zone)) is not None and expected(value) > 0
        ]
        if found:
            rows.append([words.tooth(abutment.tooth), words.said(several(found, "comma"))])
    head = [words.text(say(f"ticket.head.{name}")) for name in ("tooth", "undercuts")]
    return [blocks.table(head, rows, (1, 7))] if rows else []


def _depth(value: Measured) -> Arg:
    if isinstance(value, Interval):
        band = Quantity(value.low, value.high, "", 2)
        return say("ticket.depth_band", value=quantity(value.value, "", 2), band=band)
    return quantity(value, "", 2)
