"""The page that a dentist answers, in a real browser without a network; what it saves is read back."""

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from recommender.documents.answers.form import answer_page
from recommender.documents.answers.recorded import recorded
from recommender.documents.answers.returned import read_returned
from recommender.documents.letter import asked_of, letter_about, worked_out
from recommender.documents.proposal import Origin
from recommender.wording.words import Words
from tests.documents.conftest import demo_cases
from tests.screens import browser as b

if TYPE_CHECKING:
    from recommender.advice.recommend import Recommender

pytestmark = [
    pytest.mark.browser,
    pytest.mark.xdist_group("browser"),
    pytest.mark.skipif(b.CHROMIUM is None, reason="no Chromium on this machine"),
]


def test_answered_offline_and_read_back(rules_alone: "Recommender", tmp_path: Path) -> None:
    case = demo_cases()["harbour-0064"]
    analysis, answer = worked_out(rules_alone, case)
    asked = asked_of(analysis, answer)
    made = tmp_path / "answer.html"
    made.write_bytes(answer_page(letter_about(analysis, answer, Origin("rules", "none")), asked, Words()))
    with b.chromium() as chromium:
        context = chromium.new_context(offline=True, accept_downloads=True, viewport={"width": 820, "height": 1000})
        page = context.new_page()
        faults: list[str] = []
        page.on("pageerror", lambda error: faults.append(str(error)))
        page.on("console", lambda line: faults.append(line.text) if line.type == "error" else None)
        page.goto(made.as_uri())
        sets = page.locator("fieldset")
        assert sets.count() == len(asked.points)
        for place in range(1, sets.count()):
            sets.nth(place).locator("input[type=radio]").first.check()
        page.get_by_label("Name and registration").fill("A. Dentist")
        page.get_by_label("Date").fill("2026-11-28")
        page.get_by_label("I have read what I sign").check()
        returned = []
        for _ in range(2):  # once with a box left empty, then in full
            with page.expect_download() as saved:
                page.get_by_role("button", name="Save the answer").click()
            returned.append(read_returned(Path(saved.value.path()).read_bytes()))
            told = page.locator("#told").inner_text()
            assert ("Not answered yet" in told) == (len(returned) == 1)
            sets.nth(0).locator("input[type=radio]").first.check()
        wide = page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
        context.close()
    assert faults == []
    assert wide
    assert not recorded(case, asked, returned[0]).signed
    assert recorded(case, asked, returned[1]).signed
