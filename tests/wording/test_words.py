"""Statements in words: teeth, numbers, choices by number, optional parts, languages."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from recommender.domain.decision import Decision
from recommender.domain.dentition import ARCH_ORDER
from recommender.domain.numbering import to_universal
from recommender.domain.statement import (
    Choice,
    Field,
    Quantity,
    Said,
    Work,
    count,
    quantity,
    say,
    several,
    statement_document,
    teeth,
    tooth,
)
from recommender.wording.templates import DEFAULT, WordingError, language, languages, template
from recommender.wording.values import value
from recommender.wording.words import Words
from tests.wording.gather import MARK, teeth_read, unmarked

TEETH = st.sampled_from([*ARCH_ORDER["maxilla"], *ARCH_ORDER["mandible"]])


def said(text: str, numbering: str = "iso", **args: object) -> str:
    """A template tried on literal arguments."""
    return Words(numbering)._filled(template(text), args, "trial")  # type: ignore[arg-type]


def test_a_tooth_is_named_in_the_readers_numbering() -> None:
    statement = say("said_of_teeth", teeth=teeth([13, 23]), what=say("rule", why=Said("No room.")))
    assert Words().text(statement) == "13, 23: No room."
    # ADA universal designation: upper right canine 6, upper left canine 11
    assert Words("universal").text(statement) == "6, 11: No room."


@given(st.lists(TEETH, min_size=1, max_size=6, unique=True), TEETH, TEETH)
def test_every_tooth_of_a_statement_is_named_and_no_other(listed: list[int], worked: int, decided: int) -> None:
    statement = say(
        "frameworks.chosen_against_advice",
        decision=Decision("retainer", decided),
        option=Choice("retainer", "i_bar"),
        why=several(
            [
                say("review.work", work=Work(worked, "distal", "guiding_plane")),
                say("said_of_teeth", teeth=teeth(listed), what=say("rule", why=Said("No."))),
            ]
        ),
    )
    assert statement.teeth == {*listed, worked, decided}
    for numbering in ("iso", "universal"):
        marked = Words(numbering, mark=MARK).text(statement)
        assert teeth_read(marked, numbering) == statement.teeth
        assert unmarked(marked) == Words(numbering).text(statement)


def test_words_follow_the_number() -> None:
    text = "{teeth} {teeth:holds|hold}"
    assert said(text, teeth=tooth(14)) == "14 holds"
    assert said(text, teeth=teeth([14, 15])) == "14, 15 hold"
    assert said("{n} {n:visit|visits}", n=count(1)) == "1 visit"


def test_what_was_not_given_is_left_out() -> None:
    text = "{what}[[ on {site}]]"
    assert said(text, what=Said("worn"), site=tooth(24)) == "worn on 24"
    assert said(text, what=Said("worn")) == "worn"
    with pytest.raises(KeyError, match="what"):
        said(text, site=tooth(24))


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (Quantity(3.0, 33.2, "N", 0), "3 to 33 N"),
        (Quantity(None, 0.4, "mm", 1), "at most 0.4 mm"),
        (Quantity(2.0, None, "", 0), "at least 2"),
        (Quantity(None, None, "mm"), "not known"),
        (quantity(-0.04, "mm"), "0.0 mm"),
        (quantity(0.125, "share"), "12%"),
        (quantity(1, "months", 0), "1 month"),
        (quantity(14, "months", 0), "14 months"),
    ],
)
def test_a_band_is_said_as_a_band(value: Quantity, text: str) -> None:
    assert said("{value}", value=value) == text


@pytest.mark.parametrize(
    ("label", "text"),
    [("I-bar clasp", "an I-bar clasp"), ("ring clasp", "a ring clasp"), ("U-shaped palatal connector", "a U-shaped")],
)
def test_the_article(label: str, text: str) -> None:
    assert said("{x:a}", x=Said(label)).startswith(text)


def test_a_field_names_its_tooth() -> None:
    field = Field("abutments[14].undercuts_mm.distofacial")
    assert Words("universal").said(field) == f"tooth {to_universal(14)}, undercut, distofacial"


def test_json_keeps_iso_numbers() -> None:
    statement = say("said_of_teeth", teeth=tooth(14), what=say("rule", rule="r", why=Said("No.")))
    assert statement_document(statement) == {
        "code": "said_of_teeth",
        "args": {"teeth": ["14"], "what": {"code": "rule", "args": {"why": "No."}}},
    }


def test_a_template_that_cannot_be_read_is_named() -> None:
    with pytest.raises(WordingError, match=r"en.yaml: x"):
        template("{a b}", "en.yaml: x")
    with pytest.raises(WordingError, match="not there"):
        language("xx")


@pytest.mark.parametrize("name", [name for name in languages() if name != DEFAULT])
def test_another_language_says_what_english_says(name: str) -> None:
    """No code, argument or term of its own, so that nothing is said there that English does not say."""
    own, english = language(name), language(DEFAULT)
    codes = {code for code in own.templates if not code.startswith("rule.")}
    assert codes <= set(english.templates)
    assert len(codes) >= 40
    for code in codes:
        assert own.templates[code].names <= english.templates[code].names, code
        assert own.templates[code].needed >= english.templates[code].needed - {"points"}, code


def test_what_a_language_lacks_is_said_in_english() -> None:
    german = Words(language="de")
    assert german.text(say("kennedy.only_number_counts")).startswith("Nur die Zahl")
    lacking = say("infeasible.no_carrier")
    assert "infeasible.no_carrier" not in language("de").templates
    assert german.text(lacking) == Words().text(lacking)
    assert german.said(quantity(0.25, "mm", 2)) == "0,25 mm"


@pytest.mark.parametrize(
    ("found", "unit", "said"),
    [
        (0.25, "mm", "0.25 mm"),
        (7.0, "mm", "7 mm"),
        ((0.2, 0.45), "mm", "0.20 to 0.45 mm"),
        (3.0, "teeth", "3"),  # the label counts teeth already
        (True, "", "yes"),
        (None, "mm", "not recorded"),
        ([], "", "none"),
        (frozenset({"rest_seat", "crown"}), "", "crown, rest seat"),
    ],
)
def test_a_value_is_said_with_its_unit(found: object, unit: str, said: str) -> None:
    assert value(Words(), found, unit) == said
