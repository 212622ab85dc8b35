"""Lists parted by headed cells, arrows and spaces; what stands in for words; refusals in a part of their own."""

import pytest

from tests.orders.scoring import clear_case


def test_a_cell_with_a_heading_is_no_tooth_of_the_list_before() -> None:
    prescription = clear_case("PAP haut / manquent 24 25 26 / Akers 27 / 23 : pas de crochet")["prescription"]
    assert prescription["retainers"] == {27: "circumferential"}
    assert prescription["not"]["retainers"] == {23: ["any"]}


def test_an_arrow_parts_what_is_replaced_from_what_holds_it() -> None:
    case = clear_case("Inf.: 35 36 → gancho Akers 34 y 37; barra lingual")
    assert case["missing"] == [35, 36]
    assert case["prescription"]["retainers"] == {34: "circumferential", 37: "circumferential"}


@pytest.mark.parametrize("word", ["Espacio", "Tramo", "Hueco"])
def test_a_space_is_told_by_teeth_apart(word: str) -> None:
    assert clear_case(f"{word} entre el 13 y el 16; por la izquierda, entre el 23 y el 27.")["missing"] == [
        15,
        14,
        24,
        25,
        26,
    ]


def test_third_molars_that_are_not_replaced_lie_in_the_arch_of_the_order() -> None:
    case = clear_case("Lower. 34 to 37 and 44 to 47 are to be replaced; third molars not.")
    assert case["absent"] == [48, 38]


def test_an_attachment_behind_a_tooth_and_its_crown_are_of_that_tooth() -> None:
    case = clear_case("Haut, il manque 15, 16. Attachement en distal de 14, couronnée en céramo-métal.")
    assert case["missing"] == [16, 15]
    assert case["prescription"]["retainers"] == {14: "attachment"}


def test_a_denial_ends_where_a_conclusion_begins() -> None:
    text = "Lower, replace 35, 36. No metal in the framework so please mill it from PEEK."
    assert clear_case(text)["prescription"]["alloy"] == "peek"


def test_a_part_that_only_refuses_denies_what_was_named_before() -> None:
    prescription = clear_case("Oberkiefer, 15 16 fehlen. Eine volle Gaumenplatte; die lehne ich ab.")["prescription"]
    assert prescription["not"]["connector"] == ["complete_plate"]


def test_either_means_the_teeth_of_both_sides() -> None:
    text = "Upper: the 2 laterals to replace. No clasps on either 3. Cingulum rests on both 3s."
    assert clear_case(text)["prescription"]["not"]["retainers"] == {13: ["any"], 23: ["any"]}


def test_denture_teeth_with_nothing_but_numbers_tell_which_are_carried() -> None:
    case = clear_case("Untere Prothese. Prothesenzähne 34 35 36. 33 Akers.")
    assert case["missing"] == [34, 35, 36]
    assert "replacements" not in case["prescription"]
