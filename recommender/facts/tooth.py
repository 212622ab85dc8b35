"""Facts about one tooth, and about one tooth looked at toward one space (near and far)."""

from functools import lru_cache

from recommender.domain.case import Case
from recommender.domain.dentition import neighbour, opposite, position, side_of, tooth_type
from recommender.domain.findings import Abutment
from recommender.domain.kennedy import Classification, Space
from recommender.facts.case_fields import Layer, abutment_fields, contour_at, rest_room
from recommender.facts.figures import display_figures
from recommender.facts.logic import any_of, gather_fields, gather_gaps, largest, test
from recommender.facts.values import Fact, Value, known, not_recorded

DENTITION = "missing"
_FACIAL = ("mesiofacial", "midfacial", "distofacial")
_LINGUAL = ("mesiolingual", "midlingual", "distolingual")


def touching(tooth: int, side: str, standing: frozenset[int], to_replace: frozenset[int]) -> int | None:
    """The standing tooth beside ``tooth`` on that side; absent teeth are passed over, a space ends the search."""
    reached = neighbour(tooth, side)
    direction = side
    while reached is not None:
        if reached in standing:
            return reached
        if reached in to_replace:
            return None
        # Past the midline "mesial" of the other side's teeth points back: go on distally there.
        if side_of(reached) != side_of(tooth):
            direction = "distal"
        reached = neighbour(reached, direction)
    return None


def tooth_layer(
    tooth: int,
    case: Case,
    abutment: Abutment | None,
    spaces_beside: dict[str, Space],
    standing: frozenset[int],
    ahead: Fact,
    shows: Fact,
) -> Layer:
    """Tooth-scope facts: ``abutment.*`` and the ``derived.*`` that need no space."""
    layer = abutment_fields(tooth, abutment)
    to_replace = frozenset(case.missing) - standing
    touches = [touching(tooth, side, standing, to_replace) for side in ("mesial", "distal")]
    behind = [t for t in standing if side_of(t) == side_of(tooth) and position(t) > position(tooth)]
    described: dict[str, Value] = {
        "tooth_number": tooth,
        "tooth_position": position(tooth),
        "tooth_type": tooth_type(tooth),
        "next_to_space": bool(spaces_beside),
        "between_spaces": len(spaces_beside) == 2,
        "beside_extension": any(space.support == "extension" for space in spaces_beside.values()),
        "isolated": not any(touches),
        "terminal": not behind,
        "listed": abutment is not None,
    }
    for name, value in described.items():
        layer[f"derived.{name}"] = _from_dentition(value)
    layer["derived.ahead_of_fulcrum"] = ahead
    layer["derived.shows"] = shows
    for surface, zones in (("facial", _FACIAL), ("lingual", _LINGUAL)):
        layer[f"derived.{surface}_max_mm"] = largest(
            (layer[f"abutment.undercuts_mm.{z}"] for z in zones), "mm"
        )
    layer["derived.loss_likely"] = _loss_likely(tooth, case)
    layer["derived.may_carry"] = may_carry(layer)
    layer["derived.seat_refused"] = seat_refused(layer)
    return layer


@lru_cache(maxsize=1024, typed=True)
def _from_dentition(value: Value) -> Fact:
    return known(value, DENTITION)


def _loss_likely(tooth: int, case: Case) -> Fact:
    if case.future_loss_likely is None:
        return not_recorded("future_loss_likely")
    return known(tooth in case.future_loss_likely, "future_loss_likely")


def may_carry(layer: Layer) -> Fact:
    """Mobility below the grade at which a tooth carries nothing (``display.yaml``), and no untreated disease."""
    most = int(display_figures()["doubtful_tooth"]["carries_nothing_mobility"])
    barred = any_of(
        (test(layer["abutment.mobility"], lambda grade: int(str(grade)) >= most), layer["abutment.mobility"]),
        (test(layer["abutment.disease"], lambda disease: disease != "none"), layer["abutment.disease"]),
    )
    if barred.value is None:
        return barred
    return known(not barred.value, *barred.fields)


def seat_refused(layer: Layer) -> Fact:
    """Whether no rest seat may be cut: no preparation at all, or a list of what is allowed that leaves seats out."""
    preparable, listed = layer["abutment.preparable"], layer["abutment.permitted"]
    if preparable.value is False:
        return known(True, *preparable.fields)
    if isinstance(listed.value, frozenset):
        return known("rest_seat" not in listed.value, *listed.fields)
    return preparable if preparable.value is None else known(False, *preparable.fields)


def dentate_side(tooth: int, classification: Classification) -> Fact:
    """Whether no space lies on this tooth's side of the arch."""
    sides = {side_of(t) for space in classification.spaces for t in space.teeth}
    return known(side_of(tooth) not in sides, DENTITION)


def approach_layer(
    tooth: int,
    near: str,
    space: Space | None,
    case: Case,
    abutment: Abutment | None,
    layer: Layer,
    standing: frozenset[int],
) -> Layer:
    """Approach-scope facts of a tooth seen from its ``near`` side (``mesial`` or ``distal``).

    ``space`` is the space on that side, or ``None`` for a tooth that is looked at without one.
    """
    far = opposite(near)
    to_replace = frozenset(case.missing) - standing
    facts: Layer = {
        "derived.near_side": known(near, DENTITION),
        "derived.support": known(space.support if space else "none", DENTITION),
        "derived.space_side": known(near if space else "none", DENTITION),
        "derived.space_length": known(len(space.teeth) if space else 0, DENTITION, unit="teeth"),
        "derived.border_far_end": known(
            "none" if space is None else "front" if near == "distal" else "behind", DENTITION
        ),
        "derived.far_neighbour": known(touching(tooth, far, standing, to_replace) is not None, DENTITION),
        "derived.near_neighbour": known(touching(tooth, near, standing, to_replace) is not None, DENTITION),
        "derived.tilt": tilt_toward(layer["abutment.tilt"], near),
    }
    for surface in ("facial", "lingual"):
        for word, side in (("near", near), ("far", far)):
            facts[f"derived.{word}_{surface}_mm"] = layer[f"abutment.undercuts_mm.{side[:-2]}o{surface}"]
        facts[f"derived.mid_{surface}_mm"] = layer[f"abutment.undercuts_mm.mid{surface}"]
    for word, side in (("near", near), ("far", far)):
        facts[f"derived.{word}_proximal_mm"] = layer[f"abutment.undercuts_mm.{side}"]
        facts[f"derived.{word}_contour"] = contour_at(tooth, abutment, f"{side[:-2]}ofacial")
        facts[f"derived.{word}_embrasure_mm"] = layer[f"abutment.embrasure_clearance_mm.{side}"]
        facts[f"derived.{word}_rest_room_mm"] = rest_room(tooth, abutment, side)
        facts[f"derived.{word}_rest_seat"] = _listed(layer["abutment.rest_seats"], side)
    facts["derived.mid_contour"] = contour_at(tooth, abutment, "midfacial")
    facts["derived.lingual_contour"] = layer["abutment.contour_height_lingual"]
    facts["derived.near_guiding_plane"] = _listed(layer["abutment.guiding_planes"], near)
    facts["derived.lingual_guiding_plane"] = _listed(layer["abutment.guiding_planes"], "lingual")
    level = layer[f"abutment.undercuts_level_mm.{far[:-2]}ofacial"]
    facts["derived.tilt_only_far_facial"] = tilt_only(facts["derived.far_facial_mm"], level)
    return facts


def _listed(fact: Fact, word: str) -> Fact:
    if not isinstance(fact.value, frozenset):
        return not_recorded(*fact.gaps)
    return known(word in fact.value, *fact.fields)


def tilt_toward(fact: Fact, near: str) -> Fact:
    if fact.value is None:
        return fact
    word = str(fact.value)
    if word in ("mesial", "distal"):
        word = "toward_space" if word == near else "away_from_space"
    return known(word, *fact.fields)


def tilt_only(at_path: Fact, level: Fact) -> Fact:
    """An undercut that is there at the chosen path but not with the cast level."""
    both = (at_path, level)
    if (
        at_path.high is not None
        and at_path.low is not None
        and level.high is not None
        and level.low is not None
    ):
        if at_path.low > 0 and level.high == 0:
            return known(True, *gather_fields(both))
        if at_path.high == 0 or level.low > 0:
            return known(False, *gather_fields(both))
    return Fact(None, fields=gather_fields(both), gaps=gather_gaps(both))
