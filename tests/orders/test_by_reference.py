"""Clasps said by reference to one named before, amended, or wished for in a question; bans over several teeth."""

import pytest

from recommender.orders.read import read_order
from tests.orders.scoring import fields


def _read(text: str) -> tuple[dict[str, object], bool]:
    orders = read_order(text)
    return {path: value for one in orders for path, value in fields(one.case).items()}, any(o.ask for o in orders)


@pytest.mark.parametrize(
    "text",
    [
        "Lower, 36 missing. Akers on 35 with a distal rest, the same on 37 but with a mesial rest.",
        "UK, es fehlt 36. Akers an 35 mit distaler Auflage, an 37 dasselbe, aber mit mesialer Auflage.",
        "Bas, 36 à remplacer. Akers sur 35 avec appui distal ; sur 37, la même chose mais avec un appui mésial.",
        "Inferior, reponer 36. En la 35, Akers con apoyo distal; en la 37, lo mismo pero con apoyo mesial.",
    ],
)
def test_the_same_with_another_rest(text: str) -> None:
    got, asks = _read(text)
    assert not asks
    assert {path: got.get(path) for path in got if path.startswith("prescription.re")} == {
        "prescription.retainers.35": "circumferential",
        "prescription.retainers.37": "circumferential",
        "prescription.rests.35": "distal",
        "prescription.rests.37": "mesial",
    }
    marked = {one.path for order in read_order(text) for one in order.proposals if one.marked}
    assert "prescription.retainers[37]" in marked


@pytest.mark.parametrize(
    "text",
    [
        "Upper, 15, 25 missing: where I had written Akers for 24, make that an I-bar instead. Akers 16.",
        "OK, 15, 25 fehlen: wo ich Akers an 24 geschrieben hatte, machen Sie daraus bitte eine I-Klammer. Akers 16.",
        "Haut, 15, 25 manquent : là où j'avais écrit Akers sur 24, mettez plutôt une barre en I. Akers 16.",
        "Superior, faltan 15, 25: donde puse Akers en 24, cámbielo por una barra en I. Akers 16.",
    ],
)
def test_a_clasp_of_an_earlier_sheet_is_amended(text: str) -> None:
    got, asks = _read(text)
    assert not asks
    assert got["prescription.retainers.24"] == "i_bar"
    assert got["prescription.retainers.16"] == "circumferential"


@pytest.mark.parametrize(
    "text",
    [
        "Could you put a Bonwill between 26 and 27? On the right 14, 15 are to be replaced, upper.",
        "Wäre es möglich, an 26/27 eine Bonwillklammer zu machen? Rechts fehlen 14, 15, zu ersetzen. OK.",
        "Est-ce que vous pourriez prévoir un Bonwill entre 26 et 27 ? À droite, il manque 14, 15, à remplacer. Haut.",
        "¿Podrían poner un gancho de Bonwill entre 26 y 27? Arriba faltan 14 y 15.",
    ],
)
def test_a_wish_put_as_a_question_is_no_doubt(text: str) -> None:
    got, asks = _read(text)
    assert not asks
    assert got["prescription.retainers.26"] == got["prescription.retainers.27"] == "embrasure"


def test_a_question_that_doubts_is_asked() -> None:
    _, asks = _read("Upper, 14, 15 missing. Akers on 17? Bonwill 26/27.")
    assert asks


@pytest.mark.parametrize(
    "text",
    [
        "Lower, 36 to replace. No clasp on 33 nor on 43, only cingulum rests. Akers 37.",
        "UK, 36 fehlt. Keine Klammern auf 33 oder 43, sondern nur Cingulumauflagen. Akers 37.",
        "Bas, 36 à remplacer. Pas de crochet sur 33 ni sur 43, seulement des appuis cingulaires. Akers 37.",
        "Inferior, reponer 36. Sin gancho en 33 ni en 43, solo apoyos cingulares. Akers en 37.",
    ],
)
def test_rests_after_a_ban_are_those_of_all_its_teeth(text: str) -> None:
    got, asks = _read(text)
    assert not asks
    for tooth in (33, 43):
        assert got[f"prescription.not.retainers.{tooth}"] == ("any",)
        assert got[f"prescription.rests.{tooth}"] == "cingulum"


def test_rests_on_both_are_those_of_the_two_teeth_named_last() -> None:
    got, _ = _read("Lower, 35, 36, 46 missing. RPA on 34; 45 wrought wire clasp; mesial rests on both.")
    assert got["prescription.rests.34"] == got["prescription.rests.45"] == "mesial"


def test_a_kind_denied_behind_another_is_ruled_out_there() -> None:
    got, _ = _read("Lower, 36 to replace. On 34 and 44 I-bars, not Akers.")
    assert got["prescription.not.retainers.34"] == got["prescription.not.retainers.44"] == ("circumferential",)


@pytest.mark.parametrize(
    "text",
    [
        "Bas, 36 à remplacer. Ni 33 ni 43 ne doivent porter de crochet.",
        "Inferior, reponer 36. Ni el 33 ni el 43 llevan gancho.",
    ],
)
def test_neither_before_its_teeth(text: str) -> None:
    got, _ = _read(text)
    assert got["prescription.not.retainers.33"] == got["prescription.not.retainers.43"] == ("any",)


def test_a_ban_in_another_part_than_its_teeth_is_marked() -> None:
    (order,) = read_order("Lower, 36 to replace. 34 distal rest, no clasp. Akers 37.")
    marked = {one.path for one in order.proposals if one.marked}
    assert "prescription.not.retainers[34]" in marked


def test_a_ban_on_a_line_of_its_own_lies_where_its_teeth_lie() -> None:
    text = "Haut : 15, 16 manquent. Akers 17.\nBas : 36, 37 manquent. RPI 35.\nPas de crochet sur 23 svp."
    upper, lower = read_order(text)
    assert not upper.ask
    assert not lower.ask
    assert {one.path for one in upper.proposals if one.marked} >= {"prescription.not.retainers[23]"}


def test_an_age_alone_in_words_is_read_without_an_error() -> None:
    assert read_order("eighty-two") is not None
