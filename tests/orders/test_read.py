"""The order reader on orders written in many hands: what it finds, what it takes over, what it asks."""

from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from recommender.domain.reader import read_value
from recommender.orders.model import said, tooth_in_words
from recommender.orders.read import MOST_LETTERS, OrderTooLongError, read_order
from recommender.wording.words import Words
from tests.orders.scoring import HERE, Score, fields, orders, score_of

FILES = sorted(path.name for path in HERE.glob("orders_*.yaml"))
ALL = [order for name in FILES for order in orders(name)]
_PIECES = [
    "missing", "14", "15", "#3", "1-4", "upper", "lower", "I-bar", "no", "clasp", "on", ",", ";", ".", "\n",
    ":", "(", ")", "fehlen", "OK", "Akers", "sur", "faltan", "sin", "rest", "m", "UR", "456", "and", "or",
    "?", "to", "distal to", "lingual bar", "horseshoe", "72F", "0.25", "mm", "undercut", "MB", "mobility",
    "2", "allergic to", "nickel", "except", "x", "ß", "⏌", "24",
]  # fmt: skip


@cache
def _total() -> Score:
    return score_of(*FILES)


def test_there_are_enough_orders_in_four_languages() -> None:
    assert len(ALL) >= 150
    assert len(FILES) >= 4


# The total is worked out once, so both look at it in one process.
@pytest.mark.xdist_group("all orders")
def test_fields_are_found_and_none_is_taken_over_wrongly() -> None:
    total = _total()
    assert total.right >= 0.95 * total.stated, "\n".join(total.faults)
    assert total.wrong == 0, "\n".join(total.faults)


@pytest.mark.xdist_group("all orders")
def test_it_asks_where_it_must_and_seldom_else() -> None:
    total = _total()
    assert total.asked == total.to_ask, "\n".join(total.faults)
    assert total.asked_of_clear <= 0.15 * total.clear


def test_orders_kept_out_of_the_mending() -> None:
    """What a stranger's order may expect."""
    total = score_of("unseen.yaml")
    assert total.clear >= 100
    assert total.right >= 0.95 * total.stated
    assert total.wrong == 0
    assert total.asked_of_clear <= 0.15 * total.clear
    assert total.asked == total.to_ask


def test_everyday_constructions_are_read_whole() -> None:
    total = score_of("everyday.yaml")
    assert total.clear >= 40
    assert not total.faults, "\n".join(total.faults)


@pytest.mark.parametrize("order", ALL[::9], ids=lambda order: str(order["text"])[:40])
def test_what_it_proposes_is_a_case(order: dict[str, object]) -> None:
    for one in read_order(str(order["text"])):
        if one.arch is not None:
            case = {"format": 1, "id": "order", "missing": [], **one.case}
            gone = set(one.case.get("planned_extractions", ()))
            if not gone - {
                *one.case.get("missing", ()),
                *one.case.get("absent", ()),
            }:  # else it asks what of them
                read_value(case, "order")


@pytest.mark.parametrize("order", ALL[::7], ids=lambda order: str(order["text"])[:40])
def test_every_proposal_names_its_words_and_every_field_its_proposal(order: dict[str, object]) -> None:
    text = str(order["text"])
    for one in read_order(text):
        for piece in (*(p.words for p in one.proposals), *(q.words for q in one.ask), *one.unread):
            assert text[piece.start : piece.end].startswith(piece.text[:60])
        named = {p.path.replace("[", ".").replace("]", "") for p in one.proposals}
        assert {path.split(".")[0] for path in fields(one.case)} <= {path.split(".")[0] for path in named}
        assert all(Words(name).text(said(p)) for p in one.proposals for name in ("iso", "universal"))


def test_the_same_order_in_either_numbering_says_the_same() -> None:
    iso = read_order("Upper. Missing 14, 15, 26. Akers 13, 27. No clasp on 23.", "iso")
    universal = read_order("Upper. Missing 5, 4, 14. Akers 6, 15. No clasp on 11.", "universal")
    assert iso[0].case == universal[0].case
    assert (iso[0].numbering, universal[0].numbering) == ("iso", "universal")


def test_an_open_numbering_takes_no_number_over_and_says_both_readings() -> None:
    (one,) = read_order("missing 12, 13, 14")
    assert one.numbering == "ambiguous"
    assert one.arch is None
    assert "missing" not in one.case
    assert "upper right lateral incisor" in one.ask[0].why
    assert "upper left first premolar" in one.ask[0].why
    assert read_order("missing 12, 13, 14", "iso")[0].case["missing"] == [14, 13, 12]


@pytest.mark.parametrize(
    ("tooth", "words"),
    # ISO 3950:2016: first digit the quadrant from the upper right clockwise, second digit the place from the midline
    [(11, "upper right central incisor"), (24, "upper left first premolar"), (33, "lower left canine"),
     (38, "lower left third molar"), (46, "lower right first molar"), (42, "lower right lateral incisor")],
)  # fmt: skip
def test_teeth_are_said_in_words(tooth: int, words: str) -> None:
    assert tooth_in_words(tooth) == words


def test_misspelt_words_are_marked_and_unknown_ones_stay_in_the_note() -> None:
    (one,) = read_order("uper: mising 15 16, circumfrential 14, 17; patient likes gardening")
    assert one.case["missing"] == [16, 15]
    assert all(p.marked for p in one.proposals if p.path.startswith(("missing", "prescription.retainers")))
    assert "gardening" in one.case["prescription"]["note"]


def test_what_may_name_a_person_is_kept_out_of_the_note() -> None:
    (one,) = read_order(
        "Patient: Jane Exemplar, DOB 12.03.1951. Lower, missing 36, 37, please call Mr. Sample."
    )
    assert "Exemplar" not in one.case.get("prescription", {}).get("note", "")
    assert "Sample" not in one.case.get("prescription", {}).get("note", "")
    assert any("Exemplar" in words.text for words in one.withheld)


def test_prohibitions_are_kept_as_such() -> None:
    (one,) = read_order("OK, 14 fehlt, keine Klammer auf 23, kein Hufeisen, 15 Akers")
    assert one.ruled_out == {"retainers": {23: ["any"]}, "connector": ["u_shaped"]}
    assert "connector" not in one.case["prescription"]


def test_an_order_that_is_too_long_is_refused() -> None:
    with pytest.raises(OrderTooLongError):
        read_order("x" * (MOST_LETTERS + 1))
    assert read_order("  \n ") == []


@settings(max_examples=150, deadline=None)
@given(st.lists(st.sampled_from(_PIECES), max_size=25).map(" ".join))
def test_no_order_breaks_the_reader(text: str) -> None:
    first, again = read_order(text), read_order(text)
    assert [one.document() for one in first] == [one.document() for one in again]
    for one in first:
        for proposal in one.proposals:
            assert proposal.words.text
            assert Words().text(said(proposal))


@settings(max_examples=100, deadline=None)
@given(st.text(max_size=120))
def test_any_text_is_read_without_an_error(text: str) -> None:
    for one in read_order(text):
        assert one.document()["numbering"] in ("iso", "universal", "ambiguous")


@pytest.mark.parametrize(
    "text",
    [
        "Upper, UR5 UR6 missing, strap. She does not want clasps on UR4.",
        "OK 15, 16 fehlen, Transversalband. Ich möchte keine Klammer auf 14.",
        "Haut. Manquent 15, 16, bande palatine. Je ne veux aucun crochet sur 14.",
        "Superior. Faltan 15, 16, banda palatina. No quiero gancho en el 14.",
    ],
)
def test_a_wish_that_names_a_tooth_is_a_prohibition(text: str) -> None:
    """And not only a wish that no metal shows."""
    (upper,) = read_order(text)
    assert upper.case["prescription"]["not"] == {"retainers": {14: ["any"]}}


def test_whom_a_letter_greets_is_no_patient() -> None:
    (upper,) = read_order("Bonjour Madame, Monsieur. Haut. Manquent 15, 16. Crochet coulé sur 14, bande palatine.")
    assert "patient" not in upper.case
