"""Spaces with their own figures: which teeth they are, and what is said of each."""

import pytest

from recommender.orders.read import read_order

Said = dict[int, dict[str, object]]


def _spaces(text: str) -> tuple[set[int], Said, list[str]]:
    """The missing teeth, what is said of each space by its tooth with the lowest number, and what is asked."""
    (order,) = read_order(text)
    said = {
        min(one["teeth"]): {key: value for key, value in one.items() if key != "teeth"}
        for one in order.case.get("spans", [])
    }
    return set(order.case.get("missing", ())), said, [question.why for question in order.ask]


@pytest.mark.parametrize(
    ("text", "missing", "said"),
    [
        (
            "Upper framework. Gap one 14-16: clearance 6 mm, ridge firm. Gap two 25: 5 mm. Akers 17, 13, 24 and 26.",
            {14, 15, 16, 25},
            {14: {"clearance_mm": 6, "ridge": "firm"}, 25: {"clearance_mm": 5}},
        ),
        (
            "Maxillaire, deux édentements :\n- 15 et 16 : hauteur prothétique 5 mm, crête ferme\n"
            "- 24, 25 : hauteur 7 mm, crête flottante\nAkers sur 17, 14, 23 et 26.",
            {15, 16, 24, 25},
            {15: {"clearance_mm": 5, "ridge": "firm"}, 24: {"clearance_mm": 7, "ridge": "displaceable"}},
        ),
        (
            "Inferior. Brecha derecha (45, 46): espacio 6 mm, reborde firme.\n"
            "Brecha izquierda (36): espacio 5 mm. Akers 44, 47, 35 y 37.",
            {36, 45, 46},
            {45: {"clearance_mm": 6, "ridge": "firm"}, 36: {"clearance_mm": 5}},
        ),
        (
            "Oberkiefer. Lücken:\n14, 15: Höhe 5 mm, Kamm schlotternd\n26: Höhe 3,5 mm, Kamm fest\n"
            "E-Klammer 13, 16, 25, 27.",
            {14, 15, 26},
            {14: {"clearance_mm": 5, "ridge": "displaceable"}, 26: {"clearance_mm": 3.5, "ridge": "firm"}},
        ),
        (
            "Lower. Gap no. 1, lower left, runs from 34 to 37: two units, namely 35 and 36. Ridge firm, 6 mm of room.\n"
            "Gap no. 2, lower right: 45 and 46. Knife-edge ridge, 4.5 mm of room. Akers 34, 37, 44, 47.",
            {35, 36, 45, 46},
            {35: {"clearance_mm": 6, "ridge": "firm"}, 45: {"clearance_mm": 4.5, "ridge": "knife_edge"}},
        ),
        (
            "Lower. Edentulous areas: 36 (5 mm, firm), 45-46 (7 mm, flat). Akers on 35, 37, 44 and 47.",
            {36, 45, 46},
            {36: {"clearance_mm": 5, "ridge": "firm"}, 45: {"clearance_mm": 7, "ridge": "flat"}},
        ),
        (
            "Lower. In the span 35-36 there are 5 millimetres of clearance, in the span 45-46 seven millimetres. "
            "Akers 34, 37, 44, 47.",
            {35, 36, 45, 46},
            {35: {"clearance_mm": 5}, 45: {"clearance_mm": 7}},
        ),
        (
            "Lower, replace LL5 LL6, LR6 LR7. Akers LL4, LL7, LR5.\nBite is tight over LL5 and LL6, 4 mm only.",
            {35, 36, 46, 47},
            {35: {"clearance_mm": 4}},
        ),
        (
            "Lower, replace 34-37 and 44-47. RPI 33 and 43. Knife-edge ridge on the right, on the left firm.",
            {34, 35, 36, 37, 44, 45, 46, 47},
            {44: {"ridge": "knife_edge"}, 34: {"ridge": "firm"}},
        ),
    ],
)  # fmt: skip
def test_figures_belong_to_their_space(text: str, missing: set[int], said: Said) -> None:
    assert _spaces(text) == (missing, said, [])


@pytest.mark.parametrize(
    "text",
    [
        "Upper. Missing 14 and 15. Akers 13, 16 and 27. 27: clearance 3 mm.",
        "Oberkiefer. Es fehlen 14, 15. Der 27 steht. 27: Höhe 3 mm. Akers 13, 16.",
    ],
)
def test_a_standing_tooth_with_a_height_is_no_space(text: str) -> None:
    missing, _, asked = _spaces(text)
    assert missing == {14, 15}
    assert asked == ["of which space?"]


def test_teeth_of_a_described_space_are_marked() -> None:
    (order,) = read_order("Lower.\n- 35 and 36: clearance 5 mm\n- 46: clearance 6 mm\nAkers 34, 37, 45, 47.")
    marks = [one.marked for one in order.proposals if one.path == "missing"]
    assert marks
    assert all(marks)
