"""A second look at whether a design can be made in metal, written from the trade's words and not from the program.

It reads a case and a design, nothing else: no catalogue, no rules, no code of the frameworks. What must hold
(clasp design as taught: Carr AB, Brown DT. McCracken's Removable Partial Prosthodontics, 12th ed. Elsevier
Mosby, 2011, ch. 7; Krol AJ. Dent Clin North Am 1973;17:631-649, both from memory; angles round the crown:
common practice, no source):

- the metal is one piece; every rest, plate, base and clasp reaches the major connector;
- an arm grows from a rigid body at the end of the tooth opposite its tip; a bar leaves a base or the frame over
  a space;
- a tip lies in a zone that is recorded deep enough, or not recorded, or about to be made; never in a shallow
  one while the assembly could reach a deep one;
- a rigid part lies on the other side of the tooth from the tip, and touches it from the tip's first touch to full
  seating: on the way down the tip meets the crown at the survey line of its own surface, so it still has to travel
  the millimetres from that line to its seat; a rigid part can only touch above the survey line of its surface, so it
  guides for the millimetres from that line to the top of the crown, a plate for its own height;
- no gap between neighbouring contacts of a flexing clasp reaches half the way round;
- the halves of an embrasure clasp stand back to back on neighbours, and both bodies pass the embrasure between;
- metal has at least a millimetre (one and a half where two arms share an embrasure) in recorded room, or a seat
  is cut for it; a lower bar has room above the floor of the mouth.
"""

from collections.abc import Iterator
from math import radians, tan

from recommender.domain.case import Case
from recommender.domain.designs import Design, DesignRetainer
from recommender.domain.findings import Abutment

ROW = {
    "maxilla": [18, 17, 16, 15, 14, 13, 12, 11, 21, 22, 23, 24, 25, 26, 27, 28],
    "mandible": [48, 47, 46, 45, 44, 43, 42, 41, 31, 32, 33, 34, 35, 36, 37, 38],
}
# Angles round a crown: mesial 0, facial 90, distal 180, lingual 270 degrees.
END = {"mesial": 0, "distal": 180}
ZONE = {
    "mesial": 0, "mesiofacial": 45, "midfacial": 90, "distofacial": 135,
    "distal": 180, "distolingual": 225, "midlingual": 270, "mesiolingual": 315,
}  # fmt: skip
BARS = {"i_bar": 12, "t_bar": 25}
SWEEPING = {
    "circumferential", "reverse_circumferential", "embrasure", "combination", "rpa", "polymer_arm", "lingual_retention",
    "lingual_wrap", "half_and_half", "extended_arm", "hairpin",
}  # fmt: skip
GOING_ROUND = {"ring", "back_action"}
FLEXING = SWEEPING | GOING_ROUND | set(BARS) | {"proximal_undercut"}
LINGUAL_BRACE = {
    "circumferential", "reverse_circumferential", "embrasure", "combination", "t_bar", "hairpin", "extended_arm",
    "polymer_arm",
}  # fmt: skip
# Where an assembly may look for its undercut, told near and far from its approach.
REACH = {
    "circumferential": ["far facial"], "reverse_circumferential": ["near facial"], "embrasure": ["far facial"],
    "combination": ["far facial"], "i_bar": ["mid facial", "far facial"], "t_bar": ["near facial", "far facial"],
    "rpa": ["far facial", "mid facial"], "polymer_arm": ["far facial", "mid facial"], "hairpin": ["near facial"],
    "ring": ["near lingual", "near facial"], "back_action": ["far facial", "near facial"],
    "extended_arm": ["far facial"],
    "half_and_half": ["far lingual", "near lingual", "far facial", "near facial"],
    "lingual_retention": ["far lingual", "near lingual"], "lingual_wrap": ["near", "near lingual"],
    "proximal_undercut": ["near"], "rigid_rotational": ["near"],
}  # fmt: skip
DEEP_ENOUGH, LEAST_METAL, LEAST_SHARED = 0.25, 1.0, 1.5
# A tip lies at least a millimetre above the gum, and no farther below the survey line than where a face that
# converges by five degrees is as deep as the arm is set (flatter faces hold nothing); a survey line lies in the
# middle of its third; a crown that was not measured is seven millimetres high, a plate two (all from memory).
ABOVE_GUM, FLATTEST, CROWN, PLATE = 1.0, tan(radians(5)), 7.0, 2.0
LINE = {"gingival": 1 / 6, "middle": 3 / 6, "occlusal": 5 / 6}
# Lower bars: height of the bar and its distance from the gum (Carr AB, Brown DT. McCracken's Removable Partial
# Prosthodontics, 12th ed. Elsevier Mosby, 2011, ch. 5: 4 + 3 mm; from memory).
OVER_FLOOR = {"lingual_bar": 7.0, "lingual_bar_cingulum_bar": 7.0}


def other(end: str) -> str:
    return "distal" if end == "mesial" else "mesial"


def end_of(zone: str) -> str | None:
    """The end of the tooth at which a zone lies; ``None`` for the middle."""
    return "mesial" if zone.startswith("mesi") else "distal" if zone.startswith("dist") else None


class Mouth:
    """A case and a design, laid out tooth by tooth."""

    def __init__(self, case: Case, design: Design) -> None:
        self.case, self.design = case, design
        gone = {*case.missing, *(case.absent or []), *(case.planned_extractions or [])}
        self.row = ROW[case.arch]
        self.standing = [tooth for tooth in self.row if tooth not in gone]
        self.survey: dict[int, Abutment] = {a.tooth: a for a in case.abutments or []}
        self.rests = {t: str(r) for t, r in (design.rests or {}).items() if r != "none"}
        self.clasps = {r.tooth: r for r in design.retainers or []}
        self.uprights = {(m.tooth, str(m.site)) for m in design.minor_connectors or []}
        self.plates = {(p.tooth, str(p.surface)) for p in design.proximal_plates or []}
        self.plated = {tooth for p in design.plating or [] for tooth in p.teeth}
        self.work = {(p.tooth, p.surface, str(p.action)) for p in design.preparation or []}
        self.based: dict[tuple[int, str], int] = {}
        for number, base in enumerate(design.bases or []):
            for tooth in self.standing:
                for end in ("mesial", "distal"):
                    if self.step(tooth, end) in base.teeth:
                        self.based[tooth, end] = number
        self.covered = design.connector in (
            "complete_plate",
            "metal_resin_plate",
            "linguoplate",
            "interrupted_linguoplate",
        )

    def step(self, tooth: int, end: str) -> int | None:
        """The next place of the row on that end."""
        place = self.row.index(tooth)
        right = tooth // 10 in (1, 4)
        ahead = place + (1 if (end == "mesial") == right else -1)
        return self.row[ahead] if 0 <= ahead < len(self.row) else None

    def neighbour(self, tooth: int, end: str) -> int | None:
        """The standing tooth on that end, past teeth that are absent and not replaced."""
        place = self.row.index(tooth)
        right = tooth // 10 in (1, 4)
        way = 1 if (end == "mesial") == right else -1
        place += way
        while 0 <= place < len(self.row):
            found = self.row[place]
            if found in self.standing:
                return found
            if found in self.case.missing:
                return None
            place += way
        return None

    def sites(self, tooth: int) -> set[str]:
        """The places on a tooth that its rest takes."""
        rest = self.rests.get(tooth)
        clasp = self.clasps.get(tooth)
        if rest in ("mesial_distal", "onlay"):
            return {"mesial", "distal"}
        if rest == "embrasure":
            if clasp and clasp.partner:
                return {end for end in END if self.neighbour(tooth, end) == clasp.partner}
            return {"mesial", "distal"}
        if rest == "long":
            return {str(clasp.approach)} if clasp and clasp.approach else {"mesial"}
        return {rest} if rest else set()

    def bodies(self, tooth: int) -> set[str]:
        """Where rigid metal stands at a tooth: ``mesial``, ``distal``, or in the middle of the lingual."""
        found = set(self.sites(tooth))
        found |= {site for t, site in self.uprights if t == tooth}
        found |= {end for t, end in self.plates if t == tooth}
        found |= {end for (t, end) in self.based if t == tooth}
        return found


def faults(case: Case, design: Design) -> Iterator[tuple[int, str]]:
    """What could not be made: the tooth (0 for the frame) and a sentence."""
    mouth = Mouth(case, design)
    yield from _pieces(mouth)
    for clasp in mouth.clasps.values():
        if clasp.assembly in FLEXING:
            yield from _grows(mouth, clasp)
            yield from _grips(mouth, clasp)
            yield from _embraces(mouth, clasp)
    yield from _back_to_back(mouth)
    yield from _room(mouth)


def _pieces(mouth: Mouth) -> Iterator[tuple[int, str]]:
    """Every rest and clasp hangs on the major connector through a base or an upright."""
    for tooth in {*mouth.rests, *mouth.clasps}:
        assembly = mouth.clasps[tooth].assembly if tooth in mouth.clasps else "rest_only"
        carried = tooth in mouth.plated or any(t == tooth for t, _ in mouth.based)
        if tooth not in mouth.standing:  # a root or implant under its base
            if not any(tooth in base.teeth for base in mouth.design.bases or []):
                yield tooth, "nothing over this root or implant reaches the frame"
            continue
        if assembly == "none":
            continue
        hanging = []
        for site in mouth.sites(tooth):
            held = (
                (tooth, site) in mouth.uprights
                or (tooth, site) in mouth.based
                or (tooth, site) in mouth.plates
            )
            on_plate = site in ("cingulum", "incisal") and (carried or (tooth, "lingual") in mouth.uprights)
            hanging += [] if held or on_plate else [site]
        # an onlay is one casting: held at one end it is held
        if hanging and not (mouth.rests.get(tooth) == "onlay" and len(hanging) < 2):
            yield tooth, f"the {' and '.join(hanging)} rest hangs on nothing"
        if not carried and not any(t == tooth for t, _ in mouth.uprights):
            yield tooth, "no base or minor connector reaches it"
    if mouth.design.connector is None:
        yield 0, "no major connector"


def _grows(mouth: Mouth, clasp: DesignRetainer) -> Iterator[tuple[int, str]]:
    tooth, bodies = clasp.tooth, mouth.bodies(clasp.tooth)
    if clasp.assembly in BARS:
        if not any(t == tooth for t, _ in mouth.based):
            yield tooth, f"{clasp.assembly} with no base to leave"
        return
    if clasp.undercut is None:
        if clasp.assembly != "extended_arm":
            yield tooth, f"{clasp.assembly} names no zone for its tip"
        ends = {str(clasp.approach)} if clasp.approach else set(END)
        if not ends & bodies:
            yield tooth, f"{clasp.assembly} has nothing to grow from"
        return
    end = end_of(clasp.undercut.zone)
    if clasp.assembly in SWEEPING - {"hairpin"} and end is not None and other(end) not in bodies:
        yield (
            tooth,
            f"{clasp.assembly}: tip {clasp.undercut.zone}, nothing at the {other(end)} to grow from ({sorted(bodies)})",
        )
    elif not bodies & set(END) and clasp.assembly != "proximal_undercut":
        yield tooth, f"{clasp.assembly} has nothing to grow from"
    # An arm that comes round an end with no space there passes between two teeth, or behind the last one.
    start = other(end) if end and clasp.assembly in SWEEPING - {"hairpin"} else None
    free = start and (tooth, start) not in mouth.based and mouth.neighbour(tooth, start) is None
    if free and start and not _recorded_room(mouth, tooth, start):
        yield tooth, f"{clasp.assembly} comes round the free {start} end without recorded room"


def _recorded_room(mouth: Mouth, tooth: int, end: str) -> bool:
    room = mouth.survey.get(tooth) and mouth.survey[tooth].embrasure_clearance_mm
    value = getattr(room, end, None) if room else None
    return value is not None and _high(value) >= LEAST_METAL


def _high(value: object) -> float:
    return float(getattr(value, "high", None) or getattr(value, "value", None) or value)  # type: ignore[arg-type]


def _depth(mouth: Mouth, tooth: int, zone: str) -> float | None:
    depths = mouth.survey.get(tooth) and mouth.survey[tooth].undercuts_mm
    value = getattr(depths, zone, None) if depths else None
    return None if value is None else _high(value)


def _reach(clasp: DesignRetainer) -> list[str]:
    near = str(clasp.approach or "mesial")
    found = []
    for words in REACH[clasp.assembly]:
        word, _, surface = words.partition(" ")
        end = near if word == "near" else other(near)
        found.append(f"mid{surface}" if word == "mid" else f"{end[:-2]}o{surface}" if surface else end)
    return found


def _grips(mouth: Mouth, clasp: DesignRetainer) -> Iterator[tuple[int, str]]:
    if clasp.undercut is None:
        return
    tooth, zone = clasp.tooth, clasp.undercut.zone
    if clasp.assembly == "extended_arm":
        tooth = mouth.neighbour(tooth, other(str(clasp.approach))) or tooth
    depth = _depth(mouth, tooth, zone)
    if depth is None or depth >= DEEP_ENOUGH:
        return
    better = [z for z in _reach(clasp) if (_depth(mouth, tooth, z) or 0.0) >= DEEP_ENOUGH]
    if better and clasp.assembly != "extended_arm":
        yield tooth, f"{clasp.assembly}: tip in {zone} ({depth} mm) though {better} is deep enough"
    elif (tooth, zone, "create_undercut") not in mouth.work:
        yield tooth, f"{clasp.assembly}: tip in {zone}, recorded at {depth} mm"


def _arc(start: float, end: float) -> list[tuple[float, float]]:
    """An arc from start to end, going up, cut at 360."""
    start, length = start % 360, (end - start) % 360
    return [(start, start + length)] if start + length <= 360 else [(start, 360), (0, start + length - 360)]


def _sweep(start: str, zone: str, long_way: bool) -> tuple[float, float]:
    """The arc of an arm from an end of the tooth to a zone, on the surface of the zone or the long way round to it."""
    angle, begin = ZONE[zone], END[start]
    facial = 0 < angle < 180
    upward = (begin == 0) == facial
    if long_way:
        upward = not upward
    return (begin, angle) if upward else (angle, begin)


def _contacts(
    mouth: Mouth, clasp: DesignRetainer
) -> tuple[list[tuple[float, float]], list[tuple[float, float]]]:
    """Arcs of every contact, and of the rigid ones."""
    tooth = clasp.tooth
    near = str(clasp.approach or "mesial")
    zone = clasp.undercut.zone if clasp.undercut else f"{other(near)[:-2]}ofacial"
    rigid: list[tuple[float, float]] = []
    for site in mouth.sites(tooth):
        angle = END.get(site)
        rigid += _arc(angle - 15, angle + 15) if angle is not None else _arc(240, 300)
    for _, end in (p for p in mouth.plates if p[0] == tooth):
        rigid += _arc(160, 230) if end == "distal" else _arc(310, 380)
    for _, site in (u for u in mouth.uprights if u[0] == tooth):
        rigid += {"distal": _arc(195, 225), "mesial": _arc(315, 345)}.get(site, _arc(250, 290))
    if mouth.covered or tooth in mouth.plated:
        rigid += _arc(225, 315)
    arm: list[tuple[float, float]] = []
    if clasp.assembly in BARS:
        half = BARS[clasp.assembly]
        arm = _arc(ZONE[zone] - half, ZONE[zone] + half)
    elif clasp.assembly == "proximal_undercut":
        arm = _arc(ZONE[zone] - 20, ZONE[zone] + 20)
        rigid += _arc(310, 360) if near == "distal" else _arc(180, 230)
    elif clasp.assembly == "extended_arm":
        arm = _arc(0, 180)
    else:
        end = end_of(zone)
        going_round = clasp.assembly in GOING_ROUND
        start = (end or near) if going_round or clasp.assembly == "hairpin" else (other(end) if end else near)
        arm = _arc(*_sweep(start, zone, going_round))
        if clasp.assembly == "hairpin":
            arm += _arc(0, 180)
        if going_round:  # the first half of the long arm is stiff
            rigid += _arc(180, 360) if 0 < ZONE[zone] < 180 else _arc(0, 180)
        if clasp.assembly == "half_and_half":
            rigid += _arc(225, 315) if 0 < ZONE[zone] < 180 else _arc(45, 135)
        if clasp.assembly == "lingual_retention":
            rigid += _arc(0, 75) if start == "mesial" else _arc(105, 180)
    if clasp.assembly in LINGUAL_BRACE:
        rigid += _arc(225, 315)
    return arm + rigid, rigid


def _embraces(mouth: Mouth, clasp: DesignRetainer) -> Iterator[tuple[int, str]]:
    arcs, rigid = _contacts(mouth, clasp)
    gap = _widest_gap(arcs)
    if gap >= 180:
        yield clasp.tooth, f"{clasp.assembly} leaves {gap:.0f} degrees of the crown free"
    zone = clasp.undercut.zone if clasp.undercut else None
    if zone is None or clasp.assembly == "extended_arm":
        return
    opposite = [arc for arc in rigid if _opposes(arc, zone)]
    if not opposite and not _both_sides(rigid, zone):
        yield clasp.tooth, f"{clasp.assembly}: nothing rigid on the other side of the tooth from {zone}"
    yield from _first_touch(mouth, clasp, zone)


def _opposes(arc: tuple[float, float], zone: str, within: float = 45) -> bool:
    """Whether an arc comes within so many degrees of straight across from a zone."""
    against = (ZONE[zone] + 180) % 360
    return arc[0] <= against <= arc[1] or min(_apart(against, end) for end in arc) <= within


def _both_sides(rigid: list[tuple[float, float]], zone: str) -> bool:
    against = (ZONE[zone] + 180) % 360
    ends = [(end - against + 180) % 360 - 180 for arc in rigid for end in arc]
    return any(-90 <= end <= 0 for end in ends) and any(0 <= end <= 90 for end in ends)


def _line(survey: Abutment, zone: str, eased: bool) -> float | None:
    """The height of the survey line at a zone, as a share of the crown; ``None`` where it was not recorded."""
    told = survey.contour_height_lingual if zone.endswith("lingual") else survey.contour_height
    word = told if isinstance(told, str) or told is None else getattr(told, zone, None)
    if word is None:
        return None
    return min(LINE[word], LINE["middle"]) if eased else LINE[word]


def _first_touch(mouth: Mouth, clasp: DesignRetainer, zone: str) -> Iterator[tuple[int, str]]:
    """Millimetres that the tip travels from its first touch against those for which rigid metal guides the tooth."""
    tooth, survey = clasp.tooth, mouth.survey.get(clasp.tooth)
    facial = zone.endswith("facial")
    if survey is None or clasp.assembly in GOING_ROUND or not (facial or zone.endswith("lingual")):
        return
    height = _high(survey.crown_height_mm) if survey.crown_height_mm is not None else CROWN
    lowered = {s for t, s, a in mouth.work if t == tooth and a in ("lower_contour_height", "crown")}
    surfaces = lowered | ({"facial", "lingual"} if "crown" in lowered else set())
    line = _line(survey, zone, "facial" in surfaces if facial else "lingual" in surfaces)
    across = "midlingual" if facial else "midfacial"
    guide = _line(survey, across, "lingual" in surfaces if facial else "facial" in surfaces)
    if line is None or guide is None:
        return
    used = _high(clasp.undercut.mm) if clasp.undercut and clasp.undercut.mm is not None else DEEP_ENOUGH
    travel = max(0.0, min(height * line - ABOVE_GUM, used / FLATTEST))
    guided = height * (1 - guide)
    plane = any(t == tooth and s == "lingual" and a == "guiding_plane" for t, s, a in mouth.work)
    if facial and (plane or "lingual" in (survey.guiding_planes or ())):
        guided = max(guided, travel)
    for plate in mouth.design.proximal_plates or []:
        arcs = _arc(160, 230) if plate.surface == "distal" else _arc(310, 380)
        if plate.tooth == tooth and any(_opposes(arc, zone) for arc in arcs):
            guided = max(guided, _high(plate.height_mm) if plate.height_mm is not None else PLATE)
    if guided < travel:
        late = f"touches {travel:.1f} mm before its seat, rigid metal guides only {guided:.1f}"
        yield tooth, f"{clasp.assembly}: the tip at {zone} {late}"


def _apart(first: float, second: float) -> float:
    return abs((first - second + 180) % 360 - 180)


def _widest_gap(arcs: list[tuple[float, float]]) -> float:
    if not arcs:
        return 360.0
    arcs = sorted(arcs)
    reached, widest = arcs[0][1], 0.0
    for low, high in arcs[1:]:
        widest = max(widest, low - reached)
        reached = max(reached, high)
    return max(widest, arcs[0][0] + 360 - reached)


def _back_to_back(mouth: Mouth) -> Iterator[tuple[int, str]]:
    """Each half of an embrasure clasp has the other beside it, and metal in the embrasure between."""
    for tooth, clasp in mouth.clasps.items():
        if clasp.assembly != "embrasure":
            continue
        toward = next((end for end in END if mouth.neighbour(tooth, end) == clasp.partner), None)
        other_half = mouth.clasps.get(clasp.partner or 0)
        if toward is None or other_half is None or other_half.partner != tooth:
            yield tooth, f"embrasure clasp with {clasp.partner}, which is no neighbour that carries its other half"
        elif toward not in mouth.bodies(tooth) or (clasp.approach and str(clasp.approach) != toward):
            yield tooth, "embrasure clasp whose body does not pass the embrasure"


def _room(mouth: Mouth) -> Iterator[tuple[int, str]]:
    for tooth in mouth.rests:
        recorded = mouth.survey.get(tooth) and mouth.survey[tooth].rest_clearance_mm
        for site in mouth.sites(tooth):
            room = getattr(recorded, site, None) if hasattr(recorded, "mesial") else recorded
            if (
                room is not None
                and _high(room) < LEAST_METAL
                and (tooth, site, "rest_seat") not in mouth.work
            ):
                yield tooth, f"a rest in {room} mm at the {site}"
    for tooth, clasp in mouth.clasps.items():
        if clasp.assembly not in SWEEPING or clasp.undercut is None:
            continue
        end = end_of(clasp.undercut.zone)
        start = other(end) if end and clasp.assembly != "hairpin" else str(clasp.approach)
        if start not in END or mouth.neighbour(tooth, start) is None or clasp.assembly in ("lingual_wrap",):
            continue
        recorded = mouth.survey.get(tooth) and mouth.survey[tooth].embrasure_clearance_mm
        room = getattr(recorded, start, None) if recorded else None
        least = LEAST_SHARED if clasp.assembly == "embrasure" else LEAST_METAL
        if room is not None and _high(room) < least and (tooth, start, "rest_seat") not in mouth.work:
            yield tooth, f"{clasp.assembly} through {room} mm of embrasure"
    least = OVER_FLOOR.get(str(mouth.design.connector))
    floor = mouth.case.floor.depth_mm if mouth.case.floor is not None else None
    depths = [floor] if not hasattr(floor, "premolar") else [floor.incisor, floor.premolar]
    for depth in depths:
        if least is not None and depth is not None and _high(depth) < least:
            yield 0, f"{mouth.design.connector} over a floor of {_high(depth)} mm"
