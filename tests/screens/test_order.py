"""Reading an order on the intake page: proposals, questions, taking over, undo."""

import pytest

from recommender.domain.reader import read_value
from recommender.orders.read import read_order
from recommender.orders.taking_over import stands_in, with_proposals
from recommender.screens.session import drafts
from tests.screens.conftest import open_page, words_on

ORDER = "upper RPD, missing 1-4, 14; I-bar #5, circumferential 12 & 15, horseshoe; no clasp on 11; wants little metal"


def _case(**more):
    return {"format": 1, "id": "c-1", "arch": "maxilla", "missing": [], **more}


def read(at, text):
    at.text_area(key="order.text").set_value(text).run()
    return at


def test_taking_over_adds_teeth_and_leaves_what_was_there():
    (one,) = read_order("Upper: missing 15, 16. 14 I-bar. No clasp on 23. 18 not replaced. Bruxism")
    before = _case(missing=[24], absent=[16, 28], prescription={"note": "call me"})
    after = with_proposals(before, one.proposals, "as light as can be")
    assert before["missing"] == [24]
    assert after["missing"] == [16, 15, 24]
    assert after["absent"] == [18, 28]
    assert after["prescription"] == {
        "note": "call me; as light as can be", "retainers": {14: "i_bar"}, "not": {"retainers": {23: ["any"]}},
    }  # fmt: skip
    assert all(stands_in(after, proposal) for proposal in one.proposals)
    assert not any(stands_in(_case(), proposal) for proposal in one.proposals)
    assert with_proposals(after, one.proposals, "as light as can be") == after
    read_value(after, "c-1")


def test_nothing_is_taken_over_by_reading():
    at = read(open_page("case"), ORDER)
    assert not at.exception
    assert "upper right first premolar: I-bar clasp" in words_on(at)
    assert "universal" in words_on(at)
    assert drafts.kept() == []


def test_a_case_begun_from_an_order_holds_what_stood_on_the_page_and_undo_takes_it_back():
    at = read(open_page("case"), ORDER)
    at.button(key="order.begin.maxilla").click().run()
    assert not at.exception
    ((name, _, _),) = drafts.kept()
    case = drafts.load(name).case
    assert set(case.missing) == {18, 17, 16, 15, 26}
    assert case.prescription.retainers == {14: "i_bar", 24: "circumferential", 27: "circumferential"}
    assert case.prescription.connector == "u_shaped"
    assert case.prescription.ruled_out.retainers == {23: ["any"]}
    assert case.prescription.note == "wants little metal"
    at.button(key="order.undo").click().run()
    assert drafts.load(name).case.missing == []


def test_one_line_at_a_time():
    at = open_page("case", case="harbour-0001")
    arch = drafts.load("harbour-0001")
    assert arch is None
    at = read(at, "Lower. Lingual plate. No clasp on 33. Bruxism.")
    buttons = [b for b in at.button if b.key and b.key.startswith("order.take.")]
    assert len(buttons) == 3
    buttons[0].click().run()
    taken = [b.disabled for b in at.button if b.key and b.key.startswith("order.take.")]
    assert taken.count(True) == 1
    assert not at.exception


def test_the_first_line_taken_over_begins_the_case():
    at = read(open_page("case"), ORDER)
    at.button(key="order.take.2").click().run()
    ((name, _, _),) = drafts.kept()
    case = drafts.load(name).case
    assert case.prescription.retainers == {14: "i_bar"}
    assert case.missing == []


def test_what_is_to_be_looked_at_twice_is_not_taken_with_the_rest():
    at = read(open_page("case"), "uper: mising 25, 26; 24 I-bar")
    at.button(key="order.begin.maxilla").click().run()
    ((name, _, _),) = drafts.kept()
    case = drafts.load(name).case
    assert case.missing == []
    assert case.prescription.retainers == {24: "i_bar"}
    at.button(key="order.take.1").click().run()
    assert drafts.load(name).case.missing == [25, 26]


def test_an_open_numbering_is_asked_and_settled_by_the_person():
    at = read(open_page("case"), "missing 12, 13, 14")
    assert any("Which numbering is it?" in one.value for one in at.warning)
    at.segmented_control(key="order.system").set_value("iso").run()
    assert not at.warning
    assert "12 upper right lateral incisor" in words_on(at)


@pytest.mark.parametrize(
    "text", ["<script>alert(1)</script> missing 14", "OK, 14 fehlt [x](http://a.b) $x$ :red[y]"]
)
def test_an_order_is_shown_as_it_was_typed(text):
    at = read(open_page("case"), text)
    assert not at.exception
    assert "<script>" not in "".join(
        one.value for one in at.get("html") if "casebook-order" in str(one.value)
    )
