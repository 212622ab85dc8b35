"""Teeth lost, taken back and stood over by the denture, and what is said of spaces, in the ways that people say it."""

import pytest

from recommender.orders.read import read_order


def _one(text: str) -> dict[str, object]:
    (order,) = read_order(text)
    return order.case


def _asks(text: str) -> str:
    return "; ".join(question.why for order in read_order(text) for question in order.ask)


@pytest.mark.parametrize(
    ("text", "missing"),
    [
        ("Lower, replace up. Left: all back teeth from 35 including the wisdom tooth are missing.", {35, 36, 37, 38}),
        ("UK: rechts alle Seitenzähne ab 45 weg.", {45, 46, 47}),
        ("Inferior: faltan todas las muelas desde la 45 hasta la del juicio.", {45, 46, 47, 48}),
        ("Bas : selles libres des deux côtés derrière les 5.", {36, 37, 46, 47}),
        ("Restbezahnung UK: 33 bis 43. Freiend beidseits bis zu den 6ern ersetzen.", {34, 35, 36, 44, 45, 46}),
        ("UK: Lücke 1 von 34 bis 37, also 35 und 36. Akers 34, 37.", {35, 36}),
        ("UK: fehlen 45 und 46, Verzeihung, 46 und 47; 45 steht noch. RPI 45.", {46, 47}),
        ("Superior: faltan 14 y 15... perdón, quise decir 24 y 25.", {24, 25}),
        ("Lower: 45 and 46 missing, sorry: 46 and 47.", {46, 47}),
        ("Superior. Faltan el segundo premolar y el primer molar del lado derecho.", {15, 16}),
        ("UK. Ersetzt werden 35 und 45, die Weisheitszähne sind weg und brauchen keinen Ersatz.", {35, 45}),
    ],
)
def test_missing(text: str, missing: set[int]) -> None:
    assert set(_one(text)["missing"]) == missing  # type: ignore[call-overload]


@pytest.mark.parametrize(
    "text",
    [
        "UK, Implantate Regio 34 und Regio 44 mit Kugelankern. Ersetzt werden 34 bis 37 und 44 bis 47.",
        "Lower. Implant at 34 and implant at 44, each with a stud. Missing 34 to 37 and 44 to 47.",
        "Inferior: un implante en 34 y otro en 44, con bola. Faltan 34 a 37 y 44 a 47.",
        "Lower. Missing 35, 36, 37, 45, 46, 47. Implants at 34 and 44. Studs on both implants.",
    ],
)
def test_implants_with_studs_lie_under_teeth(text: str) -> None:
    case = _one(text)
    assert {one["tooth"]: one["kind"] for one in case["abutments"]} == {34: "implant", 44: "implant"}  # type: ignore[attr-defined]
    assert case["prescription"]["retainers"] == {34: "stud", 44: "stud"}  # type: ignore[index]
    assert set(case["missing"]) == {34, 35, 36, 37, 44, 45, 46, 47}  # type: ignore[call-overload]


@pytest.mark.parametrize(
    "text",
    [
        "UK: fehlend 35, 36 und 45, 46. Links 6 mm Platz, Kamm fest; rechts 4 mm Platz, Kamm messerscharf.",
        "Lower. Gap: 35, 36; ridge firm, 6 mm clearance. Gap: 45, 46; knife-edge ridge, 4 mm clearance.",
        "Inferior. Brechas: 35 y 36; 45 y 46. Espacio en la brecha izquierda 6 mm, en la derecha 4 mm. "
        "Reborde en filo de cuchillo a la derecha (45 y 46), a la izquierda (35 y 36) firme.",
    ],
)
def test_each_space_has_its_own(text: str) -> None:
    case = _one(text)
    spans = {min(one["teeth"]): one for one in case["spans"]}  # type: ignore[attr-defined]
    assert {tooth: (one["clearance_mm"], one["ridge"]) for tooth, one in spans.items()} == {
        35: (6.0, "firm"),
        45: (4.0, "knife_edge"),
    }
    assert not _asks(text)


def test_what_is_said_after_all_spaces_is_said_of_all() -> None:
    case = _one("Lower. Missing 35, 36 and 45, 46. Ridge firm.")
    assert [one["ridge"] for one in case["spans"]] == ["firm", "firm"]  # type: ignore[attr-defined]


def test_depth_of_the_floor_is_no_clearance() -> None:
    case = _one("Mandibule. Manquent 36 et 37. Barre linguale, 9 mm de hauteur jusqu'au plancher.")
    assert case["floor"] == {"depth_mm": 9.0}
    assert "spans" not in case


def test_replaced_and_standing_is_asked() -> None:
    assert "which is it" in _asks("Lower. Replace 35, 36, 46. Akers 37, 45, 47. 35 is still in the mouth.")
    assert not _asks("Lower. Replace 36, 46. Akers 37, 45, 47. 35 is still in the mouth.")


def test_the_numbering_from_all_evidence() -> None:
    (order,) = read_order("Unilateral partial, replace 25 and 26, Akers 24 and 27.")
    assert (order.arch, order.numbering) == ("maxilla", "iso")
    (order,) = read_order("Upper partial. Teeth numbered 1-32: missing 3 and 14. Akers 2.")
    assert order.numbering == "universal"
    assert set(order.case["missing"]) == {16, 26}
    (order,) = read_order("Kiefer: unten. Zu ersetzen 35, 36. Platz oben bei 35: 5 mm.")
    assert order.arch == "mandible"
    assert not order.ask
