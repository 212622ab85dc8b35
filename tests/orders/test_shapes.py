"""Orders in shapes other than sentences: tables, numbered points, forms, lists tooth by tooth, words by their sound."""

import pytest

from recommender.orders.read import read_order
from tests.orders.scoring import clear_case

RETAINERS = {16: "circumferential", 23: "i_bar"}
RESTS = {16: "mesial", 23: "cingulum"}


@pytest.mark.parametrize(
    "table",
    [
        "Zahn | Klammer | Auflage\n16 | Akers | mesial\n23 | I-Klammer | Cingulum",
        "tooth;clasp;rest\n16;Akers;mesial\n23;I-bar;cingulum",
        "dent : crochet : appui\n16 : Akers : mésial\n23 : barre en I : cingulaire",
        "Nr,Diente,Gancho,Apoyo\n1,16,Akers,mesial\n2,23,barra en I,cíngulo",
        "16 | Akers, rest mesial\n23 | I-bar, rest cingulum",
        "16; Akers; rest mesial\n23; I-bar; rest cingulum",
    ],
)
def test_rows_of_a_table_are_said_of_their_own_tooth(table: str) -> None:
    case = clear_case(f"Upper, cobalt chrome. Missing 14, 15 and 24.\n{table}")
    assert case["missing"] == [15, 14, 24]
    assert case["prescription"]["retainers"] == RETAINERS
    assert case["prescription"]["rests"] == RESTS


@pytest.mark.parametrize(
    ("order", "head", "none"),
    [
        ("OK, es fehlen 15 und 24.", "Zahn | Klammer", "keine"),
        ("Upper in cobalt chrome, 15, 17 and 24 are missing.", "Tooth | Clasp", "none"),
        ("Châssis du haut, manquent 15, 17 et 24.", "Dent | Crochet", "aucun"),
        ("Esquelético superior, faltan 15, 17 y 24.", "Pieza | Gancho", "ninguno"),
    ],
)
def test_no_clasp_in_a_table_rules_one_out(order: str, head: str, none: str) -> None:
    case = clear_case(f"{order}\n{head}\n16 | Akers\n23 | {none}")
    assert case["prescription"]["retainers"].get(16) == "circumferential"
    assert case["prescription"]["not"]["retainers"][23] == ["any"]


def test_a_bar_after_a_tooth_is_no_midline_but_after_digits_it_is() -> None:
    assert clear_case("OK\nfehlend | 14, 15\n16 | Akers")["prescription"]["retainers"] == {16: "circumferential"}
    assert clear_case("Oberkiefer, es fehlen 7 6 | 5 6\nKobalt-Chrom")["missing"] == [17, 16, 25, 26]


@pytest.mark.parametrize(
    "points",
    [
        "1) lower\n1a) missing 36, 46\n1b) Akers 37, 47\n2) lingual bar",
        "1) lower\na) missing 36, 46\nb) Akers 37, 47\n2) lingual bar",
        "1º inferior\n2º faltan 36, 46\n3º Akers 37, 47\n4º barra lingual",
    ],
)
def test_numbers_and_letters_of_points_are_no_teeth(points: str) -> None:
    case = clear_case(points)
    assert case["missing"] == [46, 36]
    assert case["prescription"] == {
        "retainers": {37: "circumferential", 47: "circumferential"},
        "connector": "lingual_bar",
    }


@pytest.mark.parametrize(
    ("line", "sex"),
    [("Sexo M ( ) F (X)   Edad 66", "female"), ("Sex M [x] F [ ]  Age 66", "male"), ("Sexe : ☐ H ☒ F", "female")],
)
def test_what_stands_before_its_box_is_ticked_by_it(line: str, sex: str) -> None:
    assert clear_case(f"Inferior / lower, 36 y 46 missing.\n{line}")["patient"]["sex"] == sex


def test_a_heading_above_its_value_is_read_with_it() -> None:
    case = clear_case("Lower\nMissing\n36, 46\nOpposing\ncomplete denture\nMounting\narticulator")
    assert case["occlusion"]["opposing"] == "complete_denture"
    assert case["records"]["mounting"] == "articulated"


@pytest.mark.parametrize(
    "chart",
    [
        "47: Akers, mesial rest, crowned (full metal)\n44: RPI, filled, distal guiding plane",
        "47 - Akers, Auflage mesial, überkront (Vollguss)\n44 - RPI, Füllung, Führungsfläche distal",
        "47 : Akers, appui mésial, couronnée (métal)\n44 : RPI, amalgame, plan de guidage distal",
        "47: Akers, apoyo mesial, coronado (metal)\n44: RPI, empaste, plano guía distal",
    ],
)
def test_findings_in_a_word_belong_to_the_tooth_of_their_line(chart: str) -> None:
    (one,) = read_order(f"Lower / Unterkiefer / inférieur / inferior: 45, 46 missing.\n{chart}")
    found = {entry["tooth"]: entry for entry in one.case["abutments"]}
    assert found[47]["crown_material"] == "metal"
    assert found[47]["restoration"] == "crowned"
    assert found[44]["restoration"] == "filled"
    assert found[44]["guiding_planes"] == ["distal"]
    assert all(p.marked for p in one.proposals if p.path.endswith(("guiding_planes", "crown_material")))


def test_a_root_treated_and_filled_tooth_is_root_treated_but_a_crown_on_it_is_asked_about() -> None:
    (one,) = read_order("Prothèse du bas, manque 36. 35 : dépulpée et obturée, Akers.")
    assert one.case["abutments"] == [{"tooth": 35, "restoration": "endodontic"}]
    assert not one.ask
    (crowned,) = read_order("Prothèse du bas, manque 36. 35 : dévitalisée et couronnée, Akers.")
    assert crowned.ask


@pytest.mark.parametrize(
    ("text", "written", "meant"),
    [
        ("esqueletico inferior, faltan 36 37, ganxos akers en 35 y 47", "ganxos", "ganchos"),
        ("inferior, faltan 36 37, apoyo de zíngulo en 33", "zíngulo", "cingulo"),
    ],
)
def test_a_misspelt_word_is_read_by_its_sound_and_marked(text: str, written: str, meant: str) -> None:
    (one,) = read_order(text)
    assert any(p.marked == f'"{written}" read as "{meant}"' for p in one.proposals)


@pytest.mark.parametrize(
    "aside",
    [
        "dernière prothèse il y a vingt ans",
        "Llevo 25 años con vosotros",
        "facture no. 45",
        "Löffel 45, Rechnung Nr. 47",
    ],
)
def test_years_and_numbers_of_other_things_state_nothing(aside: str) -> None:
    (one,) = read_order(f"Lower: 36 and 37 missing. Akers 35. Lingual bar. {aside}.")
    assert "patient" not in one.case
    assert set(one.case["prescription"]["retainers"]) == {35}
    assert set(one.case["missing"]) == {36, 37}


@pytest.mark.parametrize(
    ("order", "numbering"),
    [
        ("Parcial superior. Numeración americana (1-32): faltan #3 y #4, Akers en #2 y #5.", "universal"),
        ("Upper, teeth numbered 1 to 32: missing 3 and 4, Akers on 2 and 5.", "universal"),
        ("Zahnschema FDI, nicht 1 bis 32. OK, 14 und 15 fehlen, Akers 13 und 16.", "iso"),
        ("Two-digit numbers, not 1-32. Upper, missing 14 and 15, Akers on 13 and 16.", "iso"),
    ],
)
def test_one_to_thirty_two_names_a_numbering_and_no_teeth(order: str, numbering: str) -> None:
    (one,) = read_order(order)
    assert one.numbering == numbering
    assert not one.ask
    assert set(one.case["missing"]) == ({16, 15} if numbering == "universal" else {14, 15})
