"""Before and after preparation: what of a design still stands on the new cast; and what cannot be made of a
stored one.
"""

import pytest

import recommender as rpd
from recommender.advice.recommend import Recommender
from recommender.advice.resurvey import resurvey
from recommender.advice.review import review
from recommender.domain.case import Case
from recommender.domain.decision import Decision
from recommender.domain.designs import Design
from recommender.wording.words import Words

LOWER = {
    "format": 1, "id": "made-r", "arch": "mandible", "missing": [35, 36, 37], "absent": [38, 48],
    "abutments": [
        {"tooth": 34, "undercuts_mm": {"mesiofacial": 0.25}, "rest_clearance_mm": 1.5, "vestibule_depth_mm": 3.0,
         "mobility": 0, "bone_support": "good"},
        {"tooth": 46, "undercuts_mm": {"mesiofacial": 0.25}, "embrasure_clearance_mm": {"distal": 1.6}},
        {"tooth": 47, "undercuts_mm": {"distofacial": 0.25}, "embrasure_clearance_mm": {"mesial": 1.6}},
    ],
}  # fmt: skip


@pytest.fixture(scope="module")
def before() -> Case:
    return Case.model_validate(LOWER)


def altered(**fields: object) -> Case:
    first = {**LOWER["abutments"][0], **fields}  # type: ignore[index]
    return Case.model_validate({**LOWER, "abutments": [first, *LOWER["abutments"][1:]]})  # type: ignore[misc]


def test_what_still_stands_and_what_does_not(rules_alone: Recommender, before: Case) -> None:
    design = rules_alone.recommend(before, 1).frameworks[0].design
    same = {one.tooth: one for one in resurvey(design, before, rules_alone.work(before))}
    assert same[34].standing == "stands"
    gone = {"mesiofacial": 0.0, "midfacial": 0.0, "distofacial": 0.0}
    lost = altered(undercuts_mm=gone, preparable=False)
    found = {one.tooth: one for one in resurvey(design, before, rules_alone.work(lost))}
    assert found[34].standing == "falls"
    assert found[34].to_do
    assert found[46].standing == "stands"
    text = Words("universal").text(found[34].said)
    assert "21" in text  # 34 in the universal system
    assert "0.25" in text


def test_two_cases_give_the_same_lines_in_python_and_the_part_that_leads_now(before: Case) -> None:
    deeper = altered(undercuts_mm={"mesiofacial": 0.0, "midfacial": 0.25}, vestibule_depth_mm=8.0, preparable=False)
    found = rpd.resurvey(before, deeper, library=None)
    assert [one.tooth for one in found.teeth] == [int(number) for number in found.table["tooth"]]
    at_34 = next(one for one in found.teeth if one.tooth == 34)
    assert at_34.standing == "falls"
    assert at_34.to_do[-1].code == "resurvey.leads"
    assert len(found.lines) == len(found.teeth)
    other = Case.model_validate({**LOWER, "missing": [35, 36]})
    with pytest.raises(rpd.CaseError, match="the same arch and missing teeth"):
        rpd.resurvey(before, other, library=None)


def test_a_seat_that_was_asked_for_and_not_cut_is_told(rules_alone: Recommender, before: Case) -> None:
    design = rules_alone.recommend(before, 1).frameworks[0].design
    seats = [p.surface for p in design.preparation or () if p.tooth == 34 and p.action == "rest_seat"]
    assert seats
    uncut = altered(rest_seats=[])
    found = {one.tooth: one for one in resurvey(design, before, rules_alone.work(uncut))}
    assert any(said.code == "resurvey.not_done" for said in found[34].to_do)


def test_the_ticket_waits_for_the_new_survey(rules_alone: Recommender, before: Case) -> None:
    codes = {said.code for said in rules_alone.recommend(before, 1).frameworks[0].cautions}
    assert "waits_for_survey" in codes
    prepared = Case.model_validate({**LOWER, "records": {"cast": "after_preparation"}})
    codes = {said.code for said in rules_alone.recommend(prepared, 1).frameworks[0].cautions}
    assert "waits_for_survey" not in codes


def test_a_stored_design_that_cannot_be_made_is_told(rules_alone: Recommender, before: Case) -> None:
    design = rules_alone.recommend(before, 1).frameworks[0].design
    sound = [
        one for one in review(rules_alone.work(before), design) if one.decision == Decision("retainer", 34)
    ]
    assert sound[0].verdict != "conflicts"
    raw = design.model_dump(mode="json", exclude_none=True)
    for retainer in raw["retainers"]:
        if retainer["tooth"] == 34:
            retainer |= {
                "assembly": "circumferential",
                "approach": "mesial",
                "undercut": {"zone": "distofacial"},
            }
    raw["minor_connectors"] = [m for m in raw["minor_connectors"] if m["tooth"] != 34]
    raw["rests"]["34"] = "distal"
    items = review(rules_alone.work(before), Design.model_validate(raw))
    item = next(one for one in items if one.decision == Decision("retainer", 34))
    assert item.verdict == "conflicts"
    assert any(reason.code.startswith("metal.") for reason in item.reasons)


def test_a_clasp_that_is_asked_for_and_cannot_be_made_is_told(rules_alone: Recommender) -> None:
    """A bar on a tooth that borders no space has no base to leave."""
    case = Case.model_validate({**LOWER, "prescription": {"retainers": {46: "i_bar"}}})
    item = next(one for one in review(rules_alone.work(case)) if one.decision == Decision("retainer", 46))
    assert item.verdict == "conflicts"
    assert "no base" in Words().text(item.reasons[0])
