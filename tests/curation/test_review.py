"""Approval and what stands in its way; near-duplicates; conflicts."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from recommender.curation import conflicts, contradictions, duplicates, review
from recommender.domain.case import Case, Review
from recommender.domain.designs import Design, DesignRetainer
from recommender.domain.findings import Abutment, Palate, Patient, Undercuts
from recommender.domain.statement import Said, say
from recommender.precedents.outcome_value import verdict
from recommender.precedents.store import documents, looked_at
from recommender.precedents.store.databases import create_database
from recommender.precedents.store.errors import StaleEdit, UnfitText
from recommender.precedents.store.library import Library
from recommender.wording.words import Words
from tests.store.invented import invented_cases


@pytest.fixture
def library(tmp_path: Path) -> Iterator[Library]:
    with create_database(str(tmp_path / "cases.db")) as made:
        yield made


def surveyed(case_id: str, assembly: str = "circumferential", **changes: object) -> Case:
    """An invented upper case with a bounded space, well recorded at both abutments."""
    zones = Undercuts(mesiofacial=0.25, midfacial=0.25, distofacial=0.25, mesiolingual=0.1, midlingual=0.1,
                      distolingual=0.1, mesial=0.0, distal=0.0)  # fmt: skip
    data = {
        "format": 1,
        "id": case_id,
        "arch": "maxilla",
        "missing": [15, 16],
        "absent": [18, 28],
        "patient": Patient(age=58, smile_line="average", aesthetic_priority="low", hygiene="good", allergy=[]),
        "palate": Palate(torus="none", vault="average", rugae="average"),
        "abutments": [
            Abutment(
                tooth=tooth, kind="tooth", undercuts_mm=zones, mobility=0, bone_support="good", tilt="none",
                tissue_undercut=False, vestibule_depth_mm=8, crown_height_mm=7, restoration="sound",
                frenum_near=False, contour_height="middle",
            )
            for tooth in (14, 17)
        ],
        "design": Design(
            connector="palatal_strap",
            retainers=[DesignRetainer(tooth=tooth, assembly=assembly, rest="mesial") for tooth in (14, 17)],
        ),
    }  # fmt: skip
    return Case.model_validate(data | changes)


def none_against(_case: Case) -> list[str]:
    return []


def test_a_sound_case_is_approved(library: Library) -> None:
    library.add(surveyed("a"), who="KM")
    version = review.approve(library, "a", who="tutor", teaching_note="a plain bounded space")
    assert (version.kind, version.who, version.revision) == ("approved", "tutor", 2)
    assert version.case.review == Review(status="approved", teaching_note="a plain bounded space")
    assert library.heads()[0].status == "approved"
    with pytest.raises(review.NotApprovable, match="already"):
        review.approve(library, "a", who="tutor")


def test_a_case_without_a_design_is_no_precedent(library: Library) -> None:
    library.add(surveyed("a", design=None), who="KM")
    with pytest.raises(review.NotApprovable, match="no design"):
        review.approve(library, "a", who="tutor")


def test_against_a_rule_only_with_a_reason(library: Library) -> None:
    library.add(surveyed("a"), who="KM")
    barred = say("rule", rule="room", why=Said("No room."))
    against = lambda _case: [barred]  # noqa: E731
    with pytest.raises(review.NotApprovable) as caught:
        review.approve(library, "a", who="tutor", contradictions=against)
    assert caught.value.obstacles == (say("obstacle.against_rule", what=barred),)
    assert "No room. (give a reason to approve it all the same)" in str(caught.value)
    assert library.heads()[0].status == "draft"
    version = review.approve(
        library, "a", who="tutor", reason="cast before the rule was known", contradictions=against
    )
    assert version.case.review.reason == "cast before the rule was known"
    assert version.why == "cast before the rule was known"


def test_the_rules_speak_against_what_cannot_hold() -> None:
    """Circumferential arms with nothing to grip are excluded by the rules themselves (undercut of the alloy)."""
    bare = Undercuts(mesiofacial=0.0, midfacial=0.0, distofacial=0.0, mesiolingual=0.0, midlingual=0.0,
                     distolingual=0.0, mesial=0.0, distal=0.0)  # fmt: skip
    sound = surveyed("a")
    flat = sound.model_copy(
        update={
            "abutments": [
                abutment.model_copy(update={"undercuts_mm": bare, "preparable": False})
                for abutment in sound.abutments
            ]
        }
    )
    assert [c for c in contradictions.contradictions(sound) if c.decision.kind == "retainer"] == []
    against = [c for c in contradictions.contradictions(flat) if c.decision.kind == "retainer"]
    assert {(c.decision.tooth, c.option, c.status) for c in against} == {
        (14, "circumferential", "excluded"), (17, "circumferential", "excluded"),
    }  # fmt: skip
    assert all(c.blocks and Words().text(c.blocks[0].statement) in Words().text(c.statement) for c in against)
    assert contradictions.contradictions(sound.model_copy(update={"design": None})) == []


def test_identity_stands_in_the_way_until_somebody_looked(library: Library) -> None:
    library.add(surveyed("a", title="for Mrs Ashcombe (an invented name)"), who="KM")
    with pytest.raises(review.NotApprovable, match="may identify a patient"):
        review.approve(library, "a", who="tutor", contradictions=none_against)
    looked_at.look_at(library, "a", who="tutor", note="an invented name")
    assert review.approve(library, "a", who="tutor", contradictions=none_against).kind == "approved"


def test_retiring_and_reopening_need_a_reason(library: Library) -> None:
    library.add(surveyed("a", review=Review(status="approved", teaching_note="keep")), who="KM")
    for act in (review.retire, review.reopen):
        with pytest.raises(UnfitText):
            act(library, "a", who="tutor", reason=" ")
    retired = review.retire(library, "a", who="tutor", reason="superseded")
    assert retired.case.review == Review(status="retired", reason="superseded", teaching_note="keep")
    draft = review.reopen(library, "a", who="tutor", reason="to be looked at again")
    assert (draft.case.review.status, draft.kind) == ("draft", "drafted")
    assert [v.kind for v in library.history("a")] == ["added", "retired", "drafted"]
    with pytest.raises(StaleEdit):
        review.approve(library, "a", who="KM", opened=1, contradictions=none_against)


def test_an_edit_waits_for_a_reviewer_while_the_approved_version_serves(library: Library) -> None:
    library.add(surveyed("a", review=Review(status="approved", reason="as taught")), who="KM")
    case = library.get("a").case
    parts = case.design.model_copy(update={"connector": "palatal_bar"})
    changed, said = review.revise(
        library, case.model_copy(update={"design": parts}), opened=1, who="KM", why="another connector"
    )
    assert documents.status(changed.case) == "draft"
    assert "approved anew" in said
    (head,) = library.heads()
    assert (head.serving, head.waits) == (1, True)
    (served,) = library.serving()
    assert (served.revision, served.case.design.connector) == (1, case.design.connector)
    # a follow-up meanwhile changes nothing of what serves; approval lets the change serve
    approved = review.approve(library, "a", who="tutor", contradictions=none_against)
    assert library.heads()[0].serving == approved.revision == 3
    assert next(library.serving()).case.design.connector == "palatal_bar"
    review.retire(library, "a", who="tutor", reason="superseded")
    assert library.heads()[0].serving is None


def test_a_reviewer_turns_a_change_down_by_restoring_what_serves(library: Library) -> None:
    library.add(surveyed("a", review=Review(status="approved")), who="KM")
    review.revise(library, surveyed("a", absent=[18]), opened=1, who="KM", why="28 stands")
    review.revise(library, surveyed("a", absent=[28]), opened=2, who="KM", why="18 stands")
    assert documents.status(library.restore("a", 2, opened=3, who="KM", why="").case) == "draft"
    back = library.restore("a", 1, opened=4, who="tutor", why="the change was wrong")
    assert documents.status(back.case) == "approved"
    assert library.heads()[0].serving == back.revision


def test_a_retired_case_does_not_come_back_approved_by_restoring(library: Library) -> None:
    library.add(surveyed("a", review=Review(status="approved")), who="KM")
    review.retire(library, "a", who="tutor", reason="superseded")
    assert documents.status(library.restore("a", 1, opened=2, who="KM", why="").case) == "draft"


def test_an_edit_cannot_approve_itself(library: Library) -> None:
    library.add(surveyed("a"), who="KM")
    claimed = surveyed("a", review=Review(status="approved", teaching_note="mine"))
    version, _ = review.revise(library, claimed, opened=1, who="KM", why="trying")
    assert documents.status(version.case) == "draft"
    assert version.case.review.teaching_note == "mine"


ABOUT_THE_RECORD = {"id", "title", "review", "source", "outcome", "dentist_answer", "format"}


def test_near_duplicates_against_every_pair() -> None:
    """The sketch finds what comparing every pair in full finds."""
    base = list(invented_cases(60, seed=11))
    copies = [
        case.model_copy(
            update={
                "id": f"copy-{number}",
                "patient": case.patient.model_copy(update={"age": 34 if case.patient.age == 33 else 33}),
                "title": None,
            }
        )
        for number, case in enumerate(base[:20])
    ]
    cases = base + copies
    expected = set()
    leaves = {
        case.id: {(path, repr(value)) for path, value in documents.flatten(documents.as_data(case))
                  if path.split(".")[0].split("[")[0] not in ABOUT_THE_RECORD}
        for case in cases
    }  # fmt: skip
    for place, first in enumerate(cases):
        for second in cases[place + 1 :]:
            if documents.status(first) == "retired" or documents.status(second) == "retired":
                continue
            same_teeth = documents.dentition(first) == documents.dentition(second)
            one, other = leaves[first.id], leaves[second.id]
            if same_teeth and len(one & other) >= 0.9 * len(one | other):
                expected.add(tuple(sorted((first.id, second.id))))
    found = duplicates.near_duplicates(cases)
    assert {(pair.first, pair.second) for pair in found} == expected
    assert len(expected) >= 10
    assert all(any(path == "patient.age" for path, _, _ in pair.differences) for pair in found)
    assert duplicates.near_duplicates(cases[::-1]) == found


def test_conflicts_are_like_situations_with_other_choices() -> None:
    same = [surveyed("a", "circumferential"), surveyed("b", "circumferential"), surveyed("c", "i_bar")]
    found = [
        one
        for one in conflicts.conflicts(same)
        if one.first.kind == "retainer" and one.first.site == one.second.site
    ]
    assert {(c.first.case_id, c.second.case_id, c.first.site) for c in found} == {
        ("a", "c", 14), ("a", "c", 17), ("b", "c", 14), ("b", "c", 17),
    }  # fmt: skip
    assert all(c.alike == pytest.approx(1.0) and c.differs == () for c in found)
    assert conflicts.conflicts([same[0], same[1]]) == [] or all(
        c.first.choice != c.second.choice for c in conflicts.conflicts(same[:2])
    )
    retired = same[2].model_copy(update={"review": Review(status="retired")})
    assert not [
        c for c in conflicts.conflicts([same[0], retired]) if "c" in (c.first.case_id, c.second.case_id)
    ]


def test_the_reason_goes_along_where_the_case_is_cited() -> None:
    from recommender.precedents.search.tables import load
    from recommender.precedents.situations import all_situations

    with_reason = surveyed("a", review=Review(status="approved", reason="the dentist wanted it so"))
    without = surveyed("b", review=Review(status="approved"))
    said = {one.case_id: one.verdict for one in all_situations([with_reason, without], load())}
    assert Words().text(verdict(said["a"])).endswith("; approved with the reason: the dentist wanted it so")
    assert "reason" not in said["b"]


def test_turning_a_change_down_leaves_what_was_approved(library: Library) -> None:
    library.add(surveyed("a", review=Review(status="approved")), who="KM")
    with pytest.raises(review.NothingWaits):
        review.turn_down(library, "a", who="tutor", reason="no change")
    review.revise(library, surveyed("a", absent=[18]), opened=1, who="KM", why="28 stands")
    assert library.heads()[0].waits
    version = review.turn_down(library, "a", who="tutor", reason="28 is gone")
    assert version.case == library.get("a", 1).case
    assert (library.heads()[0].status, library.heads()[0].serving, library.heads()[0].waits) == (
        "approved", 3, False,
    )  # fmt: skip
