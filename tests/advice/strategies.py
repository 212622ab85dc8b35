"""Random but coherent cases for the invariants: both arches, any pattern of spaces, records with many gaps."""

import random
from typing import Any

from hypothesis import strategies as st

from recommender.domain.case import Case
from recommender.domain.dentition import ARCH_ORDER, position
from recommender.domain.fields import get_field, recorded_fields, split, with_field
from recommender.domain.shape import Shape, declared, single
from recommender.domain.vocabulary import ZONES

GAUGES = (0.0, 0.1, 0.25, 0.5, 0.75)


def maybe(strategy: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    """The value, or not recorded."""
    return st.one_of(st.none(), strategy)


def _word(*words: str) -> st.SearchStrategy[Any]:
    return maybe(st.sampled_from(words))


_ABUTMENT = st.fixed_dictionaries(
    {},
    optional={
        "undercuts_mm": st.dictionaries(st.sampled_from(ZONES), st.sampled_from(GAUGES), min_size=1),
        "crown_height_mm": st.sampled_from((3.5, 5.0, 6.5, 8.0)),
        "contour_height": st.sampled_from(("gingival", "middle", "occlusal")),
        "mobility": st.integers(0, 3),
        "bone_support": st.sampled_from(("good", "reduced", "poor")),
        "disease": st.sampled_from(("none", "periodontal", "caries")),
        "restoration": st.sampled_from(("sound", "filled", "crowned", "endodontic")),
        "rest_seats": st.lists(st.sampled_from(("mesial", "distal")), unique=True),
        "rest_clearance_mm": st.sampled_from((0.5, 1.0, 1.5, 2.0)),
        "embrasure_clearance_mm": st.fixed_dictionaries(
            {}, optional={"mesial": st.sampled_from((0.5, 1.5)), "distal": st.sampled_from((0.5, 1.5))}
        ),
        "guiding_planes": st.lists(st.sampled_from(("mesial", "distal", "lingual")), unique=True),
        "tilt": st.sampled_from(("none", "mesial", "distal", "facial", "lingual", "rotated")),
        "vestibule_depth_mm": st.sampled_from((2.0, 4.0, 7.0, 9.0)),
        "tissue_undercut": st.booleans(),
        "frenum_near": st.booleans(),
        "preparable": st.booleans(),
        "lingual_clearance_mm": st.sampled_from((0.5, 1.5)),
    },
)
_THIRDS = ("gingival", "middle", "occlusal")
# What a survey tells of the lingual, of each proximal face and of single rest seats besides.
_SURVEYED = st.fixed_dictionaries(
    {},
    optional={
        "contour_height": st.fixed_dictionaries(
            {}, optional={zone: st.sampled_from(_THIRDS) for zone in ("mesiofacial", "distofacial")}
        ),
        "contour_height_lingual": st.sampled_from(_THIRDS),
        "rest_clearance_mm": st.dictionaries(
            st.sampled_from(("mesial", "distal", "cingulum")), st.sampled_from((0.5, 1.0, 1.5)), min_size=1
        ),
        "embrasure_clearance_mm": st.fixed_dictionaries(
            {side: st.sampled_from((0.5, 1.0, 1.5, 2.0)) for side in ("mesial", "distal")}
        ),
        "permitted": st.lists(
            st.sampled_from(("rest_seat", "guiding_plane", "lower_contour_height", "create_undercut")), unique=True
        ),
    },
)  # fmt: skip
_PATIENT = st.fixed_dictionaries(
    {},
    optional={
        "age": st.integers(20, 89),
        "sex": st.sampled_from(("female", "male")),
        "smile_line": st.sampled_from(("high", "average", "low")),
        "lower_display": st.sampled_from(("none", "edges", "crowns")),
        "aesthetic_priority": st.sampled_from(("low", "moderate", "high")),
        "hygiene": st.sampled_from(("good", "fair", "poor")),
        "caries_risk": st.sampled_from(("low", "moderate", "high")),
        "allergy": st.lists(st.sampled_from(("nickel", "cobalt", "methacrylate")), unique=True),
        "gag_reflex": st.booleans(),
        "swallowing_risk": st.booleans(),
    },
)
_SPAN = st.fixed_dictionaries(
    {},
    optional={
        "clearance_mm": st.sampled_from((1.0, 2.5, 4.0, 5.5, 7.0, 9.0)),
        "ridge": st.sampled_from(("firm", "displaceable", "flat")),
        "facial_depth_mm": st.sampled_from((1.0, 3.0, 6.0)),
        "months_since_extraction": st.sampled_from((2, 24)),
    },
)


@st.composite
def cases(draw: st.DrawFn, arch: str | None = None, *, surveyed: bool = False) -> Case:
    """A case with one to four spaces; abutments listed or left out, every field recorded or not.

    ``surveyed``: more teeth listed and more recorded of each, roots and implants under bases, third molars.
    """
    chosen = arch or draw(st.sampled_from(("maxilla", "mandible")))
    teeth = [tooth for tooth in ARCH_ORDER[chosen] if position(tooth) < 8]
    thirds = [tooth for tooth in ARCH_ORDER[chosen] if position(tooth) == 8]
    gone = set(draw(st.sets(st.sampled_from(teeth), min_size=1, max_size=9)))
    missing = sorted(gone)
    standing = [tooth for tooth in teeth if tooth not in gone]
    raw: dict[str, Any] = {
        "format": 1,
        "id": "made-0001",
        "arch": chosen,
        "missing": missing,
        "absent": thirds,
    }
    if draw(st.booleans()):
        listed = draw(st.sets(st.sampled_from(standing), max_size=4))
        raw["abutments"] = [{"tooth": tooth, **draw(_ABUTMENT)} for tooth in sorted(listed)]
    if surveyed:
        raw |= _more(draw, missing, standing, thirds)
    if draw(st.booleans()):
        raw["patient"] = draw(_PATIENT)
    if draw(st.booleans()):
        raw["occlusion"] = {
            key: value
            for key, value in {
                "opposing": draw(_word("natural", "fixed", "complete_denture")),
                "overbite": draw(_word("open", "normal", "deep")),
                "load": draw(_word("light", "normal", "heavy")),
            }.items()
            if value is not None
        }
    part = "palate" if chosen == "maxilla" else "floor"
    if draw(st.booleans()):
        raw[part] = draw(_PALATE if chosen == "maxilla" else _FLOOR)
    raw["spans"] = [
        {"teeth": list(run), **fields} for run in _runs(chosen, gone) if (fields := draw(_SPAN)) is not None
    ]
    return Case.model_validate(raw)


def _more(draw: st.DrawFn, missing: list[int], standing: list[int], thirds: list[int]) -> dict[str, Any]:
    thirds_standing = draw(st.sets(st.sampled_from(thirds)))
    listed = draw(st.sets(st.sampled_from([*standing, *thirds_standing]), min_size=1, max_size=9))
    abutments = [{"tooth": tooth, **draw(_ABUTMENT), **draw(_SURVEYED)} for tooth in sorted(listed)]
    for tooth in draw(st.sets(st.sampled_from(missing), max_size=1)):
        abutments.append({"tooth": tooth, "kind": draw(st.sampled_from(("root", "implant")))})
    return {"abutments": abutments, "absent": [tooth for tooth in thirds if tooth not in thirds_standing]}


_PALATE = st.fixed_dictionaries(
    {},
    optional={
        "torus": st.sampled_from(("none", "small", "large", "large_posterior")),
        "vault": st.sampled_from(("shallow", "average", "deep")),
        "length_mm": st.sampled_from((40.0, 48.0)),
        "rugae": st.sampled_from(("flat", "average", "prominent")),
        "future_loss_likely": st.booleans(),
    },
)
_FLOOR = st.fixed_dictionaries(
    {},
    optional={
        "depth_mm": st.sampled_from((4.0, 6.0, 7.5, 9.0)),
        "torus": st.sampled_from(("none", "small", "large")),
        "lingual_tilt": st.booleans(),
        "lingual_frenum": st.sampled_from(("low", "high")),
        "spaces_between_anteriors": st.booleans(),
        "labial_sulcus_mm": st.sampled_from((5.0, 9.0)),
        "future_loss_likely": st.booleans(),
    },
)


def _runs(arch: str, gone: set[int]) -> list[tuple[int, ...]]:
    from recommender.domain.dentition import runs

    return runs(arch, gone)


def measured_fields(case: Case) -> list[str]:
    """Recorded fields that could hold an interval."""
    return [path for path in recorded_fields(case) if interval_shape(declared(split(path))) is not None]


def interval_shape(shape: Shape | None) -> Shape | None:
    return (
        next((choice for choice in shape.choices if choice.is_interval), None) if shape is not None else None
    )


def blurred(case: Case, seed: int) -> tuple[Case, Case, list[str]]:
    """The case with some measured numbers as intervals, one with numbers from inside them, and which they are."""
    chance = random.Random(seed)
    within, wide, changed = case, case, []
    for path in measured_fields(case):
        if chance.random() < 0.5:
            continue
        shape = interval_shape(declared(split(path)))
        plain = single(declared(split(path)))
        assert shape is not None
        assert shape.model is not None
        assert plain is not None
        now = float(get_field(case, path))
        low = max(now - chance.choice((0.0, 0.05, 0.3, 2.0)), plain.low or 0.0)
        high = min(now + chance.choice((0.0, 0.05, 0.3, 2.0)), plain.high or 1e9)
        wide = with_field(wide, path, shape.model(low=low, value=now, high=high))
        within = with_field(within, path, chance.choice((low, now, high, round((low + high) / 2, 3))))
        changed.append(path)
    return wide, within, changed
