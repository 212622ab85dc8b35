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
- a rigid part lies on the other side of the tooth from the tip, and can touch before the tip is past the bulge;
- no gap between neighbouring contacts of a flexing clasp reaches half the way round;
- metal has at least a millimetre (one and a half where two arms share an embrasure) in recorded room, or a seat
  is cut for it.
"""

from collections.abc import Iterator

from recommender.domain.case import Abutment, Case, Design, DesignRetainer

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
    against = (ZONE[zone] + 180) % 360
    if not any(_apart(against, angle) < 90 for arc in rigid for angle in (*arc, sum(arc) / 2)):
        yield clasp.tooth, f"{clasp.assembly}: nothing rigid on the other side of the tooth from {zone}"
    survey = mouth.survey.get(clasp.tooth)
    high = survey is not None and survey.contour_height_lingual == "occlusal"
    if clasp.assembly in LINGUAL_BRACE and high:
        eased = {"lower_contour_height", "guiding_plane", "crown"}
        if not any(t == clasp.tooth and a in eased and s in ("lingual", "crown") for t, s, a in mouth.work):
            yield (
                clasp.tooth,
                f"{clasp.assembly}: the lingual arm would touch only after the tip is past the bulge",
            )


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
