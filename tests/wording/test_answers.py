"""Whole answers said in both numberings: every statement names exactly its own teeth.

``RPD_LONG=1`` takes all demo cases and 500 generated ones; ``RPD_CHUNK=2/6`` beside it the second of six parts of them.
"""

import os
import re
from collections.abc import Iterator
from itertools import islice
from pathlib import Path

import pytest

from recommender.advice.analysis import CaseAnalysis, NoAdviceError
from recommender.advice.recommend import Recommender, recommendation
from recommender.advice.review import review
from recommender.domain.case import Case
from recommender.domain.dentition import is_tooth
from recommender.domain.reader import read_case
from recommender.domain.statement import Statement
from recommender.resources import demo_library
from recommender.wording.templates import language
from recommender.wording.words import Words
from tests.store.invented import invented_cases
from tests.wording.gather import MARK, passed_on, statements_in, teeth_read, unmarked, without_teeth

LONG = bool(os.environ.get("RPD_LONG"))
PART, PARTS = map(int, os.environ.get("RPD_CHUNK", "1/1").split("/"))
DEMO = sorted(Path(demo_library()).glob("*.yaml"))
_NUMBER = re.compile(r"(?<![\d.,-])([1-4][1-8])(?![\d.,]|\d|-\d)")


def demo() -> Iterator[Case]:
    yield from (read_case(path) for path in (DEMO if LONG else DEMO[::6]))


def generated() -> Iterator[Case]:
    yield from invented_cases(500 if LONG else 12, seed=11)


def said_of(analysis: CaseAnalysis) -> Iterator[Statement]:
    yield from statements_in(recommendation(analysis))
    case = analysis.case
    for subject in (case.prescription, case.design):
        if subject is not None:
            yield from statements_in(review(analysis, subject))


@pytest.mark.parametrize("cases", [demo, generated])
def test_a_statement_names_its_own_teeth_in_both_numberings(cases) -> None:
    words = {name: Words(name) for name in ("iso", "universal")}
    marked = {name: Words(name, mark=MARK) for name in words}
    recommender = Recommender()
    seen: set[Statement] = set()
    for case in islice(cases(), PART - 1, None, PARTS):
        try:
            analysis = recommender.work(case)
        except NoAdviceError:
            continue
        for statement in said_of(analysis):
            if statement in seen:
                continue
            seen.add(statement)
            for name in words:
                text = marked[name].text(statement)
                assert teeth_read(text, name) == statement.teeth, (case.id, statement)
                assert unmarked(text) == words[name].text(statement)
    assert len(seen) > 1000
    assert sum(1 for statement in seen if statement.teeth) > 100


def test_no_number_that_could_be_a_tooth_is_left_in_passed_on_words() -> None:
    """Rules' sentences name no tooth: a number between 11 and 48 in them has its unit or its count beside it."""
    from recommender.knowledge.in_force import knowledge

    counted = r"(?:mm|N|%|percent|months?|years?|degrees|gauge|patients|teeth|cm|points?|to \d|of \d|\w+s\b)"
    faults = []
    for rule in knowledge().rules:
        for found in _NUMBER.finditer(rule.why):
            after = rule.why[found.end() : found.end() + 14]
            before = rule.why[max(0, found.start() - 12) : found.start()]
            if is_tooth(int(found[1])) and not re.match(rf"\s*{counted}", after) and "to " not in before[-4:]:
                faults.append(f"{rule.id}: …{before}{found[1]}{after}…")
    assert not faults


def test_letters_in_both_numberings_name_the_same_teeth_item_by_item() -> None:
    """Numbers that stand for teeth differ; everything else on the page is the same."""
    recommender = Recommender()
    case = read_case(Path(demo_library()) / "harbour-0025.yaml")
    analysis = recommender.work(case)
    items = review(analysis, case.prescription or case.design)
    assert items
    for item in items:
        texts = {name: Words(name, mark=MARK).text(item.wording) for name in ("iso", "universal")}
        assert teeth_read(texts["iso"], "iso") == teeth_read(texts["universal"], "universal")
        assert without_teeth(texts["iso"]) == without_teeth(texts["universal"])
        assert not [text for text in passed_on(item.wording) if MARK[0] in text]


def test_german_says_the_most_frequent_statements() -> None:
    """The 40 codes that answers hold most often, in every place of them, on cases of several classes."""
    from collections import Counter

    recommender, seen = Recommender(), Counter[str]()
    for path in DEMO if LONG else DEMO[::40]:
        try:
            analysis = recommender.work(read_case(path))
        except NoAdviceError:
            continue
        seen.update(statement.code for statement in said_of(analysis))
    german = language("de").templates
    assert sum(seen.values()) > 1000
    assert not [code for code, _ in seen.most_common(40) if code not in german]
