"""Prescription review: verdicts, prices, precedents, what is left out, items without a place."""

from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings

from recommender.advice.analysis import CaseAnalysis
from recommender.advice.beside_framework import beside, carried
from recommender.advice.cautions import cautions_of
from recommender.advice.explanation.contrast import contrast
from recommender.advice.model import Decision
from recommender.advice.phone import four_lines, note_answered, wishes_in
from recommender.advice.recommend import Recommender, recommendation
from recommender.advice.review import ReviewItem, items_of, review
from recommender.advice.summary import part_lines, why_it_departs
from recommender.curation.evaluation.published import published_cases
from recommender.domain.case import Case
from recommender.domain.designs import Design, Prescription
from recommender.domain.reader import read_case
from recommender.knowledge.load import packaged_knowledge
from recommender.resources import demo_library
from recommender.wording.templates import language
from recommender.wording.words import Words
from tests.advice.strategies import cases

MODEST = settings(
    max_examples=8,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)

CANNOT_BE_MADE = "metal.cannot_be_made"


def demo(name: str = "harbour-0012") -> Case:
    return read_case(demo_library() / f"{name}.yaml")


def asked(recommender: Recommender, case: Case | CaseAnalysis, **wanted: Any) -> dict[str, ReviewItem]:
    analysis = case if isinstance(case, CaseAnalysis) else recommender.work(case)
    found = review(analysis, Prescription.model_validate(wanted))
    return {item.decision.key: item for item in found}


def _rejected() -> list[tuple[str, str, str]]:
    found = []
    for case, expert, _ in published_cases():
        for tooth, options in expert.get("rejected", {}).items():
            found += [(case.id, f"retainer:{tooth}", option) for option in options]
        found += [(case.id, "connector", option) for option in expert.get("rejected_connectors", {})]
    return found


@pytest.mark.parametrize(("name", "key", "option"), _rejected())
def test_what_published_cases_reject_never_agrees(
    with_demo: Recommender, name: str, key: str, option: str
) -> None:
    """Each worked case names its publication (``source`` in ``shared/published/cases``); its authors rejected the
    option that is prescribed here."""
    case = next(case for case, _, _ in published_cases() if case.id == name)
    kind, _, tooth = key.partition(":")
    wanted = {"connector": option} if kind == "connector" else {"retainers": {int(tooth): option}}
    item = asked(with_demo, case, **wanted)[key]
    assert item.verdict != "agrees", item
    assert item.reasons


@MODEST
@given(case=cases())
def test_asking_for_the_leader_agrees_and_for_the_excluded_conflicts(
    with_demo: Recommender, case: Case
) -> None:
    analysis = with_demo.work(case)
    for tooth in analysis.facts.considered[:2]:
        result = analysis.decide(Decision("retainer", tooth))
        lead, last = result.ranked[0], result.ranked[-1]
        if lead.status in ("open", "needs_preparation"):
            item = asked(with_demo, analysis, retainers={tooth: lead.option})[f"retainer:{tooth}"]
            assert (item.verdict, item.price_of_departing, item.depart) == ("agrees", (), None)
        if last.status in ("excluded", "advised_against"):
            item = asked(with_demo, analysis, retainers={tooth: last.option})[f"retainer:{tooth}"]
            assert item.verdict == "conflicts"
            barred = {block.statement for block in last.blocked_by}
            assert item.reasons[0] in barred or item.reasons[0].code == CANNOT_BE_MADE
            if any(block.kind == "safety" for block in last.blocked_by):
                assert item.price_of_following == ()
                assert item.follow is None


@MODEST
@given(case=cases())
def test_a_near_tie_agrees(rules_alone: Recommender, case: Case) -> None:
    analysis = rules_alone.work(case)
    limit = rules_alone.engine.knowledge.scoring.near_tie
    assert packaged_knowledge().figures.review.agrees_within == limit
    for tooth in analysis.facts.considered[:2]:
        ranked = analysis.decide(Decision("retainer", tooth)).ranked
        lead = ranked[0]
        if lead.status not in ("open", "needs_preparation"):
            continue
        for option in ranked[1:3]:
            item = asked(rules_alone, analysis, retainers={tooth: option.option})[f"retainer:{tooth}"]
            tie = option.status == lead.status and lead.score - option.score <= limit
            assert item.near_tie == tie
            if tie:
                unmade = any(reason.code == CANNOT_BE_MADE for reason in item.reasons)
                assert item.verdict == ("conflicts" if unmade else "agrees")
            assert item.points == pytest.approx(contrast(lead, option).points, abs=1e-9)


def test_price_tells_enamel_and_visits(with_demo: Recommender) -> None:
    item = asked(with_demo, demo("harbour-0050"), retainers={44: "reverse_circumferential"})["retainer:44"]
    assert item.status == "needs_preparation"
    assert item.follow is not None
    assert item.follow.visits == 1
    assert item.follow.enamel_mm >= 0.25
    assert any("create an undercut on 44, distofacial" in line for line in Words().lines(item.price_of_following))
    assert any("mm of enamel and 1 visit" in line for line in Words().lines(item.price_of_following))
    assert item.precedents_for_lead


def test_what_is_left_out_is_told_with_rests_and_alloy(with_demo: Recommender) -> None:
    case = demo()
    found = asked(with_demo, case, retainers={44: "i_bar"})
    assert found["retainer:44"].asked == "i_bar"
    assert {key for key, item in found.items() if item.verdict == "left_out"} >= {
        "connector", "retainer:35", "rest:44", "replacement:46", "alloy"
    }  # fmt: skip
    assert found["rest:44"].given == "i_bar"
    assert found["alloy"].lead == "cobalt_chromium"
    assert all(item.wording for item in found.values())


def test_a_rest_is_judged_for_the_assembly_asked_for(with_demo: Recommender) -> None:
    """A bar clasp with a rest away from the space beside an extension: mesial (Krol AJ. RPI clasp retainer and its
    modifications. Dent Clin North Am 1973;17:631-649, from memory)."""
    case = demo()
    analysis = with_demo.work(case)
    for assembly in ("circumferential", "i_bar"):
        item = asked(with_demo, case, retainers={44: assembly}, rests={44: "mesial"})["rest:44"]
        assert item.given == assembly
        result = analysis.rest_for(44, assembly)
        assert item.points == pytest.approx(result.ranked[0].score - result.option("mesial").score)
    assert (
        asked(with_demo, case, retainers={44: "i_bar"}, rests={44: "mesial"})["rest:44"].verdict == "agrees"
    )


def test_an_allergy_conflicts_with_the_alloy(with_demo: Recommender) -> None:
    """Nickel is the commonest metal allergen; the alloy that holds it is not made for such a patient (Wiltshire WA
    et al. Allergies to dental alloys, 1996, from memory)."""
    raw = demo().model_dump(exclude_none=True)
    raw["patient"]["allergy"] = ["nickel"]
    case = Case.model_validate(raw)
    item = asked(with_demo, case, alloy="nickel_chromium")["alloy"]
    assert item.verdict == "conflicts"
    assert item.lead not in (None, "nickel_chromium")
    assert item.reasons
    assert asked(with_demo, case, alloy="cobalt_chromium")["alloy"].verdict == "agrees"


def test_teeth_that_are_not_considered_are_reviewed_and_those_without_a_place_conflict(
    with_demo: Recommender,
) -> None:
    case = demo()
    analysis = with_demo.work(case)
    outside = next(t for t in analysis.facts.standing if t not in analysis.facts.considered)
    gone = case.missing[0]
    found = asked(
        with_demo, case, retainers={outside: "circumferential", gone: "i_bar"},
        replacements={outside: "resin_tooth_lattice"},
    )  # fmt: skip
    assert found[f"retainer:{outside}"].asked == "circumferential"
    assert found[f"retainer:{outside}"].status is not None
    for key in (f"retainer:{gone}", f"replacement:{outside}"):
        assert (found[key].verdict, found[key].lead) == ("conflicts", None)
        assert found[key].reasons
        assert "tell us what we have missed" in Words().text(found[key].wording)


def test_a_finished_design_is_reviewed_in_the_same_way(with_demo: Recommender) -> None:
    case = demo()
    assert case.design is not None
    found = {item.decision: item for item in review(with_demo.work(case), case.design)}
    chosen = dict(items_of(case.design))
    assert chosen
    assert all(found[decision].asked == option for decision, option in chosen.items())
    bare = Design.model_validate(
        {"connector": "lingual_bar", "retainers": [{"tooth": 44, "assembly": "i_bar"}]}
    )
    items = review(with_demo.work(case), bare)
    left = {item.decision.kind for item in items if item.verdict == "left_out"}
    # Two extensions want an indirect retainer ahead of the axis (Carr and Brown, McCracken's Removable Partial
    # Prosthodontics, 12th ed., ch. 8, from memory).
    assert "indirect_retainer" in left


def test_the_decision_is_left_with_the_dentist() -> None:
    templates = language().templates
    for verdict in ("better_alternative", "conflicts", "acceptable"):
        said = "".join(piece.text for piece in templates[f"review.{verdict}"].pieces)
        assert any(phrase in said for phrase in ("decision is yours", "you prefer", "your choice"))


def test_a_prescription_of_another_published_school_is_called_that_with_its_source(
    with_demo: Recommender,
) -> None:
    """Steffel 1951 tells three schools of design; a cast arm beside an extension belongs to broad distribution."""
    found = asked(with_demo, demo("harbour-0052"), retainers={"35": "circumferential"})["retainer:35"]
    assert found.school is not None
    assert found.school.id == "broad_distribution"
    said = Words().text(found.wording)
    assert "as the school of broad stress distribution teaches (Steffel VL" in said
    assert "Both ways are published" in said
    followed = asked(with_demo, demo("harbour-0052"), retainers={"35": found.lead})["retainer:35"]
    assert followed.school is None


def test_every_school_is_known_by_options_of_the_catalogue_and_every_wish_by_a_criterion() -> None:
    known = packaged_knowledge()
    for school in known.figures.review.schools:
        assert school.source
        for part in school.parts:
            assert set(part.options) <= set(known.catalogue.options[part.decision]), school.id
    assert {wish.criterion for wish in known.figures.review.wishes} <= set(known.criteria.labels)


def test_every_departure_has_its_price_both_ways(with_demo: Recommender) -> None:
    for name in ("harbour-0052", "harbour-0105"):
        for item in review(with_demo.work(demo(name))):
            if item.asked is not None and item.lead not in (None, item.asked) and item.status is not None:
                assert item.price_of_following, item.decision
                assert item.price_of_departing, item.decision


def test_four_lines_for_the_telephone_and_an_answer_to_the_note(with_demo: Recommender) -> None:
    analysis = with_demo.work(demo("harbour-0052"))
    answer = recommendation(analysis)
    lines = [Words().text(x) for x in four_lines(analysis, answer.frameworks[0], review(analysis))]
    assert [line.split(" ")[0] for line in lines] == ["Asked:", "Proposed:", "What", "To"]
    assert "unilateral framework" in lines[0]
    assert "departs from what was asked at: " in lines[1]
    noted = [Words().text(x) for x in note_answered(analysis, answer, answer.frameworks[0])]
    assert len(noted) == 1
    assert noted[0].startswith("“as small as possible”: ")
    assert "comfort and speech" in noted[0]
    assert list(wishes_in(analysis, "Ring me. Usual frame.")) == []


def test_what_is_not_followed_speaks_of_what_the_framework_carries(with_demo: Recommender) -> None:
    """At 34 another clasp leads by itself, and the framework carries a rest: it is the rest that is proposed."""
    analysis = with_demo.work(demo("harbour-0052"))
    framework = recommendation(analysis).frameworks[0]
    alone = {item.decision: item for item in review(analysis)}
    found = {item.decision: item for item in beside(analysis, framework, alone.values())}
    at = Decision("retainer", 34)
    assert carried(framework, at) not in (alone[at].asked, alone[at].lead)
    words = Words()
    for decision, item in found.items():
        if item.asked is None or carried(framework, decision) in (None, item.asked):
            assert item is alone[decision]
            continue
        assert item.lead == carried(framework, decision)
        assert words.option(decision.kind, item.lead) in words.text(item.wording)
        assert "We follow your choice" not in words.text(item.wording)
    assert "embrasure" not in words.text(found[at].wording)


def test_a_rest_is_there_for_what_it_bears(with_demo: Recommender) -> None:
    analysis = with_demo.work(demo("harbour-0043"))
    framework = recommendation(analysis).frameworks[0]
    (line,) = (line for line in part_lines(analysis, framework) if line.option == "rest_only")
    assert why_it_departs(framework, line.decisions[0]) is not None
    assert line.why in {seat.reasons[0] for seat in framework.indirect_retainers}


def test_several_allergies_are_one_caution_that_names_them(rules_alone: Recommender) -> None:
    case = demo("harbour-0073")
    assert case.patient is not None
    told = [Words().text(said) for said in cautions_of(rules_alone.work(case)) if "declared free" in Words().text(said)]
    assert len(told) == 1
    assert all(metal in told[0] for metal in ("cobalt", "chromium", "nickel", "palladium"))
