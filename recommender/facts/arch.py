"""Facts about the arch as a whole that follow from the dentition and from several teeth at once."""

from collections.abc import Mapping, Sequence

from recommender.domain.case import Case
from recommender.domain.dentition import is_anterior, position, side_of, tooth_type
from recommender.domain.findings import Abutment
from recommender.domain.kennedy import Classification, Space
from recommender.facts.axis import rear_end
from recommender.facts.case_fields import Layer
from recommender.facts.figures import display_figures
from recommender.facts.logic import any_of, count_of, gather_fields, gather_gaps, largest, least, test
from recommender.facts.values import Fact, between, known, measured, not_recorded

DENTITION = "missing"


def arch_facts(
    case: Case,
    classification: Classification,
    standing: Sequence[int],
    considered: Sequence[int],
    surveyed: Mapping[int, Abutment],
    abutment_layers: Mapping[int, Layer],
) -> Layer:
    """Case-scope ``derived.*`` facts (names and units in ``shared/facts.yaml``)."""
    spaces = classification.spaces
    facts = _dentition(case, classification, standing)
    extension_borders = [tooth for space in spaces if space.support == "extension" for tooth in space.borders]
    if extension_borders:
        frontmost = min(extension_borders, key=position)
        facts["derived.last_abutment_type"] = known(tooth_type(frontmost), DENTITION)
    facts["derived.rear_abutment_doubtful"] = any_of(
        *(doubtful(tooth, abutment_layers) for tooth in rear_borders(spaces))
    )
    facts |= _weak_teeth(standing, considered, abutment_layers)
    facts["derived.plate_rest_sides"] = _plate_rest_sides(standing, abutment_layers)
    facts["derived.front_loss_likely"] = _front_loss(case, abutment_layers)
    facts["derived.flat_ridge"] = _flat_ridge(case, spaces)
    front = [tooth for tooth in standing if is_anterior(tooth)]
    # What was not recorded may be shallower: then the least is known from above only.
    labial = case.floor.labial_sulcus_mm if case.floor else None
    sulci = [abutment_layers[t]["abutment.vestibule_depth_mm"] for t in front if t in surveyed]
    sulci.append(measured(labial, "floor.labial_sulcus_mm", unit="mm"))
    facts["derived.front_sulcus_mm"] = (
        least(sulci, "mm")
        if any(fact.bounded for fact in sulci)
        else not_recorded("floor.labial_sulcus_mm", unit="mm")
    )
    facts["derived.front_recession_mm"] = largest(
        (abutment_layers[t]["abutment.recession_mm"] for t in front), "mm"
    )
    facts["derived.rest_seats_prepared"] = _seats_prepared(
        [abutment_layers[tooth]["abutment.rest_seats"] for tooth in considered]
    )
    return facts


def _dentition(case: Case, classification: Classification, standing: Sequence[int]) -> Layer:
    """What follows from which teeth stand; these facts cannot be "not recorded"."""
    spaces = classification.spaces
    missing = case.missing
    extensions = [space for space in spaces if space.support == "extension"]
    crossing = [space for space in spaces if space.crosses_midline]
    gone = set(missing) | set(case.absent or ()) | set(case.planned_extractions or ())
    long_front = display_figures()["long_front_space_teeth"]
    values: dict[str, bool | int | str | None] = {
        "kennedy": classification.number,
        "modifications": classification.modifications,
        "extension_sides": len({side_of(rear_end(space)) for space in extensions}),
        "extension_length": max((len(space.teeth) for space in extensions), default=0),
        "span_count": len(spaces),
        "space_crosses_midline": bool(crossing),
        "longest_span": max((len(space.teeth) for space in spaces), default=0),
        "anterior_space": any(is_anterior(tooth) for space in spaces for tooth in space.teeth),
        "anterior_missing_count": sum(1 for tooth in missing if is_anterior(tooth)),
        "missing_count": len(missing),
        "only_molars_missing": all(tooth_type(tooth) == "molar" for tooth in missing),
        "spaces_both_sides": len({side_of(tooth) for space in spaces for tooth in space.teeth}) == 2,
        "remaining_count": len(standing),
        "remaining_anteriors": sum(1 for tooth in standing if is_anterior(tooth)),
        "remaining_posteriors": sum(1 for tooth in standing if not is_anterior(tooth)),
        "fewest_on_a_side": min(
            sum(1 for tooth in standing if side_of(tooth) == side) for side in ("right", "left")
        ),
        "canine_missing": any(position(tooth) == 3 for tooth in gone),
        "long_front_space": any(len(space.teeth) >= long_front for space in crossing),
    }
    facts = {
        f"derived.{name}": known(value, DENTITION) for name, value in values.items() if value is not None
    }
    planned = case.planned_extractions
    facts["derived.planned_extraction_count"] = (
        not_recorded("planned_extractions", unit="teeth")
        if planned is None
        else known(len(planned), "planned_extractions", unit="teeth")
    )
    opposing = case.occlusion.opposing if case.occlusion else None
    pattern = case.arch == "mandible" and classification.number == "I"
    if not pattern:
        facts["derived.lower_front_opposing"] = known(False, DENTITION)
    elif opposing is None:
        facts["derived.lower_front_opposing"] = not_recorded("occlusion.opposing")
    else:
        facts["derived.lower_front_opposing"] = known(opposing == "complete_denture", "occlusion.opposing")
    return facts


def plate_rest_fit(tooth: int, layers: Mapping[int, Layer]) -> tuple[bool | None, Fact]:
    """Whether a tooth offers a plate a positive rest: it may carry, and a seat is there or may be cut."""
    layer = layers[tooth]
    seats, refused = layer["abutment.rest_seats"], layer["derived.seat_refused"]
    ready = test(seats, bool)
    no_seat = False if ready else test(refused, bool)
    if ready is None and no_seat:
        no_seat, refused = None, seats
    barred = any_of(
        (test(layer["derived.may_carry"], lambda may: not may), layer["derived.may_carry"]),
        (no_seat, seats if ready else refused),
    )
    return (None if barred.value is None else not barred.value), barred


def _plate_rest_sides(standing: Sequence[int], layers: Mapping[int, Layer]) -> Fact:
    """Sides on which a plate finds a positive rest far enough forward (``plate_rest_positions``)."""
    places = display_figures()["plate_rest_positions"]

    def side(name: str) -> tuple[bool | None, Fact]:
        answer = any_of(
            *(plate_rest_fit(t, layers) for t in standing if side_of(t) == name and position(t) in places)
        )
        return (None if answer.value is None else bool(answer.value)), answer

    return count_of((side(name) for name in ("right", "left")), "sides")


def _seats_prepared(seats: Sequence[Fact]) -> Fact:
    """How many rest seats stand ready: at least those recorded, more where a tooth's were not."""
    sure = float(sum(len(fact.value) for fact in seats if isinstance(fact.value, frozenset)))
    gaps = gather_gaps(fact for fact in seats if not fact.recorded)
    return between(sure, None if gaps else sure, unit="seats", fields=gather_fields(seats), gaps=gaps)


def rear_borders(spaces: Sequence[Space]) -> list[int]:
    """The teeth behind bounded spaces that do not cross the midline."""
    return [
        max(space.borders, key=position)
        for space in spaces
        if space.support == "tooth" and not space.crosses_midline and space.borders
    ]


def doubtful(tooth: int, layers: Mapping[int, Layer]) -> tuple[bool | None, Fact]:
    """Whether a tooth's days may be numbered: loose, with little bone (``display.yaml``), or named as likely to be
    lost."""
    layer, limits = layers[tooth], display_figures()["doubtful_tooth"]
    grade, kinds = int(limits["mobility"]), limits["bone"]
    answer = any_of(
        (
            test(layer["abutment.mobility"], lambda found: int(str(found)) >= grade),
            layer["abutment.mobility"],
        ),
        (test(layer["abutment.bone_support"], lambda bone: bone in kinds), layer["abutment.bone_support"]),
        (test(layer["derived.loss_likely"], bool), layer["derived.loss_likely"]),
    )
    return (None if answer.value is None else bool(answer.value)), answer


def _weak_teeth(standing: Sequence[int], considered: Sequence[int], layers: Mapping[int, Layer]) -> Layer:
    """Counts of teeth with little bone or loose; bounds while some were not recorded."""

    def bone_in(tooth: int, *words: str) -> tuple[bool | None, Fact]:
        fact = layers[tooth]["abutment.bone_support"]
        return test(fact, lambda bone: bone in words), fact

    def loose(tooth: int, least_grade: int) -> tuple[bool | None, Fact]:
        fact = layers[tooth]["abutment.mobility"]
        return test(fact, lambda grade: int(str(grade)) >= least_grade), fact

    def either(tooth: int, words: tuple[str, ...], grade: int) -> tuple[bool | None, Fact]:
        answer = any_of(bone_in(tooth, *words), loose(tooth, grade))
        return (None if answer.value is None else bool(answer.value)), answer

    limits = display_figures()["doubtful_tooth"]
    poor, reduced = tuple(limits["bone"]), tuple(limits["reduced_bone"])
    grade, front_grade = int(limits["weak_mobility"]), int(limits["weak_front_mobility"])
    front = [tooth for tooth in standing if is_anterior(tooth)]
    return {
        "derived.reduced_abutment_count": count_of((bone_in(t, *reduced) for t in considered), "teeth"),
        "derived.weak_abutment_count": count_of((either(t, poor, grade) for t in considered), "teeth"),
        "derived.weak_front_count": count_of((either(t, reduced, front_grade) for t in front), "teeth"),
    }


def _front_loss(case: Case, layers: Mapping[int, Layer]) -> Fact:
    """Whether front teeth are likely to be lost: said for the arch, or tooth by tooth."""
    part = "palate" if case.arch == "maxilla" else "floor"
    section = case.palate if case.arch == "maxilla" else case.floor
    said = section.future_loss_likely if section else None
    field = f"{part}.future_loss_likely"
    fact = not_recorded(field) if said is None else known(said, field)
    listed = case.future_loss_likely
    listed_fact = (
        not_recorded("future_loss_likely")
        if listed is None
        else known(any(is_anterior(tooth) for tooth in listed), "future_loss_likely")
    )
    return any_of((said, fact), (test(listed_fact, bool), listed_fact))


def _flat_ridge(case: Case, spaces: Sequence[Space]) -> Fact:
    """Whether any restored ridge is flat or displaceable."""
    answers: list[tuple[bool | None, Fact]] = []
    for space in spaces:
        field = f"spans[{space.teeth[0]}].ridge"
        span = next((span for span in case.spans or () if set(span.teeth) & set(space.teeth)), None)
        if span is None or span.ridge is None:
            answers.append((None, not_recorded(field)))
        else:
            answers.append((span.ridge in ("flat", "displaceable"), known(span.ridge, field)))
    return any_of(*answers)
