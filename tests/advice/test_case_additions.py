"""What was asked in vain, what was ruled out, and the two facts of the jaws, in the advice and on paper."""

from dataclasses import replace

import pytest

from recommender.advice.recommend import Recommender
from recommender.advice.review import review
from recommender.documents.results.recommendation import recommendation_document
from recommender.domain.case import Case
from recommender.domain.fields import with_field
from recommender.domain.measures import MillimetreInterval
from recommender.wording.words import Words

BASE = {
    "format": 1,
    "id": "made-1",
    "arch": "maxilla",
    "missing": [15, 16, 24],
    "absent": [18, 28],
    "spans": [{"teeth": [15, 16], "clearance_mm": 6.5}],
    "abutments": [
        {"tooth": 14, "undercuts_mm": {"mesiofacial": 0.25, "midfacial": 0.25, "distofacial": 0.0}},
        {"tooth": 17},
        {"tooth": 23},
        {"tooth": 25},
    ],
}


def case(**fields: object) -> Case:
    return Case.model_validate({**BASE, **fields})


def test_what_was_asked_in_vain_is_not_asked_again_but_what_is_dangerous_stands(
    rules_alone: Recommender,
) -> None:
    plain = rules_alone.recommend(case())
    asked = ["patient.swallowing_risk", "patient.antiresorptive", "spans[16].months_since_extraction",
             "spans[24].months_since_extraction", "abutments[14].tilt"]  # fmt: skip
    found = rules_alone.recommend(case(asked=asked))
    healing = next(line for line in Words().lines(plain.cautions) if "taken out" in line)
    assert healing not in Words().lines(found.cautions)
    assert not any(line.startswith(healing) for line in Words().lines(found.cautions))
    bone = next(line for line in Words().lines(plain.cautions) if "drugs against bone loss" in line)
    assert f"{bone} (asked; not known)" in Words().lines(found.cautions)
    assert bone not in Words().lines(found.cautions)
    gaps = {gap.field: gap for gap in found.not_recorded}
    assert gaps["abutments[14].tilt"].asked
    # what was asked in vain counts as not recorded and comes last
    assert {gap.field for gap in plain.not_recorded} == set(gaps)
    first = [gap.asked for gap in found.not_recorded]
    assert first == sorted(first)
    told = {entry["field"]: entry for entry in recommendation_document(Words(), found)["not_recorded"]}
    assert told["abutments[14].tilt"]["asked"] is True
    assert "asked" not in told["abutments[17].tilt"]
    for kind in ("retainers", "rests", "replacements"):
        assert getattr(plain, kind) == getattr(found, kind)
    assert plain.connector == found.connector
    assert [replace(one, cautions=()) for one in plain.frameworks] == [
        replace(one, cautions=()) for one in found.frameworks
    ]


def test_one_space_that_was_not_asked_keeps_the_question(rules_alone: Recommender) -> None:
    found = rules_alone.recommend(case(asked=["spans[15].months_since_extraction"]))
    assert any("taken out" in line and "asked; not known" not in line for line in Words().lines(found.cautions))


def test_gaps_are_told_with_what_is_known_of_them() -> None:
    height = MillimetreInterval(low=5, value=6, high=7)
    read = with_field(case(asked=["patient.allergy"]), "abutments[14].crown_height_mm", height)
    assert Words().gap(read, "patient.allergy") == "allergies (asked; not known)"
    assert "known as 6 (5 to 7)" in Words().gap(read, "abutments[14].crown_height_mm")
    assert Words().gap(read, "patient.age") == "age"


@pytest.mark.parametrize(
    ("field", "question", "caution"),
    [
        ("antiresorptive", "Does the patient take", "may not heal"),
        ("jaw_radiotherapy", "Were the jaws ever irradiated", "osteoradionecrosis"),
    ],
)
def test_the_two_facts_of_the_jaws_are_asked_and_raise_a_caution(
    rules_alone: Recommender, field: str, question: str, caution: str
) -> None:
    """ISOO-MASCC-ASCO guideline 2024 (radiotherapy); AAOMS position paper 2022 (drugs against bone loss)."""
    for value, asks, warns in ((None, True, False), (True, False, True), (False, False, False)):
        patient = {} if value is None else {field: value}
        said = rules_alone.recommend(case(patient=patient)).cautions
        assert any(question in line for line in Words().lines(said)) is asks
        assert any(caution in line for line in Words().lines(said)) is warns


def test_what_was_ruled_out_is_kept_from(rules_alone: Recommender) -> None:
    free = rules_alone.work(case())
    unwanted = free.decide(free.decisions()[0])
    lead = {d: free.decide(d).ranked[0].option for d in free.decisions() if d.kind != "rest"}
    retainers = {d.tooth: [option] for d, option in lead.items() if d.kind == "retainer"}
    retainers[23] = ["any"]
    said = {
        "retainers": retainers,
        "connector": [next(option for d, option in lead.items() if d.kind == "connector")],
        "replacements": {d.tooth: [option] for d, option in lead.items() if d.kind == "replacement"},
    }
    kept = rules_alone.recommend(case(prescription={"not": said}))
    families = free.engine.knowledge.catalogue.options["retainer"]
    for framework in kept.frameworks:
        assert framework.connector not in said["connector"]
        for tooth, option in framework.retainers.items():
            assert option not in retainers.get(tooth, ())
        assert "flexing_arm" not in families[framework.retainers.get(23, "none")].families
        for tooth, option in framework.replacements.items():
            assert option not in said["replacements"][tooth]
    for tooth, result in kept.retainers.items():
        for option in result.ranked:
            blocked = {block.id for block in option.blocked_by} & {
                "retainer_ruled_out",
                "any_clasp_ruled_out",
            }
            wanted = option.option in retainers.get(tooth, ()) or (
                tooth == 23 and "flexing_arm" in families[option.option].families
            )
            assert bool(blocked) is wanted
            assert option.status not in ("open", "needs_preparation") or not wanted
    assert unwanted.ranked  # the same case without the ban answers too


def test_review_names_what_was_ruled_out_and_whether_it_is_kept_from(rules_alone: Recommender) -> None:
    analysis = rules_alone.work(
        case(prescription={"connector": "palatal_strap", "not": {"retainers": {23: ["any"]}}})
    )
    items = {item.decision.key: item for item in review(analysis)}
    kept = items["retainer:23"]
    assert (kept.verdict, kept.asked, kept.ruled_out) == ("agrees", None, ("any",))
    assert "you ruled out any clasp" in Words().text(kept.wording)
    # everything ruled out: whatever leads departs from the order, and says so by name
    everything = [o for o in analysis.engine.knowledge.catalogue.options["connector"]
                  if "maxilla" in analysis.engine.knowledge.catalogue.options["connector"][o].arches]  # fmt: skip
    closed = rules_alone.work(case(prescription={"not": {"connector": everything}}))
    departs = next(item for item in review(closed) if item.decision.key == "connector")
    assert departs.verdict == "conflicts"
    assert "please tell us whether you accept it" in Words().text(departs.wording)
    assert any("ruled this connector out" in reason for reason in Words().lines(departs.reasons))
