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
        ("She's 34 and on stage. Upper, 12 and 22 missing.", _AGE, 34),
        ("La piba tiene 33 y es cantante. Superior, faltan 15 y 16.", _AGE, 33),
        ("Upper. The old lady, eighty-three and never ill. Missing 15, 16.", _AGE, 83),
        ("Patient 66, Pilot a.D. UK, 36 fehlt.", _SEX, "male"),
        ("Abajo falta 36. Níquel no, que es alérgica.", _SEX, "female"),
        ("Lower, 36 missing. Plaque control, however, is good.", "patient.hygiene", "good"),
        ("Lower, 36 missing. He keeps his mouth beautifully clean.", "patient.hygiene", "good"),
        ("UK, 36 fehlt. Die Mundhygiene ist inzwischen gut.", "patient.hygiene", "good"),
        ("UK, 36 fehlt. Handgeschick leider schon eingeschränkt.", "patient.dexterity", "limited"),
        ("Lower, 36 missing. The caries risk must be regarded as high.", "patient.caries_risk", "high"),
        ("Bas. 36 manque. Radiothérapie incluant les mâchoires.", "patient.jaw_radiotherapy", True),
        ("Lower, 36 missing. His mandible was irradiated.", "patient.jaw_radiotherapy", True),
        ("Abajo falta 36. Existe riesgo de que se trague la prótesis.", "patient.swallowing_risk", True),
        ("Lower, 36 missing. The cast was poured after the mouth prep.", "records.cast", "after_preparation"),
        ("UK, 36 fehlt. Präparation ist erfolgt.", "records.cast", "after_preparation"),
        ("Bas. 36 manque. Empreinte prise avant préparation.", "records.cast", "before_preparation"),
        ("Abajo falta 36. Nichos tallados, modelo posterior.", "records.cast", "after_preparation"),
        ("UK, 36 fehlt. Zähne noch nicht präpariert.", "records.cast", "before_preparation"),
        ("Lower, 36 missing. Models not mounted.", "records.mounting", "none"),
        ("Lower, 36 missing. Casts: mounted, semi-adjustable art.", "records.mounting", "articulated"),
        ("Bas. 36 manque. Arc facial joint.", "records.mounting", "articulated"),
        ("Lower please, chap of 71, wears a full upper. 36 missing.", "occlusion.opposing", "complete_denture"),
        ("UK 36 fehlt. GK: Totale, Kunststoffzähne.", "occlusion.opposing_material", "resin"),
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
        ("Lower, 36 missing. His 20 years old denture broke.", _AGE),
        ("Lower, 36 missing. Replace the twenty-year-old partial.", _AGE),
        ("Upper. Missing 25, 26 (28 extraite il y a vingt ans).", _AGE),
        ("Elle dit que l'ancien était parfait pendant vingt ans. Bas, 36 manque.", _AGE),
        ("Rehacer el esquelético superior. El viejo tiene 12 años y repone 15, 16.", _AGE),
        ("Upper, 16 missing. The female parts are in the bag.", _SEX),
        ("Lower, 36 missing. Radiotherapy for the breast, jaws not included.", "patient.jaw_radiotherapy"),
        ("Lower, 36 missing. Hygiene is not that good.", "patient.hygiene"),
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


@pytest.mark.parametrize(
    ("text", "allergy", "alloy"),
    [
        ("Allergic to nickel, cobalt chrome please.", ["nickel"], "cobalt_chromium"),
        ("Patch test positive for cobalt AND chromium so frame in titanium.", ["cobalt", "chromium"], "titanium_cp"),
        ("Sensitised to cobalt, chrome and nickel. Titanium.", ["cobalt", "chromium", "nickel"], "titanium_cp"),
        ("Allergique au nickel donc cobalt-chrome.", ["nickel"], "cobalt_chromium"),
        ("Nickelallergiker, also Kobalt-Chrom.", ["nickel"], "cobalt_chromium"),
        ("Alérgico al níquel, así que titanio.", ["nickel"], "titanium_cp"),
    ],
)
def test_the_metal_ordered_because_of_an_allergy_causes_none(text: str, allergy: list[str], alloy: str) -> None:
    (order,) = read_order(f"{text} Lower, missing 36, akers 35, 37.")
    assert set(order.case["patient"]["allergy"]) == set(allergy)
    assert order.case["prescription"]["alloy"] == alloy


@pytest.mark.parametrize("text", ["No known allergies.", "Allergies: none", "Not allergic to anything."])
def test_that_there_is_no_allergy_is_always_marked(text: str) -> None:
    (order,) = read_order(f"Lower, missing 36, akers 35, 37. {text}")
    (allergy,) = [one for one in order.proposals if one.path == "patient.allergy"]
    assert allergy.value == []
    assert allergy.marked
