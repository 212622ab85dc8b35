"""Which metal an order asks for: what titanium alone means, and metals that are not the framework's."""

import pytest

from recommender.orders.model import Proposal
from recommender.orders.read import read_order

_TITANIUM, _COBALT = "titanium_cp", "cobalt_chromium"


def _alloys(text: str) -> tuple[list[Proposal], list[str]]:
    orders = read_order(text)
    named = [one for order in orders for one in order.proposals if one.path == "prescription.alloy"]
    return named, [question.why for order in orders for question in order.ask]


@pytest.mark.parametrize(
    "text",
    [
        "Lower, 36 missing, Akers 35, 37, titanium.",
        "UK Modellguss aus Titan, 36 fehlt. Akers 35, 37.",
        "Châssis en titane du bas. 36 manque. Akers 35, 37.",
        "Esquelético inferior de titanio. Falta 36. Akers 35, 37.",
    ],
)
def test_titanium_alone_is_taken_as_pure_and_says_so(text: str) -> None:
    (alloy,), asked = _alloys(text)
    assert (alloy.value, asked) == (_TITANIUM, [])
    assert "titanium alloy" in alloy.marked


@pytest.mark.parametrize(
    ("text", "marked"),
    [
        ("Lower. 36 missing with a titanium implant there. Akers 35, 37. Frame in CoCr.", False),
        ("Lower. 36 missing. Akers 35, 37. Gold teeth upstairs, frame in cobalt chrome.", False),
        ("UK CoCr, 36 fehlt. Akers 35, 37. Gold-Kronen oben.", False),
        ("Lower. 36 missing. Akers 35, 37. I asked about gold, she laughed, so cobalt chrome.", True),
        ("UK. 36 fehlt. Akers 35, 37. Titan war ihm zu teuer, also Kobalt-Chrom.", True),
        ("Bas. 36 manque. Akers 35, 37. Le titane était trop cher, donc cobalt-chrome.", True),
        ("Abajo falta 36. Akers 35, 37. El titanio le parecía caro, así que cromo-cobalto.", True),
    ],
)
def test_a_metal_of_something_else_is_not_the_frameworks(text: str, marked: bool) -> None:
    (alloy,), asked = _alloys(text)
    assert (alloy.value, bool(alloy.marked), asked) == (_COBALT, marked, [])


def test_two_metals_without_a_conclusion_are_asked() -> None:
    alloys, asked = _alloys("Lower frame in titanium. 36 missing. Akers 35, 37. Alloy: cobalt chrome.")
    assert alloys == []
    assert any("contradicts" in why for why in asked)
