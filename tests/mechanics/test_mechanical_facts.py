"""From case to facts: origin, symmetry, and that leaving something out never makes an answer surer."""

import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchmarks.mirrored import mirror_case
from recommender.domain.case import Case
from recommender.domain.catalogue import load
from recommender.domain.dentition import ARCH_ORDER, mirror, neighbour, opposite
from recommender.facts.mechanical import (
    arm_facts,
    case_geometry,
    connector_facts,
    shows_fact,
    space_facts,
    tip_travel_fact,
)
from recommender.facts.values import Fact, between, known, not_recorded

RETAINERS = load().options["retainer"]
REPLACEMENTS = load().options["replacement"]
CONNECTORS = load().options["connector"]
ARMED = sorted(name for name, option in RETAINERS.items() if option.arm is not None)
ENGAGED = known(0.25, "abutments[35].undercuts_mm.mesiofacial")


def case(missing, **fields) -> Case:
    arch = "maxilla" if missing[0] < 30 else "mandible"
    return Case.model_validate({"format": 1, "id": "invented", "arch": arch, "missing": missing, **fields})


def standing(of: Case) -> tuple[int, ...]:
    gone = {*of.missing, *(of.absent or ()), *(of.planned_extractions or ())}
    return tuple(tooth for tooth in ARCH_ORDER[of.arch] if tooth not in gone)


def every_fact(of: Case) -> dict[tuple, Fact]:
    """All facts of this room for one case, keyed by what they are about."""
    facts: dict[tuple, Fact] = {}
    teeth = standing(of)
    for tooth in teeth:
        facts["shows", tooth] = shows_fact(of, tooth)
        for side in ("mesial", "distal"):
            if neighbour(tooth, side) not in of.missing:
                continue
            support = (
                "extension"
                if side == "distal" and not any(t % 10 > tooth % 10 and t // 10 == tooth // 10 for t in teeth)
                else "tooth"
            )
            for name, option in RETAINERS.items():
                for fact, value in arm_facts(option, tooth, of, side, support, ENGAGED).items():
                    facts[fact, tooth, side, name] = value
    for tooth in of.missing:
        span = next((span for span in of.spans or () if tooth in span.teeth), None)
        for name, option in REPLACEMENTS.items():
            for fact, value in space_facts(option, of, tooth, span).items():
                facts[fact, tooth, name] = value
    for name in CONNECTORS:
        if of.arch in CONNECTORS[name].arches:
            for fact, value in connector_facts(name, of, teeth).items():
                facts[fact, name] = value
    return facts


def no_surer(loose: Fact, sure: Fact) -> bool:
    """Whether the first fact allows all that the second does."""
    if loose.low is not None and (sure.low is None or sure.low < loose.low - 1e-9):
        return False
    if loose.high is not None and (sure.high is None or sure.high > loose.high + 1e-9):
        return False
    return loose.possible is None or (sure.possible is not None and sure.possible <= loose.possible)


LOWER = {
    "missing": [36, 37, 46, 47],
    "absent": [38, 48],
    "patient": {"age": 61, "lower_display": "edges", "last_tooth_in_smile": 35},
    "spans": [
        {"teeth": [36, 37], "clearance_mm": 5.0, "facial_depth_mm": 2.1, "width_mm": 18.0},
        {"teeth": [46, 47], "clearance_mm": {46: 4.0, 47: 6.0}},
    ],
    "occlusion": {"contacts": {36: ["closing", "lateral"]}, "overbite": "deep"},
    "abutments": [
        {
            "tooth": 35,
            "contour_height": {"mesiofacial": "gingival", "distofacial": "occlusal"},
            "crown_height_mm": 6.5,
        },
        {"tooth": 45, "contour_height": "middle"},
        {"tooth": 33, "crown_height_mm": 8.0},
    ],
    "floor": {"depth_mm": {"incisor": 7.4, "premolar": 9.0}, "labial_sulcus_mm": 8.2},
}
UPPER = {
    "missing": [14, 15, 21, 26, 27],
    "absent": [18, 28],
    "patient": {"age": 44, "smile_line": "low", "last_tooth_in_smile": 15},
    "spans": [{"teeth": [14, 15], "clearance_mm": 3.4, "facial_depth_mm": 1.9}],
    "occlusion": {"contacts": {21: ["protrusive"]}, "overbite": "normal"},
    "abutments": [{"tooth": 13, "contour_height": "occlusal", "crown_height_mm": 9.0}, {"tooth": 16}],
    "palate": {"torus": "large", "torus_to_vibrating_line_mm": 7.0, "length_mm": 40.0},
}


def test_the_i_bar_with_a_far_rest_lets_go_and_the_distal_rest_levers():
    """Hand-worked lower arch: a middle tip behind a mesial rest falls, a mesial tip ahead of a distal rest rises."""
    of = case(**LOWER)
    bar, arm = RETAINERS["i_bar"], RETAINERS["circumferential"]
    assert tip_travel_fact(bar, 35, of, "distal", "extension", rest="far").high < 0
    assert tip_travel_fact(arm, 35, of, "distal", "extension", rest="near").low > 0
    assert tip_travel_fact(arm, 35, of, "distal", "extension", rest="far").value == pytest.approx(
        0.0, abs=1e-12
    )
    assert tip_travel_fact(arm, 35, of, "distal", "tooth").value == 0


def test_travel_of_the_worked_example_is_within_the_band():
    """0.5 mm of sinking: 0.59 mm up for the mesial tip on a distal rest, 0.13 mm down for the I-bar."""
    of = case([36, 37, 46, 47], absent=[38, 48])
    up = tip_travel_fact(RETAINERS["circumferential"], 35, of, "distal", "extension", rest="near")
    down = tip_travel_fact(RETAINERS["i_bar"], 35, of, "distal", "extension", rest="far")
    assert up.low < 0.594 < up.high
    assert down.low < -0.133 < down.high
    assert up.high / 1.3 == pytest.approx(0.594 / 0.5, abs=2e-3)


@pytest.mark.parametrize("fields", [LOWER, UPPER])
def test_mirror_images_have_the_same_facts(fields):
    of = case(**fields)
    mirrored = mirror_case(of)
    one, other = every_fact(of), every_fact(mirrored)
    assert len(one) == len(other) > 200
    for key, fact in one.items():
        twin = other[tuple(mirror(part) if isinstance(part, int) else part for part in key)]
        assert (fact.low, fact.high, fact.value, fact.possible) == (
            twin.low,
            twin.high,
            twin.value,
            twin.possible,
        ), key


def leaves(node, path=()):
    if isinstance(node, dict):
        for key, value in node.items():
            yield (*path, key)
            yield from leaves(value, (*path, key))
    elif isinstance(node, list) and node and isinstance(node[0], dict):
        for index, value in enumerate(node):
            yield from leaves(value, (*path, index))


def without(node, path):
    if isinstance(node, list):
        return [without(item, path[1:]) if index == path[0] else item for index, item in enumerate(node)]
    if len(path) == 1:
        return {key: value for key, value in node.items() if key != path[0]}
    return {key: without(value, path[1:]) if key == path[0] else value for key, value in node.items()}


FIXED = {"missing", "absent", "teeth", "tooth"}


@pytest.mark.parametrize("fields", [LOWER, UPPER], ids=["lower", "upper"])
def test_leaving_out_any_record_never_makes_a_fact_surer(fields):
    full = every_fact(case(**fields))
    paths = [path for path in leaves(fields) if not FIXED & set(map(str, path))]
    assert len(paths) > 15
    changed = 0
    for path in paths:
        for key, loose in every_fact(case(**without(fields, path))).items():
            assert no_surer(loose, full[key]), (path, key, loose, full[key])
            changed += loose != full[key]
    assert changed > 50


SMILES = st.fixed_dictionaries(
    {},
    optional={
        "smile_line": st.sampled_from(["high", "average", "low"]),
        "last_tooth_in_smile": st.sampled_from([13, 14, 25, 16, 28]),
        "age": st.integers(15, 89),
    },
)


@given(
    SMILES,
    st.sampled_from(["gingival", "middle", "occlusal"]),
    st.floats(4.0, 12.0),
    st.sampled_from(ARMED),
    st.data(),
)
@settings(max_examples=60, deadline=None)
def test_visibility_is_never_surer_with_less_on_record(patient, contour, crown, name, data):
    tooth = data.draw(st.sampled_from([13, 24, 25]))
    abutment = {"tooth": tooth, "contour_height": contour, "crown_height_mm": crown}

    def visible(lips, tooth_fields):
        of = case([t for t in (15, 26) if t != tooth], patient=lips, abutments=[tooth_fields])
        return arm_facts(RETAINERS[name], tooth, of, "distal", "tooth", ENGAGED)[
            "arm.visible_share"
        ], shows_fact(of, tooth)

    sure = visible(patient, abutment)
    for path in patient:
        for loose, firm in zip(
            visible({k: v for k, v in patient.items() if k != path}, abutment), sure, strict=True
        ):
            assert no_surer(loose, firm)
    for path in ("contour_height", "crown_height_mm"):
        for loose, firm in zip(
            visible(patient, {k: v for k, v in abutment.items() if k != path}), sure, strict=True
        ):
            assert no_surer(loose, firm)


@given(st.floats(0, 1), st.floats(0, 1), st.sampled_from(ARMED))
def test_an_undercut_known_within_bounds_gives_a_force_within_bounds(one, other, name):
    low, high = sorted((one, other))
    of = case([36, 37])
    paths = {
        "fields": ["abutments[35].undercuts_mm.mesiofacial"],
        "gaps": ["abutments[35].undercuts_mm.midfacial"],
    }
    open_ = arm_facts(RETAINERS[name], 35, of, "distal", "tooth", between(low, None, unit="mm", **paths))
    bounded = arm_facts(RETAINERS[name], 35, of, "distal", "tooth", between(low, high, unit="mm", **paths))
    for fact in ("arm.force_n", "arm.stress_ratio"):
        assert open_[fact].high is None
        assert open_[fact].low == bounded[fact].low
        assert no_surer(open_[fact], bounded[fact])
        assert bounded[fact].fields == tuple(paths["fields"])
    unknown = arm_facts(
        RETAINERS[name], 35, of, "distal", "tooth", not_recorded("abutments[35].undercuts_mm.midfacial")
    )
    assert not unknown["arm.force_n"].bounded
    assert unknown["arm.force_n"].gaps == ("abutments[35].undercuts_mm.midfacial",)


def test_nothing_on_the_facial_shows_nothing_whatever_is_recorded():
    of = case([15, 16])
    for name in ("proximal_undercut",):
        fact = arm_facts(RETAINERS[name], 14, of, "distal", "tooth", ENGAGED)["arm.visible_share"]
        assert (fact.value, fact.gaps) == (0.0, ())


def test_the_short_facial_arm_shows_less_than_a_whole_one():
    of = case(
        [15, 16],
        patient={"smile_line": "average", "last_tooth_in_smile": 15},
        abutments=[{"tooth": 14, "contour_height": "middle"}],
    )
    short = arm_facts(RETAINERS["lingual_retention"], 14, of, "distal", "tooth", ENGAGED)["arm.visible_share"]
    whole = arm_facts(RETAINERS["circumferential"], 14, of, "distal", "tooth", ENGAGED)["arm.visible_share"]
    assert 0 < short.high < 0.5 < whole.low


@pytest.mark.parametrize(
    ("patient", "tooth", "word"),
    [
        ({"smile_line": "average", "last_tooth_in_smile": 15}, 14, "clear"),
        ({"smile_line": "average", "last_tooth_in_smile": 15}, 16, "hidden"),
        ({"smile_line": "low", "last_tooth_in_smile": 15}, 13, "partly"),
        ({"smile_line": "high"}, 13, "clear"),
    ],
)
def test_words_for_what_shows(patient, tooth, word):
    """Common practice, no source: where the words part."""
    assert shows_fact(case([11], patient=patient), tooth).value == word


def test_unrecorded_lips_leave_every_word_open():
    fact = shows_fact(case([11]), 14)
    assert fact.value is None
    assert fact.possible == {"hidden", "partly", "clear"}
    assert fact.gaps == ("patient.smile_line", "patient.last_tooth_in_smile")


def test_gaps_are_not_recorded_and_fields_are():
    of = case(**LOWER)
    recorded = {"missing", "patient.lower_display", "patient.last_tooth_in_smile", "floor.labial_sulcus_mm"}
    for key, fact in every_fact(of).items():
        for path in fact.gaps:
            assert path not in recorded, key
        if fact.bounded:
            assert fact.fields, key


def test_a_number_in_the_resin_sentence():
    """Hand-worked: 4.2 mm against 4.1, 5.6, 7.6 mm of layers."""
    of = case([15], spans=[{"teeth": [15], "clearance_mm": 4.2}])
    facts = space_facts(REPLACEMENTS["resin_tooth_lattice"], of, 15, of.spans[0])
    assert (facts["space.left_mm"].low, facts["space.left_mm"].high) == pytest.approx((-3.4, 0.1))
    assert facts["space.fails_at"].possible == {"resin", "tooth", "none"}
    assert facts["space.left_mm"].fields == ("spans[15].clearance_mm",)


def test_room_for_lower_bars_from_the_least_depth():
    of = case(**LOWER)
    bar = connector_facts("lingual_bar", of, standing(of))["connector.room_left_mm"]
    assert (bar.low, bar.high) == pytest.approx((7.4 - 8, 7.4 - 7))
    assert connector_facts("unilateral", of, standing(of))["connector.stiffness"].value == 0


def test_a_torus_that_reaches_the_vibrating_line_leaves_no_room_behind():
    of = case([15], palate={"torus": "large_posterior", "length_mm": 45.0})
    assert connector_facts("anteroposterior_strap", of, standing(of))["connector.room_left_mm"].high < 0
    unknown = case([15], palate={"length_mm": 45.0})
    fact = connector_facts("anteroposterior_strap", unknown, standing(unknown))["connector.room_left_mm"]
    assert fact.low is None
    assert fact.high > 0
    assert "palate.torus" in fact.gaps


def test_recorded_widths_move_the_teeth_of_the_case():
    plain, own = case_geometry(case([36, 37])), case_geometry(case(**LOWER))
    assert own[36].mesiodistal_mm + own[37].mesiodistal_mm == pytest.approx(18.0)
    assert plain[36].mesiodistal_mm + plain[37].mesiodistal_mm == pytest.approx(21.5)


@pytest.mark.parametrize("name", ARMED)
def test_arm_facts_carry_units_and_rise(name):
    of = case([36, 37])
    for tooth, side in itertools.product((35, 33, 47), ("mesial", "distal")):
        facts = arm_facts(RETAINERS[name], tooth, of, side, "tooth", ENGAGED)
        assert facts["arm.force_n"].unit == "N"
        assert 0 < facts["arm.force_n"].low < facts["arm.force_n"].high
        assert facts["arm.visible_share"].low >= 0
        assert facts["arm.visible_share"].high <= 1
        assert opposite(side) != side


def test_lever_and_ratio_of_a_seat():
    """Hand-worked lower arch: 33 stands (21.89 - 9.37) mm ahead of the line through 35 and 45, 36 lies 9.37 behind."""
    from recommender.domain.kennedy import classify
    from recommender.facts.axis import seat_facts

    of = case([36, 37, 46, 47], absent=[38, 48])
    facts = seat_facts(classify(of), 33, "cingulum", (45, 35))
    assert facts["lever.arm_mm"].low < 12.52 < facts["lever.arm_mm"].high
    assert facts["lever.ratio"].high == pytest.approx(12.52 / 9.37, abs=2e-3)
    assert facts["lever.ratio"].low < facts["lever.ratio"].high
    assert facts["lever.ratio"] == seat_facts(classify(of), 43, "cingulum", (45, 35))["lever.ratio"]


def test_a_framework_of_another_alloy_changes_its_cast_arms_only():
    """Int J Prosthodont 2006: c.p. titanium holds about half as hard as cobalt-chromium; a wire is not cast."""
    of = case([36, 37])
    for name, changes in (
        ("circumferential", True),
        ("i_bar", True),
        ("combination", False),
        ("polymer_arm", False),
    ):
        usual = arm_facts(RETAINERS[name], 35, of, "distal", "tooth", ENGAGED)["arm.force_n"]
        other = arm_facts(RETAINERS[name], 35, of, "distal", "tooth", ENGAGED, alloy="titanium_cp")[
            "arm.force_n"
        ]
        if changes:
            assert usual.low / other.low == pytest.approx(2.0, abs=0.15)
        else:
            assert usual == other
