"""The dentist's answer: one code for one design, a page to answer on, and what comes back from it."""

import json
from copy import deepcopy
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st

from recommender.documents.answers import signature
from recommender.documents.answers.fingerprint import CODE, fingerprint
from recommender.documents.answers.form import answer_page
from recommender.documents.answers.in_words import noted, taken
from recommender.documents.answers.points import Point
from recommender.documents.answers.recorded import recorded
from recommender.documents.answers.returned import AnswerError, read_returned
from recommender.documents.letter import Asked, asked_of, letter_about, worked_out
from recommender.documents.proposal import Origin
from recommender.documents.ticket import ticket
from recommender.domain.case import Case
from recommender.domain.designs import Design
from recommender.domain.reader import read_case
from recommender.domain.statement import Said
from recommender.resources import demo_library
from recommender.wording.words import Words
from tests.documents.conftest import demo_cases
from tests.documents.paper_rules import texts

if TYPE_CHECKING:
    from recommender.advice.recommend import Recommender

CASE = "harbour-0064"
ORIGIN = Origin("rules", "library", demo=True)


@pytest.fixture(scope="module")
def asked(with_demo: "Recommender") -> Asked:
    return asked_of(*worked_out(with_demo, demo_cases()[CASE]))


def answered(asked: Asked, **changed: Any) -> dict[str, Any]:
    """An answer that agrees to everything and is signed; ``changed`` replaces ticks by key."""
    agree = {"departure": "agree", "preparation": "will_do", "question": ""}
    points = [
        {
            "key": point.key,
            "offered": point.offered,
            "answer": changed.get(point.key, agree[point.kind] or point.ticks[0]),
            "words": "",
        }
        for point in asked.points
    ]
    return {
        "kind": "rpd-casebook dentist answer",
        "version": 1,
        "case": asked.proposal.case.id,
        "design": asked.code,
        "points": points,
        "signed": {"name": "A. Dentist, 12", "date": "2026-11-28", "agrees": True},
        "changes": "",
    }


def given_back(asked: Asked, answer: dict[str, Any], case: Case | None = None):
    return recorded(case or asked.proposal.case, asked, read_returned(json.dumps(answer).encode()))


def said(found) -> str:
    return " ".join(Words().lines(found.lines))


# -- the code of a design


def leaves(value: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    if isinstance(value, dict):
        return [leaf for key, inner in value.items() for leaf in leaves(inner, (*path, key))]
    if isinstance(value, list):
        return [leaf for index, inner in enumerate(value) for leaf in leaves(inner, (*path, index))]
    return [path]


@settings(deadline=None, max_examples=30)
@given(st.data())
def test_a_code_holds_for_its_design_in_any_order_and_for_no_other(data: st.DataObject) -> None:
    case = demo_cases()[data.draw(st.sampled_from(sorted(demo_cases())[::7]))]
    assert case.design is not None
    code = fingerprint(case, case.design, ())
    assert CODE.fullmatch(code)
    held = case.design.model_dump(mode="json", exclude_none=True)
    shuffled = {
        key: data.draw(st.permutations(value)) if isinstance(value, list) else value for key, value in held.items()
    }
    assert fingerprint(case, Design.model_validate(shuffled, strict=False), ()) == code
    depths = [path for path in leaves(held) if path[-1] in ("mm", "relief_mm", "height_mm")]
    if depths:
        path = data.draw(st.sampled_from(depths))
        other = deepcopy(held)
        place = other
        for step in path[:-1]:
            place = place[step]
        place[path[-1]] += 0.05
        assert fingerprint(case, Design.model_validate(other, strict=False), ()) != code
    assert fingerprint(case.model_copy(update={"id": "another"}), case.design, ()) != code


def test_facts_leave_the_code_and_the_prescription_changes_it(asked: Asked) -> None:
    case, design = asked.proposal.case, asked.proposal.design
    code = fingerprint(case, design, asked.proposal.preparation)
    assert code == asked.code
    assert fingerprint(case.model_copy(update={"title": "another title"}), design, asked.proposal.preparation) == code
    assert case.prescription is not None
    other = case.prescription.model_copy(update={"note": "another note"})
    changed = case.model_copy(update={"prescription": other})
    assert fingerprint(changed, design, asked.proposal.preparation) != code
    assert fingerprint(case, design, asked.proposal.preparation[1:]) != code


def test_letter_ticket_and_page_carry_the_same_code(asked: Asked, with_demo: "Recommender") -> None:
    analysis, answer = worked_out(with_demo, asked.proposal.case)
    letter = letter_about(analysis, answer, ORIGIN)
    made = ticket(asked.proposal, ORIGIN, despite_provisional="a trial")
    assert asked.code in letter.footer
    assert asked.code in made.footer
    assert asked.code in answer_page(letter, asked, Words()).decode()


# -- what comes back


def test_agreed_and_signed_in_full(asked: Asked) -> None:
    found = given_back(asked, answered(asked))
    assert found.signed
    assert signature.state(found.case, asked.code) == "signed"
    answers = {one.item: one.answer for one in found.case.dentist_answer or ()}
    assert {point.key for point in (*asked.departures, *asked.preparation)} <= set(answers)
    assert found.case.patient is not None
    assert found.case.patient.antiresorptive is False
    assert "SIGNED by A. Dentist" in said(found)
    again = Case.model_validate(found.case.model_dump(mode="json", exclude_none=True), strict=False)
    assert again == found.case


def test_an_empty_box_is_no_consent(asked: Asked) -> None:
    for point in asked.points:
        found = given_back(asked, answered(asked, **{point.key: ""}))
        assert not found.signed
        assert signature.state(found.case, asked.code) == "signed_not"
        assert point.key not in {one.item for one in found.case.dentist_answer or ()}
        assert "left open, which is no consent" in said(found)


@pytest.mark.parametrize(
    "spoilt", [{"agrees": False}, {"name": " "}, {"date": ""}], ids=["not agreed", "no name", "no date"]
)
def test_no_signature_without_name_date_and_the_box(asked: Asked, spoilt: dict[str, Any]) -> None:
    answer = answered(asked)
    answer["signed"] |= spoilt
    found = given_back(asked, answer)
    assert not found.signed
    assert "no signature was given" in said(found)


def test_keep_mine_is_declined_call_me_is_open_and_changes_are_read(asked: Asked) -> None:
    keep, call = asked.departures[0].key, asked.departures[1].key
    answer = answered(asked, **{keep: "keep", call: "call"})
    answer["changes"] = "Please leave 21 alone."
    found = given_back(asked, answer)
    answers = {one.item: one.answer for one in found.case.dentist_answer or ()}
    assert answers[keep] == "declined"
    assert call not in answers
    assert not found.signed
    assert "asks to be called" in said(found)
    assert "Please leave 21 alone." in said(found)


def test_a_dangerous_yes_is_recorded_and_is_no_signature(asked: Asked) -> None:
    found = given_back(asked, answered(asked, **{"patient.antiresorptive": "yes"}))
    assert found.case.patient is not None
    assert found.case.patient.antiresorptive is True
    assert not found.signed
    unknown = given_back(asked, answered(asked, **{"patient.jaw_radiotherapy": "not_known"}))
    assert "patient.jaw_radiotherapy" in (unknown.case.asked or ())
    assert not unknown.signed


def test_any_change_after_signing_voids_it_and_is_shown(asked: Asked, with_demo: "Recommender") -> None:
    answer = answered(asked)
    signed = given_back(asked, answer).case
    assert signed.prescription is not None
    changed = signed.model_copy(
        update={"prescription": signed.prescription.model_copy(update={"connector": None})}
    )
    now = asked_of(*worked_out(with_demo, changed))
    assert signature.state(changed, now.code) == "signed_void"
    made = ticket(now.proposal, ORIGIN, despite_provisional="a trial")
    assert f"SIGNATURE VOID: the dentist signed design {asked.code}" in " ".join(texts(made.blocks))
    found = given_back(now, answer, changed)
    assert found.void
    assert found.case == changed
    assert "SIGNATURE VOID" in said(found)
    assert "Major connector: was asked about" in said(found)


def foreign() -> dict[str, bytes]:
    return {
        "empty": b"",
        "noise": bytes(range(256)),
        "other json": b'{"a": 1}',
        "a list": b"[]",
        "the page": b"<!doctype html><html></html>",
        "deep": b"[" * 100_000,
        "large": b'"' + b"x" * 300_000 + b'"',
        "not utf-8": b'{"kind": "\xff"}',
    }


@pytest.mark.parametrize("name", sorted(foreign()))
def test_a_foreign_file_gets_one_clear_error(name: str) -> None:
    with pytest.raises(AnswerError, match="no answer saved from our page"):
        read_returned(foreign()[name])


def test_a_hostile_answer_changes_nothing(asked: Asked) -> None:
    good = answered(asked)
    for spoil in (
        {"case": "another"},
        {"points": [*good["points"], {"key": "retainer:99", "offered": "", "answer": "agree", "words": ""}]},
        {"points": [{**good["points"][0], "answer": "accepted"}]},
        {"points": [good["points"][0], good["points"][0]]},
        {"design": "not-a-code"},
        {"extra": 1},
        {"changes": "x" * 3000},
        {"version": 2},
    ):
        with pytest.raises(AnswerError):
            given_back(asked, good | spoil)


def test_the_page_stands_alone_and_text_stays_text(asked: Asked, with_demo: "Recommender") -> None:
    hostile = '<script>alert(1)</script> & "quoted" </script>'
    case = asked.proposal.case
    assert case.prescription is not None
    noted = case.model_copy(update={"prescription": case.prescription.model_copy(update={"note": hostile})})
    analysis, answer = worked_out(with_demo, noted)
    page = answer_page(letter_about(analysis, answer, ORIGIN), asked_of(analysis, answer), Words()).decode()
    assert "<script>alert" not in page
    assert "&lt;script&gt;alert(1)" in page
    assert "default-src 'none'" in page
    for outside in ("http://", "https://", "src=", "@import", "url("):
        assert outside not in page.replace("http://www.w3.org/2000/svg", ""), outside


def test_the_verbs_end_to_end(asked: Asked, tmp_path: Path) -> None:
    from recommender.cli.advise.documents import letter as letter_verb
    from recommender.cli.advise.documents import read_answer

    case, page = str(Path(demo_library()) / f"{CASE}.yaml"), tmp_path / "answer.html"
    made = CliRunner().invoke(letter_verb, [case, "--form", "-o", str(page), "--library", "demo"])
    assert made.exit_code == 0, made.output
    assert asked.code in page.read_text(encoding="utf-8")
    back, out = tmp_path / "back.json", tmp_path / "out.yaml"
    back.write_text(json.dumps(answered(asked)), encoding="utf-8")
    read = CliRunner().invoke(read_answer, [str(back), case, "--library", "demo", "-o", str(out)])
    assert read.exit_code == 0, read.output
    assert "which is this one" in read.output
    assert signature.signed_code(read_case(out)) == asked.code
    wrong = CliRunner().invoke(read_answer, [str(page), case, "--library", "demo", "-o", str(out)])
    assert wrong.exit_code == 1
    assert "it is the page itself" in wrong.stderr


@pytest.mark.parametrize(
    ("words", "recorded_as", "left"),
    [("Nickel, cobalt", ["nickel", "cobalt"], ""), ("nickel und Latex", ["nickel", "other"], "nickel und Latex"),
     ("", ["other"], "")],
)  # fmt: skip
def test_which_allergy_goes_into_the_case_and_what_no_field_holds_into_the_note(
    asked: Asked, words: str, recorded_as: list[str], left: str
) -> None:
    point = Point("patient.allergy", "question", "", (Said("Any allergy?"),), ("none", "some"), ("patient.allergy",))
    case = asked.proposal.case
    assert case.patient is not None
    case = case.model_copy(update={"patient": case.patient.model_copy(update={"allergy": None})})
    found, paths, rest = taken(case, point, words)
    assert found.patient is not None
    assert found.patient.allergy == recorded_as
    assert paths == ("patient.allergy",)
    assert rest == left
    if left:
        note = noted(found, point, left).prescription
        assert note is not None
        assert note.note is not None
        assert note.note.endswith(f"Asked: Any allergy? The dentist wrote: {left}")


def test_words_beside_a_yes_of_several_teeth_stand_in_the_note_with_their_question(asked: Asked) -> None:
    point = next(one for one in asked.questions if one.key.endswith("disease") and len(one.fields) > 1)
    answer = answered(asked, **{point.key: "some"})
    next(one for one in answer["points"] if one["key"] == point.key)["words"] = "caries on the canine"
    found = given_back(asked, answer)
    assert not found.signed
    assert found.case.prescription is not None
    assert "caries on the canine" in (found.case.prescription.note or "")
    assert "Now in the note" in said(found)


def test_the_answer_as_json(asked: Asked, tmp_path: Path) -> None:
    from recommender.cli.advise.documents import read_answer

    case, back = str(Path(demo_library()) / f"{CASE}.yaml"), tmp_path / "back.json"
    back.write_text(json.dumps(answered(asked)), encoding="utf-8")
    read = CliRunner().invoke(read_answer, [str(back), case, "--library", "demo", "--json"])
    assert read.exit_code == 0, read.output
    (line,) = read.stdout.splitlines()
    document = json.loads(line)
    assert document["signed"] is True
    assert document["with_answer"]["dentist_answer"][-1]["item"] == f"design:{asked.code}"
    assert len(document["lines"]) == len(document["lines_statements"]) > len(document["points"])
