"""What holds over all the content on retainers, rests, seats and frameworks.

The catalogue is whole and the rules keep within their bounds.

Sources stand beside the checks that hold the content against the outside.
"""

import csv
from functools import cache

import pytest
import yaml

from recommender.domain.vocabulary import ALLOYS, RESTS, RETAINERS
from recommender.facts.values import Scope, between, known
from recommender.knowledge.in_force import knowledge
from recommender.knowledge.model import Rule
from recommender.resources import shared

from .by_hand import Judged

OURS = ("retainer", "rest", "indirect_retainer", "framework")


@cache
def ours() -> tuple[Rule, ...]:
    return tuple(rule for rule in knowledge().rules if rule.decision in OURS)


def test_catalogue_is_whole() -> None:
    options = knowledge().catalogue.options
    assert set(options["retainer"]) == set(RETAINERS)
    assert set(options["rest"]) == set(RESTS)
    assert set(options["alloy"]) == set(ALLOYS)
    criteria = set(knowledge().criteria.labels)
    for kind in ("retainer", "rest", "indirect_retainer"):
        weighed = set(knowledge().criteria.base[kind])
        for option in options[kind].values():
            assert set(option.starts) <= criteria
            missing = weighed - set(option.starts)
            assert not missing, (option.id, missing)
            assert option.families, option.id
            assert option.definition.endswith("."), option.id


def test_parts_are_the_closed_list_of_the_catalogue_guide() -> None:
    guide = shared("options", "README.md").read_text(encoding="utf-8")
    for kind in ("retainer", "rest", "indirect_retainer"):
        for option in knowledge().catalogue.options[kind].values():
            for part in option.parts:
                assert f"`{part}`" in guide, (option.id, part)


def test_every_gripping_retainer_is_opposed_and_goes_round() -> None:
    """Davenport JC et al. Br Dent J 2001;190:10-14: a rigid part opposes each retentive one."""
    rigid = {
        "reciprocal_lingual",
        "reciprocal_facial",
        "reciprocal_internal",
        "proximal_plate",
        "minor_connector",
        "rigid",
    }
    for option in knowledge().catalogue.options["retainer"].values():
        if any(part.startswith("retentive") for part in option.parts):
            assert rigid & set(option.parts), option.id
        if option.arm is not None:
            assert "encircles" in option.parts, option.id


def test_undercut_depths_follow_the_alloy() -> None:
    """0.010 inch for cast cobalt-chromium, 0.020 inch for wrought wire: McCracken's RPD, 12th ed."""
    for option in knowledge().catalogue.options["retainer"].values():
        if option.tip is None:
            continue
        cast = "cast_arm" in option.families
        assert option.tip.least_mm <= option.tip.usual_mm <= option.tip.most_mm
        if cast:
            assert option.tip.usual_mm == pytest.approx(0.010 * 25.4, abs=0.01)
        if "wrought_arm" in option.families:
            assert option.tip.usual_mm == pytest.approx(0.020 * 25.4, abs=0.01)


def test_disputed_rules_stay_modest() -> None:
    guide = yaml.safe_load(shared("rule_guide.yaml").read_text(encoding="utf-8"))
    for rule in ours():
        assert abs(rule.points) <= guide["most_points"], rule.id
        if rule.disputed:
            assert abs(rule.points) <= guide["most_disputed_points"], rule.id
            assert rule.block in (None, "advised_against"), rule.id


def test_what_is_not_recorded_moves_no_score() -> None:
    """A rule that scores, blocks or prepares never asks whether something is recorded."""
    for rule in ours():
        if rule.effect in ("favours", "discourages", "blocks", "prepares"):
            assert "recorded(" not in rule.when.text, rule.id


def test_retainer_rules_say_near_and_far() -> None:
    """Mesial and distal only where anatomy is meant: molars drift forward, a canine's back slope is its distal one."""
    anatomy = {
        "ring_tipped_lower_molar",
        "ring_tipped_upper_molar",
        "canine_back_slope",
        "onlay_restores_height",
        "onlay_on_sound_tooth",
    }
    for rule in ours():
        if rule.decision in ("retainer", "rest") and rule.id not in anatomy:
            assert "mesial" not in rule.when.text, rule.id
            assert "distal" not in rule.when.text, rule.id


def test_an_arm_that_shows_more_never_looks_better() -> None:
    """By rule points on appearance, at every wish of the patient, for metal arms on the facial."""
    catalogue = knowledge().catalogue.options["retainer"]
    metal = [name for name, option in catalogue.items() if "facial_metal" in option.families]
    assert len(metal) >= 10
    for priority in ("low", "moderate", "high"):
        for name in metal:
            points = []
            for share in (0.0, 0.04, 0.1, 0.25, 0.3, 0.5, 0.6, 0.8, 0.9, 1.0):
                scope = Scope(
                    ({"patient.aesthetic_priority": known(priority), "arm.visible_share": known(share)},)
                )
                points.append(
                    sum(
                        rule.points for rule in ours()
                        if rule.decision == "retainer" and rule.criterion == "appearance"
                        and name in rule.options and rule.when.evaluate(scope) is True
                    )
                )  # fmt: skip
            assert points == sorted(points, reverse=True), (name, priority, points)
            assert points[0] > points[-1]


def test_tip_that_rises_beside_an_extension_speaks_against_a_cast_arm() -> None:
    """Mechanics of the near rest: Kratochvil FJ. J Prosthet Dent 1963;13:114-124 (disputed by Kapur et al. 1994)."""
    rises, falls = (
        Scope(({"derived.support": known("extension"), "arm.tip_travel_mm": between(low, high)},))
        for low, high in ((0.15, 1.5), (-0.4, -0.05))
    )
    assert "tip_rises_beside_extension" in Judged(rises, "retainer", "circumferential").names()
    assert "tip_lets_go_beside_extension" in Judged(falls, "retainer", "i_bar").names()
    assert "tip_rises_beside_extension" not in Judged(rises, "retainer", "combination").names()


def test_every_proposed_rule_has_become_something() -> None:
    rules = {rule.id for rule in knowledge().rules}
    with shared("rules", "dispositions_retainers.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) > 100
    assert len({row["candidate"] for row in rows}) == len(rows)
    for row in rows:
        assert row["verdict"] in ("kept", "mended", "merged", "rejected", "in_code"), row
        assert row["reason"], row
        named = row["rules"].split()
        assert set(named) <= rules, row
        assert bool(named) == (row["verdict"] in ("kept", "mended", "merged")), row


def test_rules_on_whole_frameworks_carry_no_points() -> None:
    """What one choice is worth beside another stands in ``frameworks.yaml``, read by solver and checks."""
    of_wholes = [rule for rule in knowledge().rules if rule.stage == "framework"]
    assert of_wholes
    assert not [rule.id for rule in of_wholes if rule.points or rule.effect in ("favours", "discourages")]
    wants = {"no_more_retainers", "balance", "held_beside_extension"}
    assert all(knowledge().figures.frameworks.rules[name].kind == "want" for name in wants)
