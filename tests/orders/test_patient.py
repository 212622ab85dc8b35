"""What an order says of the patient and the other arch in free words, and what is said of others."""

from typing import Any

import pytest

from recommender.orders.read import read_order
from tests.orders.scoring import fields

_LOOKS, _SEX, _AGE = "patient.aesthetic_priority", "patient.sex", "patient.age"


def _stated(text: str) -> dict[str, Any]:
    return {path: value for one in read_order(text) for path, value in fields(one.case).items()}


@pytest.mark.parametrize(
    ("text", "path", "value"),
    [
        ("Lower, 36 37 missing. Whether the clasps are seen he couldn't care less.", _LOOKS, "low"),
        ("Oben fehlen 15 16. Ob man die Klammern sieht, ist ihm egal.", _LOOKS, "low"),
        ("Manquent 15 16. Que les crochets se voient ne le dérange pas.", _LOOKS, "low"),
        ("Faltan 15 16. Le trae sin cuidado que se vean los ganchos.", _LOOKS, "low"),
        ("Missing 15 16. She is photographed often, nothing may flash.", _LOOKS, "high"),
        ("Oben fehlen 15 16. Auf Ästhetik legt sie allergrößten Wert.", _LOOKS, "high"),
        ("Casts of a retired organist of seventy-nine, upper, missing 15 16.", _AGE, 79),
        ("Eine einundachtzigjährige Dame, unten fehlen 35 36.", _AGE, 81),
        ("En bas manquent 35 36, une patiente de septante-trois ans.", _AGE, 73),
        ("Señora de ochenta y un años, faltan 35 36 abajo.", _AGE, 81),
        ("Patient 39/F. Upper missing 12 15 16.", _SEX, "female"),
        ("Inferior, faltan 36 37. Edad: 77, sexo: V.", _SEX, "male"),
        ("Paciente alérgica al cromo. Abajo faltan 35 36.", _SEX, "female"),
        ("Oben fehlen 15 16. Sie kommt mit ihren Händen nicht mehr zurecht.", "patient.dexterity", "limited"),
        ("Upper, missing 15 16. She is not very dexterous.", "patient.dexterity", "limited"),
        ("Upper, missing 15 16. No problem with gagging.", "patient.gag_reflex", False),
        ("Upper, missing 15 16. He has all his own teeth downstairs.", "occlusion.opposing", "natural"),
        ("Unten fehlen 35 36. Die Restzähne sind nach lingual geneigt.", "floor.lingual_tilt", True),
        ("Inferior, falta el 36. Sólo hay 4 mm hasta el antagonista.", "spans.36.clearance_mm", 4.0),
    ],
)
def test_free_words_are_understood(text: str, path: str, value: object) -> None:
    assert _stated(text).get(path) == value


@pytest.mark.parametrize(
    ("text", "path"),
    [
        ("Der Herr Primar wünscht: oben 15 16 ersetzen.", _SEX),
        ("Lower LL5 LL6 to go on, he measured only 5 mm from gum to floor.", _SEX),
        ("Oben fehlen 15 16, Herr, Mitte sechzig.", _AGE),
        ("Oben fehlen 15 16. Seine Frau hat eine Nickelallergie.", "patient.allergy"),
        ("Upper, missing 15 16. Her husband grinds his teeth.", "occlusion.load"),
        ("Unten fehlen 35 36. Seine Mutter trug oben eine Totalprothese.", "occlusion.opposing"),
        ("Jetzt das Gerüst, Unterkiefer natürlich, 35 36 fehlen.", "occlusion.opposing"),
        ("Mandíbula, 31 41 42 por periodontitis.", "abutments.31.disease"),
    ],
)
def test_what_is_said_of_another_is_not_taken(text: str, path: str) -> None:
    assert path not in _stated(text)


def test_an_open_question_marks_the_whole_order() -> None:
    (one,) = read_order(
        "Upper, missing 15 16, cobalt chrome, palatal strap. I-bar on 13. No clasp on 13. Bruxer."
    )
    assert one.ask
    assert one.proposals
    assert all(p.marked for p in one.proposals)
