"""Facts about one missing tooth in its space."""

from collections.abc import Mapping

from recommender.domain.case import Case
from recommender.domain.dentition import is_anterior, position, tooth_type
from recommender.domain.findings import Span
from recommender.domain.kennedy import Space
from recommender.facts.case_fields import Layer, span_fields
from recommender.facts.figures import display_figures
from recommender.facts.logic import below, gather_fields, gather_gaps
from recommender.facts.values import Fact, Value, between, known, measured, not_recorded, one_of

DENTITION = "missing"
_BONE = ("good", "reduced", "poor")


def span_of(case: Case, space: Space) -> Span | None:
    """The recorded entry for a space, if there is one."""
    return next((span for span in case.spans or () if set(span.teeth) & set(space.teeth)), None)


def space_layer(tooth: int, case: Case, space: Space, abutment_layers: Mapping[int, Layer]) -> Layer:
    """Space-scope facts of one missing tooth: ``span.*`` and ``derived.*``."""
    span = span_of(case, space)
    layer = span_fields(space.teeth[0], span, tooth)
    described: dict[str, Value] = {
        "missing_type": tooth_type(tooth),
        "span_length": len(space.teeth),
        "span_support": space.support,
        "span_zone": _zone(space),
    }
    for name, value in described.items():
        layer[f"derived.{name}"] = known(value, DENTITION)
    layer["derived.span_shows"] = shows_in_smile(tooth, case)
    layer["derived.weakest_border_bone"] = weakest_bone(
        [abutment_layers[t]["abutment.bone_support"] for t in space.borders]
    )
    layer["derived.width_per_tooth_mm"] = _width(space, span)
    contacts = case.occlusion.contacts if case.occlusion else None
    landed = (contacts or {}).get(tooth)
    field = f"occlusion.contacts[{tooth}]"
    if landed is None:
        layer["derived.closing_contact"] = not_recorded(field)
        layer["derived.gliding_contact"] = not_recorded(field)
    else:
        layer["derived.closing_contact"] = known("closing" in landed, field)
        layer["derived.gliding_contact"] = known(bool({"protrusive", "lateral"} & set(landed)), field)
    months = layer["span.months_since_extraction"]
    limit = float(display_figures()["recent_extraction_months"])
    recent = below(months, limit)
    layer["derived.recent_extraction"] = (
        Fact(None, fields=months.fields, gaps=months.gaps)
        if recent is None
        else known(recent, *months.fields)
    )
    kept = any(a.tooth == tooth and a.kind in ("root", "implant") for a in case.abutments or ())
    layer["derived.kept_root"] = known(kept, "missing")
    return layer


def _zone(space: Space) -> str:
    if any(is_anterior(tooth) for tooth in space.teeth):
        return "anterior"
    return "premolar" if any(tooth_type(tooth) == "premolar" for tooth in space.teeth) else "molar"


def shows_in_smile(tooth: int, case: Case) -> Fact:
    """Whether a smile (or speech) shows this tooth, from what was recorded about the lips."""
    patient = case.patient
    if case.arch == "maxilla":
        last = patient.last_tooth_in_smile if patient else None
        if last is None:
            return not_recorded("patient.last_tooth_in_smile")
        return known(position(tooth) <= position(last), "patient.last_tooth_in_smile")
    shown = patient.lower_display if patient else None
    if shown is None:
        return not_recorded("patient.lower_display")
    limits = display_figures()["lower_display"][shown]
    if position(tooth) <= limits["seen_to"]:
        return known(True, "patient.lower_display")
    if position(tooth) >= limits["hidden_from"]:
        return known(False, "patient.lower_display")
    return Fact(None, fields=("patient.lower_display",))


def weakest_bone(borders: list[Fact]) -> Fact:
    """The lower bone support of the teeth at the ends of the space; one poor end settles it."""
    words = [str(fact.value) for fact in borders if fact.value is not None]
    if not words:
        return not_recorded(*gather_gaps(borders))
    worst = max(_BONE.index(word) for word in words)
    unknown = [fact for fact in borders if fact.value is None]
    possible = _BONE[worst:] if unknown else _BONE[worst : worst + 1]
    return one_of(possible, fields=gather_fields(borders), gaps=gather_gaps(unknown))


def _width(space: Space, span: Span | None) -> Fact:
    """Mesiodistal width for each tooth that will be set (mm).

    How many teeth will be set is known from the record, or where a single tooth is missing; otherwise the whole
    width bounds it, since drift may leave room for fewer teeth than were lost.
    """
    first = space.teeth[0]
    width = f"spans[{first}].width_mm"
    if span is None or span.width_mm is None:
        return not_recorded(width, unit="mm")
    whole = measured(span.width_mm, width, unit="mm")
    assert whole.low is not None
    assert whole.high is not None
    if span.set_teeth:
        fields = (width, f"spans[{first}].set_teeth")
        ends = (whole.low / span.set_teeth, whole.high / span.set_teeth)
        return between(*ends, unit="mm", fields=fields, gaps=whole.gaps)
    if len(span.teeth) == 1 and span.set_teeth is None:
        return whole
    gaps = [*whole.gaps, f"spans[{first}].set_teeth"]
    return between(None, whole.high, unit="mm", fields=[width], gaps=gaps)
