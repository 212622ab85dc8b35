"""Letters and tickets of one case in two-digit and in universal numbering name the same teeth, item by item."""

import os
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from recommender.advice.analysis import NoAdviceError
from recommender.advice.confidence.answers import Confidence
from recommender.advice.confidence.attach import with_standing
from recommender.advice.recommend import Recommender, recommendation
from recommender.documents.letter import letter_about
from recommender.documents.proposal import Origin, flagged, proposal_of
from recommender.documents.ticket import ticket
from recommender.domain.dentition import is_tooth
from recommender.domain.numbering import to_iso, to_universal
from recommender.domain.reader import read_case
from recommender.resources import demo_library
from recommender.wording.words import Words
from tests.wording.gather import MARK, teeth_read, unmarked, without_teeth

LONG = bool(os.environ.get("RPD_LONG"))
DEMO = sorted(Path(demo_library()).glob("*.yaml"))
# Lower with questions that were asked in vain, upper with departures and a free end.
SAMPLE = ("harbour-0058", "harbour-0064")
ORIGIN = Origin("rules", "library", demo=True)
_NUMBER = re.compile(r"\d+")


def texts(value: Any, path: str = "") -> Iterator[tuple[str, str]]:
    """Every text of a document with its place; the picture apart, whose words stand in its alternative text."""
    if isinstance(value, str):
        if not path.endswith(("svg", "kind")):
            yield path, value
    elif isinstance(value, dict):
        for name, inner in value.items():
            yield from texts(inner, f"{path}.{name}")
    elif isinstance(value, (list, tuple)):
        for index, inner in enumerate(value):
            yield from texts(inner, f"{path}[{index}]")


def papers(case_path: Path, words: Words) -> dict[str, str]:
    analysis = ANALYSES[case_path]
    answer = ANSWERS[case_path]
    proposal = flagged(analysis, proposal_of(answer))
    made = (
        letter_about(analysis, answer, ORIGIN, words=words),
        ticket(proposal, ORIGIN, words=words, despite_provisional="a trial"),
    )
    found: dict[str, str] = {}
    for name, document in zip(("letter", "ticket"), made, strict=True):
        found |= {f"{name}.subtitle": document.subtitle, f"{name}.foot": document.footer}
        found |= dict(texts(document.blocks, name))
    return found


ANALYSES: dict[Path, Any] = {}
ANSWERS: dict[Path, Any] = {}


def worked(path: Path) -> bool:
    if path not in ANALYSES:
        try:
            analysis = Recommender().work(read_case(path))
        except NoAdviceError:
            return False
        ANALYSES[path] = analysis
        ANSWERS[path] = with_standing(recommendation(analysis, 3), Confidence(analysis))
    return bool(ANSWERS[path].frameworks)


@pytest.mark.parametrize("path", [p for p in DEMO if LONG or p.stem in SAMPLE], ids=lambda path: path.stem)
def test_letter_and_ticket_name_the_same_teeth_in_both_numberings(path: Path) -> None:
    if not worked(path):
        pytest.skip("no framework, no papers of it")
    marked = {name: papers(path, Words(name, mark=MARK)) for name in ("iso", "universal")}
    printed = {name: papers(path, Words(name)) for name in ("iso", "universal")}
    assert marked["iso"].keys() == marked["universal"].keys()
    named = 0
    for place, iso in marked["iso"].items():
        universal = marked["universal"][place]
        if place.endswith("alt"):
            _same_teeth_unmarked(iso, universal, place)
            continue
        assert teeth_read(iso, "iso") == teeth_read(universal, "universal"), place
        assert without_teeth(iso) == without_teeth(universal), place
        for name, said in (("iso", iso), ("universal", universal)):
            assert unmarked(said) == printed[name][place], place
        named += len(teeth_read(iso, "iso"))
        left = [n for n in _NUMBER.findall(without_teeth(iso)) if is_tooth(int(n))]
        assert not [n for n in left if re.search(rf"\b(?:tooth|teeth|on|at) {n}\b", without_teeth(iso))], place
    assert named > 10


def _same_teeth_unmarked(iso: str, universal: str, place: str) -> None:
    """Words on the drawing are set as outlines and carry no marks: number by number, each is the other's tooth or a
    measure that is the same in both."""
    here, there = re.findall(r"\d+(?:\.\d+)?", iso), re.findall(r"\d+(?:\.\d+)?", universal)
    assert len(here) == len(there), place
    for mine, yours in zip(here, there, strict=True):
        if mine == yours:
            assert "." in mine or to_universal(int(mine)) == int(yours), (place, mine)
        else:
            assert to_iso(int(yours)) == int(mine), place
    assert _NUMBER.sub("", iso) == _NUMBER.sub("", universal)
