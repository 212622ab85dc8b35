"""Major connectors in textbook situations: which comes first, and what is blocked.

The order is worked out by hand (``by_hand``) and held against published teaching; the source stands beside
each situation.
"""

from typing import Any

import pytest

from recommender.advice.scoring.score import criterion_weights, rule_score
from recommender.domain.vocabulary import connectors
from recommender.facts.option import connector_layer
from recommender.knowledge.evidence import RuleSet
from recommender.knowledge.in_force import knowledge

from .by_hand import case_of, judged_connectors, ranked

TABLE = "Types of maxillary major connectors (table), dental review page, 2020"
LECTURE = "Mandibular major connectors (lecture presentation), 2008"
OKLAHOMA = "University of Oklahoma College of Dentistry, RPD review questions"
ADEX = "ADEX examination study notes; McCracken 12th ed. 2011 (from memory)"

FREE_ENDS = {"absent": [38, 48]}
UPPER_FREE = {"absent": [18, 28]}
WEAK_FRONT = [{"tooth": t, "mobility": 1, "bone_support": "reduced"} for t in (32, 31, 41, 42)]

CONNECTOR_FIRST = [
    # situation, case, acceptable first choices, source
    ("upper short bounded, nothing recorded", ("maxilla", [15, 25], {}), {"palatal_strap"}, TABLE),
    (
        "upper short bounded, no torus",
        ("maxilla", [15, 16, 25], {"palate": {"torus": "none"}}),
        {"palatal_strap"},
        TABLE,
    ),
    (
        "bounded, torus to the vibrating line",
        ("maxilla", [15, 16, 25, 26], {"palate": {"torus": "large_posterior"}}),
        {"u_shaped"},
        TABLE,
    ),
    (
        "Class II, torus that stops short",
        ("maxilla", [15, 16, 17, 25, 26], {**UPPER_FREE, "palate": {"torus": "large"}}),
        {"anteroposterior_strap", "anteroposterior_bar"},
        TABLE,
    ),
    (
        "Class I, canines last, flat ridges",
        (
            "maxilla",
            [14, 15, 16, 17, 24, 25, 26, 27],
            {
                **UPPER_FREE,
                "spans": [
                    {"teeth": [14, 15, 16, 17], "ridge": "flat"},
                    {"teeth": [24, 25, 26, 27], "ridge": "flat"},
                ],
            },
        ),
        {"complete_plate"},
        ADEX,
    ),
    (
        "Class I, first premolars last",
        ("maxilla", [15, 16, 17, 25, 26, 27], UPPER_FREE),
        {"complete_plate"},
        ADEX,
    ),
    (
        "lower Class I, flat ridges",
        (
            "mandible",
            [35, 36, 37, 45, 46, 47],
            {**FREE_ENDS, "spans": [{"teeth": [35, 36, 37], "ridge": "flat"}]},
        ),
        {"linguoplate"},
        "McCracken 12th ed. 2011, ch. 5 (from memory)",
    ),
    (
        "high lingual frenum",
        ("mandible", [36, 37, 46, 47], {**FREE_ENDS, "floor": {"lingual_frenum": "high"}}),
        {"linguoplate"},
        OKLAHOMA + ", question 92",
    ),
    (
        "Class I, second premolars last",
        ("maxilla", [16, 17, 26, 27], UPPER_FREE),
        {"anteroposterior_strap"},
        TABLE,
    ),
    ("Class II, nothing recorded", ("maxilla", [16, 17], UPPER_FREE), {"anteroposterior_strap"}, TABLE),
    (
        "Class IV, four incisors",
        ("maxilla", [12, 11, 21, 22], {"palate": {"torus": "none"}}),
        {"anteroposterior_strap", "u_shaped"},
        TABLE,
    ),
    ("lower, nothing recorded", ("mandible", [36, 37, 46, 47], FREE_ENDS), {"lingual_bar"}, LECTURE),
    (
        "lower, 10 mm",
        ("mandible", [36, 46], {"floor": {"depth_mm": 10, "torus": "none", "lingual_tilt": False}}),
        {"lingual_bar"},
        LECTURE,
    ),
    (
        "lower, 6 mm",
        ("mandible", [36, 46], {"floor": {"depth_mm": 6}}),
        {"linguoplate", "sublingual_bar"},
        LECTURE,
    ),
    ("lower, 4.5 mm", ("mandible", [36, 46], {"floor": {"depth_mm": 4.5}}), {"linguoplate"}, LECTURE),
    (
        "front teeth will be lost",
        ("mandible", [35, 36, 37], {**FREE_ENDS, "floor": {"depth_mm": 10, "future_loss_likely": True}}),
        {"linguoplate"},
        OKLAHOMA + ", question 92",
    ),
    (
        "weak lower front teeth",
        ("mandible", [36, 37, 46, 47], {**FREE_ENDS, "floor": {"depth_mm": 10}, "abutments": WEAK_FRONT}),
        {"linguoplate"},
        "Mandibular major connectors lecture notes (periodontally weak teeth)",
    ),
    (
        "large lower torus",
        ("mandible", [36, 37, 46, 47], {**FREE_ENDS, "floor": {"torus": "large", "depth_mm": 9}}),
        {"linguoplate"},
        OKLAHOMA + ", questions 92 and 122",
    ),
    (
        "teeth leaning in over a large torus",
        (
            "mandible",
            [36, 37, 46, 47],
            {**FREE_ENDS, "floor": {"torus": "large", "lingual_tilt": True, "labial_sulcus_mm": 9}},
        ),
        {"labial_bar"},
        "Wood R, Winkler S, Lanza J. J Oral Implantol 2003;29:284-286",
    ),
]


@pytest.mark.parametrize(
    ("name", "case", "wanted", "source"), CONNECTOR_FIRST, ids=[c[0] for c in CONNECTOR_FIRST]
)
def test_connector_first_choice(
    name: str, case: tuple[str, list[int], dict[str, Any]], wanted: set[str], source: str
) -> None:
    arch, missing, more = case
    judged = judged_connectors(case_of(arch, missing, **more))
    first = ranked(judged)[0]
    assert first in wanted, (name, source, judged[first].names())
    assert judged[first].status == 0


CONNECTOR_STATUS = [
    # option, floor or palate, status (0 open, 1 advised against, 2 excluded), a rule that must fire, source
    (
        "lingual_bar",
        {"floor": {"depth_mm": 7.4}},
        0,
        "lingual_bar_tight",
        "Cameron 2002: mean 7.44 mm at the incisors",
    ),
    ("lingual_bar", {"floor": {"depth_mm": 6.5}}, 1, "lingual_bar_too_shallow", "3 + 4 mm, Davenport 2001"),
    ("lingual_bar", {"floor": {"depth_mm": 4.5}}, 2, "lingual_bar_cannot_fit", "4 mm bar"),
    ("lingual_bar", {"floor": {"torus": "large"}}, 2, "lingual_bar_torus", LECTURE),
    ("sublingual_bar", {"floor": {"depth_mm": 6}}, 0, "sublingual_shallow_but_soft", LECTURE),
    ("labial_bar", {"floor": {"torus": "none", "lingual_tilt": False}}, 1, "labial_bar_last_resort", LECTURE),
    (
        "hinged_labial_bar",
        {"floor": {"labial_sulcus_mm": 2}},
        2,
        "hinged_bar_sulcus_far_too_shallow",
        "lecture-note page 736025945",
    ),
    ("cingulum_bar", {"floor": {"spaces_between_anteriors": True}}, 1, "cingulum_bar_gaps_or_tilt", LECTURE),
    ("palatal_strap", {"palate": {"torus": "large"}}, 1, "strap_torus", TABLE),
    ("complete_plate", {"palate": {"torus": "large_posterior"}}, 1, "plate_torus", TABLE),
    ("anteroposterior_strap", {"palate": {"torus": "large_posterior"}}, 2, "ap_strap_posterior_torus", TABLE),
    (
        "anteroposterior_strap",
        {"palate": {"torus": "large", "torus_to_vibrating_line_mm": 4}},
        1,
        "ap_rear_room_behind_torus",
        "McCracken, from memory",
    ),
    (
        "metal_resin_plate",
        {"patient": {"allergy": ["methacrylate"]}, "palate": {}},
        2,
        "metal_resin_allergy",
        "Wiltshire 1996",
    ),
]


@pytest.mark.parametrize(("option", "more", "status", "rule", "source"), CONNECTOR_STATUS)
def test_connector_status(option: str, more: dict[str, Any], status: int, rule: str, source: str) -> None:
    upper = "palate" in more
    facts = case_of("maxilla", [15, 16, 25, 26], **more) if upper else case_of("mandible", [36, 46], **more)
    judged = judged_connectors(facts)[option]
    assert (judged.status, rule in judged.names()) == (status, True), (source, judged.names())


def test_shallower_floor_never_helps_the_lingual_bar() -> None:
    last = (0, 101.0)
    for tenths in range(120, 29, -5):
        found = judged_connectors(case_of("mandible", [36, 46], floor={"depth_mm": tenths / 10}))[
            "lingual_bar"
        ]
        assert (found.status, -found.score) >= (last[0], -last[1]), tenths / 10
        last = (found.status, found.score)


def test_unilateral_is_never_simply_open() -> None:
    """Goodall 2017: a one-sided denture can be swallowed or inhaled."""
    open_case = case_of("maxilla", [15], patient={"swallowing_risk": False, "dexterity": "good"})
    assert judged_connectors(open_case)["unilateral"].status == 1
    risky = case_of("maxilla", [15], patient={"swallowing_risk": True})
    judged = judged_connectors(risky)["unilateral"]
    assert judged.status == 2
    assert {"unilateral_swallowing", "unilateral_warning"} <= judged.names()
    safety = [rule for rule in judged.fired if rule.id == "unilateral_swallowing"]
    assert [rule.block for rule in safety] == ["safety"]


def test_hand_calculation_agrees_with_the_program() -> None:
    for arch, missing, more in (case for _, case, _, _ in CONNECTOR_FIRST):
        facts = case_of(arch, missing, **more)
        weights = criterion_weights(knowledge().criteria, "connector", facts.case_scope)
        options = {name: knowledge().catalogue.option("connector", name) for name in connectors(arch)}
        layers = {name: connector_layer(facts, option) for name, option in options.items()}
        outcome = RuleSet.for_decision("connector").evaluate(facts.case_scope, layers)
        for name, by_hand in judged_connectors(facts).items():
            program = rule_score(options[name].starts, outcome[name].fired, outcome[name].undecided, weights)
            assert program.value == pytest.approx(by_hand.score, abs=1e-9)


def test_mirrored_arch_gives_the_same_connector_scores() -> None:
    left = judged_connectors(case_of("maxilla", [25, 26, 27], absent=[28]))
    right = judged_connectors(case_of("maxilla", [15, 16, 17], absent=[18]))
    for name in connectors("maxilla"):
        assert left[name].score == pytest.approx(right[name].score, abs=1e-9)
        assert left[name].names() == right[name].names()
