"""Missing teeth in unusual sentences: named one by one, by what they are, or apart from those that are not replaced."""

import pytest

from recommender.orders.read import read_order


@pytest.mark.parametrize(
    ("text", "missing"),
    [
        ("Upper, missing: R second premolar + first molar, L first premolar. Akers 17.", {15, 16, 24}),
        ("Lower. Missing: L 1st and 2nd molars, R 2nd premolar. Akers 34.", {36, 37, 45}),
        ("Upper: missing L 1st molar and R 1st n 2nd premolars. Akers 27.", {14, 15, 26}),
        ("Lower. To be replaced are the first and second left molars and the two central incisors.", {31, 36, 37, 41}),
        ("En bas, on remplace la première et la deuxième molaire droites et les deux incisives latérales.",
         {32, 42, 46, 47}),
        ("Inferior. Hay que reponer el primer y segundo molar izquierdos y los dos incisivos centrales.",
         {31, 36, 37, 41}),
        ("Unterkiefer. Zu ersetzen: erster und zweiter Molar links sowie die beiden mittleren Schneidezähne.",
         {31, 36, 37, 41}),
        ("Lower. Everything behind those two canines is to be replaced, on both sides, up to and including "
         "the second molars.",
         {34, 35, 36, 37, 44, 45, 46, 47}),
        ("Upper. Standing are 13, 14, 23 and 24 only. Everything else up to and including the first molars is to be "
         "replaced.", {11, 12, 15, 16, 21, 22, 25, 26}),
    ],
)  # fmt: skip
def test_missing(text: str, missing: set[int]) -> None:
    (order,) = read_order(text)
    assert set(order.case["missing"]) == missing
    assert not order.ask


@pytest.mark.parametrize(
    "text",
    [
        "Lower. She has lost 36, 37, 46 and 47. The eights went years ago and we are not putting those back. RPI 35.",
        "Lower. 36, 37, 46 and 47 went years ago, the two wisdoms as well, but those we are not putting back. RPI 35.",
        "Lower. Missing 36, 37, 46, 47. Third molars (38 and 48) are gone as well, don't set those. RPI 35.",
        "Lower. Missing 36, 37, 38, 46, 47, 48; the eights do not go back. RPI 35, 45.",
        "Bilateral free end lower behind the second premolars, third molars not replaced (all out). RPI 35 and 45.",
        "Unterkiefer. Es fehlen 36, 37, 46, 47. Die unteren Achter sind auch weg, werden aber nicht ersetzt. RPI 35.",
        "Unterkiefer. Es fehlen 36, 37, 46 und 47. Die Achter fehlen auch, die brauchen wir nicht. RPI 35, 45.",
        "Mandibule. À remplacer : 36, 37, 46, 47. Les 8 n'ont jamais existé. RPI 35 et 45.",
        "Mandibule. Manquent 36, 37, 46, 47. Les dents de sagesse sont parties, on ne les remet pas. RPI 35 et 45.",
        "Inferior. Faltan 36, 37, 46 y 47. Los cordales se quitaron hace años y no se reponen. RPI 35 y 45.",
    ],
)
def test_third_molars_that_are_not_put_back(text: str) -> None:
    (order,) = read_order(text)
    assert set(order.case["missing"]) == {36, 37, 46, 47}
    assert set(order.case["absent"]) == {38, 48}
    assert not order.ask
