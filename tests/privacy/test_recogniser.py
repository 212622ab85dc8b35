"""What could identify a patient is found in thirteen languages, and notes of the trade are left alone.

The identifiers are those of 45 CFR 164.514(b)(2) (the safe-harbour list: names, places below a state, dates but the
year, ages over 89, telephone and record numbers, mail; from memory). The notes are written by hand; all people are
invented, and telephone numbers are of ranges kept free for fiction where a country has them.
"""

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from recommender.privacy.gate import look_at_name
from recommender.privacy.recogniser import look
from tests.privacy.corpora import LANGUAGES, SETS, notes, wrong


@pytest.mark.parametrize("part", SETS)
def test_at_least_95_of_100_are_found_and_at_most_5_of_100_alarm(part: str) -> None:
    number, bad, shown = wrong(part)
    for identifies in (True, False):
        assert {language for language, kind in number if kind is identifies} == set(LANGUAGES)
        total = sum(count for (_, kind), count in number.items() if kind is identifies)
        failed = sum(count for (_, kind), count in bad.items() if kind is identifies)
        assert total >= 59
        assert failed <= 0.05 * total, "\n".join(shown)


def test_no_note_stands_in_two_sets() -> None:
    every = [text for part in SETS for _, _, text in notes(part)]
    assert len(every) > 1_400
    assert len(set(every)) == len(every), [text for text in every if every.count(text) > 1]


KINDS = {
    "MRS MILLER": "name", "Herrn Müller": "name", "王小明": "name", "Feb 3, 2021": "date", "03/02/51": "date",
    "geboren 1950": "date", "aged 93": "age", "tel. 0161 496 0735": "telephone", "a.b@example.org": "e_mail",
    "MRN 00482917": "record", "lives at 12 Orchard Lane": "address", "see 4829137756": "number",
    "3/4/1951": "date", "12 maja 1950": "date", "昭和26年2月3日": "date", "+44 20 7946 0018": "telephone",
    "ada (at) example.org": "e_mail", "078-05-1120": "record", "ada.quill at example.org": "e_mail",
    "Петров И. И.": "name", "г-н Сухоруков": "name", "السيد منصور": "name",
}  # fmt: skip


@pytest.mark.parametrize(("text", "kind"), KINDS.items())
def test_the_kind_is_told(text: str, kind: str) -> None:
    assert [one.kind for one in look(text)] == [kind]


PLAIN = [
    "job 1234567", "Auftrag 7741902", "12/11/21 to be replaced", "teeth 14/15/16", "Kennedy Class II, Applegate rule 5",
    "Bennett angle 15 degrees, curve of Spee, curve of Wilson", "Akers clasp on 47", "Miller mobility 1",
    "0.25 0.5 0.75 mm",
    "Tannous F, Steiner M, Shahin R, Kern M. Retentive forces of thermoplastic clasps. Dent Mater 2012;28:273-278",
    "Abrams SH. Hiding denture clasps: a cosmetic dilemma. Oral Health",
    "14 15 16 17 24 25 26 27 missing", "1400 MPa, 206 GPa, gauge 18", "Mark the survey line; may need 14 to be lowered",
    "altered cast, 2nd try-in after 3 weeks, 15-16-17 set", "Lattice 0.8 mm relief. Strap 8 x 0.6 mm. I-bar to 13",
    "Carr AB, Brown DT. McCracken's Removable Partial Prosthodontics, 13th ed. 2016, pp. 45-67", "90 degrees, 95 %",
    "Class III mod 2, 36-46, see rule circ_far_undercut", "patient asks for less metal; dentist agrees",
    "Co-Cr 60-65 %", "Long Span, Thin Floor", "Lot 2231-8842-01, ring 6", "Crochet de Nally-Martinet sur 35",
]  # fmt: skip


@pytest.mark.parametrize("text", PLAIN)
def test_bench_talk_is_left_alone(text: str) -> None:
    assert look(text) == ()


@pytest.mark.parametrize(
    "text",
    [
        "Mrs Miller called, then on 3.2.2021 again",
        "  Herrn Müller ",
        "請 王小明先生 3月5日",
        "İrem Hanım ölçü",
    ],
)
def test_the_words_stand_where_they_are_said_to(text: str) -> None:
    found = look(text)
    assert found
    ends = [0]
    for one in found:
        assert text[one.start : one.end].strip() == one.words
        assert one.start >= ends[-1]
        ends.append(one.end)


def test_the_figures_on_the_projects_own_words() -> None:
    """The trade's words of the lexicon, rules and options name nobody, save authors who are quoted by name."""
    import yaml

    from recommender.resources import shared
    from tests.privacy.corpora import leaves

    texts = set()
    for folder in ("lexicon", "options", "rules"):
        for path in sorted(shared(folder).glob("*.yaml")):
            texts |= set(leaves(yaml.load(path.read_text(encoding="utf-8"), yaml.CBaseLoader)))
    alarms = [text for text in texts if look(text)]
    assert len(texts) > 5_000
    assert len(alarms) <= 0.005 * len(texts), alarms


def test_an_alias_is_read_without_capitals() -> None:
    assert look_at_name("anna_schmidt")
    assert not look_at_name("red-kite")


def test_orders_written_by_another_hand_hardly_alarm() -> None:
    """The orders that the reader of orders is tested on; some of them name who sends them or tell a great age."""
    import yaml

    from tests.privacy.corpora import CORPUS, leaves

    texts = set()
    for path in sorted((CORPUS.parents[1] / "orders").glob("orders_*.yaml")):
        texts |= set(leaves(yaml.load(path.read_text(encoding="utf-8"), yaml.CBaseLoader)))
    alarms = [text for text in texts if look(text)]
    assert len(texts) > 300
    assert len(alarms) <= 0.02 * len(texts), alarms


@given(st.text(max_size=120) | st.text("0123456789 .-/()+年月日MrsPatient ,'é王小明田さん", max_size=80))
@settings(max_examples=150, deadline=None)
def test_any_text_is_looked_at(text: str) -> None:
    found = look.__wrapped__(text)
    assert found == look(text)
    assert all(0 <= one.start < one.end <= len(text) for one in found)
    assert all(first.end <= second.start for first, second in pairwise(found))
