"""The educator's whole journey in a real browser: own library, past work brought in, review, outcomes, practice, rules.

Needs Chromium; skipped where there is none.
"""

import os
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.screens.browser import chromium, need_browser, open_at, server, settle

pytestmark = [pytest.mark.browser, pytest.mark.xdist_group("browser")]
SHOTS = os.environ.get("RPD_CASEBOOK_SHOTS")  # a folder, to look at the pages


@pytest.fixture(scope="module")
def home(tmp_path_factory) -> Path:
    return tmp_path_factory.mktemp("educator")


@pytest.fixture(scope="module")
def address(home: Path) -> Iterator[str]:
    need_browser()
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("HOME", str(home))
        patch.delenv("RPD_CASEBOOK_RULES", raising=False)
        with server(home) as running:
            yield running


@pytest.fixture(scope="module")
def page(address: str):
    with chromium() as browser:
        opened = browser.new_page(viewport={"width": 1280, "height": 1000})
        opened.set_default_timeout(30_000)
        yield opened


def settled(page) -> None:
    """Wait until the page has been redrawn, without an error of the program's own."""
    settle(page)
    assert page.locator("[data-testid=stException]").count() == 0


def shot(page, name: str) -> None:
    """A picture of the whole page, in both themes and three widths, where a folder was named."""
    if not SHOTS:
        return
    for scheme, width in (("light", 1280), ("dark", 1920), ("light", 820)):
        page.emulate_media(color_scheme=scheme)
        page.set_viewport_size({"width": width, "height": 1000})
        settled(page)
        height = page.evaluate("document.querySelector('[data-testid=stMain]').scrollHeight")
        page.set_viewport_size({"width": width, "height": min(max(1000, height + 40), 3000)})
        page.wait_for_timeout(700)
        page.screenshot(path=str(Path(SHOTS) / f"{name}_{scheme}_{width}.png"))
    page.emulate_media(color_scheme="light")
    page.set_viewport_size({"width": 1280, "height": 1000})
    settled(page)


def choose(page, label: str, typed: str) -> None:
    """Pick from a list by keyboard alone: focus, type, Enter."""
    box = page.get_by_role("combobox", name=label)
    box.focus()
    page.keyboard.type(typed)
    page.wait_for_timeout(250)
    page.keyboard.press("Enter")
    settled(page)


def fill(page, label: str, text: str) -> None:
    field = page.get_by_role("textbox", name=label)
    field.fill(text)
    field.press("Tab")
    settled(page)


def go(page, address: str, part: str) -> None:
    open_at(page, f"{address}/{part}")
    settled(page)


def test_1_a_library_of_ones_own(page, address, home):
    go(page, address, "library")
    assert page.get_by_text("no log-in of their own").count() >= 1
    fill(page, "You, for the history (a role or initials)", "educator")
    page.get_by_text("Open: the demo library").click()
    page.get_by_role("button", name="Make the library").click()
    page.get_by_text("114 cases.").wait_for()
    settled(page)
    assert (home / "casebook.db").is_file()
    page.reload()  # the choice outlasts the session
    page.wait_for_selector("h1")
    page.get_by_text("Open: sqlite:///").wait_for()


def bring(page, address: str, table: Path) -> None:
    """Upload a table and say what its columns mean and how its teeth are numbered."""
    go(page, address, "library?library-part=Bring+in")
    fill(page, "You, for the history (a role or initials)", "educator")
    page.locator("input[type=file]").set_input_files(str(table))
    page.get_by_text("What the columns mean").wait_for()
    settled(page)
    choose(page, "“Case number”", "id")
    choose(page, "“Jaw”", "arch")
    # 15 and 16 are teeth of both systems
    page.get_by_test_id("stRadio").filter(has_text="Teeth are numbered").get_by_text("two-digit").click()
    settled(page)


def test_2_past_work_is_tried_then_brought_in(page, address, tmp_path):
    table = tmp_path / "past.csv"
    table.write_text(
        "Case number,Jaw,missing,title\nold-1,maxilla,15 16,two teeth\nold-2,sideways,15,not an arch\n"
    )
    bring(page, address, table)
    page.get_by_role("button", name="Try it").click()
    page.get_by_text("Nothing was written").wait_for()
    settled(page)
    assert page.get_by_role("cell", name=re.compile('found "?sideways')).count() == 1
    shot(page, "bring_in")
    page.get_by_role("button", name=re.compile("Bring in the valid ones")).click()
    page.get_by_text("1 cases brought in from past.csv").wait_for()
    settled(page)
    # the row that was refused is taken home, mended and brought in again
    with page.expect_download() as got:
        page.get_by_role("button", name=re.compile("rows that cannot come in")).click()
    mended = tmp_path / got.value.suggested_filename
    mended.write_text(Path(got.value.path()).read_text(encoding="utf-8-sig").replace("old-2,sideways", "old-2,maxilla"))
    bring(page, address, mended)
    page.get_by_role("button", name="Try it").click()
    page.get_by_text("Nothing was written").wait_for()
    settled(page)
    page.get_by_role("button", name=re.compile("Bring in everything")).click()
    page.get_by_text("1 cases brought in from past-rejected.csv").wait_for()


def test_2b_many_at_once(page, address):
    go(page, address, "library?library-part=Many+at+once")
    fill(page, "You, for the history (a role or initials)", "educator")
    fill(page, "Number or title holds", "old-2")
    page.get_by_text("1 case fits: old-2").wait_for()
    choose(page, "What is done to each", "retire")
    fill(page, "Reason (needed; kept with each case)", "a trial row")
    page.get_by_role("button", name="Try it").click()
    page.get_by_text("would be retired").wait_for()
    settled(page)
    shot(page, "many")
    page.get_by_role("button", name="Do it to 1 case").click()
    page.get_by_text("1 case done, 0 refused").wait_for()


def test_3_wrong_upload_is_told(page, address, tmp_path):
    broken = tmp_path / "past.zip"
    broken.write_bytes(b"PK\x03\x04 not a zip")
    go(page, address, "library?library-part=Bring+in")
    fill(page, "You, for the history (a role or initials)", "educator")
    page.locator("input[type=file]").set_input_files(str(broken))
    page.get_by_role("button", name="Try it").click()
    page.get_by_text("not a zip archive that can be read").wait_for()


def test_4_a_draft_is_reviewed(page, address):
    go(page, address, "library?library-part=Review")
    fill(page, "You, for the history (a role or initials)", "educator")
    page.get_by_text("Waiting, by number").wait_for()
    case_id = next(
        name for name in page.locator("table.casebook tbody th").all_inner_texts() if name != "old-1"
    )
    choose(page, "Case to review", case_id)
    page.get_by_role("button", name="Approve").wait_for()
    settled(page)
    shot(page, "review")
    reason = page.get_by_label("Reason (needed where a choice goes against a rule)")
    reason.fill("looked through with the class")
    reason.press("Control+Enter")
    settled(page)
    page.get_by_role("button", name="Approve").click()
    page.get_by_text(f"{case_id} is approved").wait_for()


def test_5_outcomes_history_and_coverage(page, address):
    go(page, address, "library?library-part=Outcomes")
    fill(page, "You, for the history (a role or initials)", "educator")
    choose(page, "Case", "harbour-0006")
    page.get_by_role("spinbutton", name="Months since fitting").fill("18")
    page.get_by_role("button", name="Add the follow-up").click()
    page.get_by_text("harbour-0006: follow-up kept as version 2").wait_for()
    shot(page, "outcomes")
    go(page, address, "library?library-part=Cases")
    choose(page, "Look at a case", "harbour-0006")
    page.locator(".casebook-drawing img").wait_for()
    page.get_by_text("History: 2 versions").click()
    page.get_by_text("Bring it back").wait_for()
    shot(page, "case")
    go(page, address, "library?library-part=Coverage")
    page.get_by_text("would help most").wait_for()
    page.locator("canvas, .vega-embed svg").first.wait_for()
    shot(page, "coverage")
    go(page, address, "library?library-part=Alike+and+at+odds")
    page.get_by_text("alike over what both recorded").wait_for()
    shot(page, "pairs")


def test_6_backup(page, address):
    go(page, address, "library?library-part=Take+out")
    page.get_by_role("button", name="Make a backup").click()
    with page.expect_download() as got:
        page.get_by_role("button", name=re.compile(r"Download casebook-.*\.db")).click()
    assert Path(got.value.path()).read_bytes().startswith(b"SQLite format 3")


def take_first(page, box, told: str) -> None:
    """Open a list with the arrow key and take what it offers first, as a person does: again where nothing came of it.

    A list that is being redrawn by the answer before may miss a key.
    """
    from playwright.sync_api import TimeoutError

    for _ in range(5):
        box.focus()
        page.keyboard.press("ArrowDown")
        try:
            page.get_by_role("listbox").wait_for(timeout=1_500)
            page.keyboard.press("Enter")
            page.get_by_text(told).wait_for(timeout=5_000)
        except TimeoutError:
            continue
        settled(page)
        return
    raise AssertionError(f"five tries did not come to: {told}")


def test_7_practice_by_keyboard(page, address):
    go(page, address, "practice")
    fill(page, "Your alias (no name)", "blue heron")
    page.get_by_role("button", name="Set the exercise").focus()
    page.keyboard.press("Enter")
    page.get_by_text("Decide one after the other").wait_for(timeout=60_000)
    settled(page)
    shot(page, "exercise")
    boxes = page.locator("[data-testid=stSelectbox] [role=combobox]")
    number = boxes.count()
    assert number >= 3
    for index in range(number):
        take_first(page, boxes.nth(index), f"{index + 1} of {number} decided")
    address_now = page.url
    page.get_by_role("button", name="Commit all").focus()
    page.keyboard.press("Enter")
    page.get_by_text("What there is to say").wait_for(timeout=60_000)
    page.get_by_text("kept under blue heron").wait_for()
    assert "exercise=ex-" in address_now
    shot(page, "feedback")
    page.get_by_role("button", name="Results").or_(page.get_by_role("radio", name="Results")).first.click()
    page.get_by_text(f"{number} choices of blue heron").wait_for()
    shot(page, "results")


def test_8_rules_read_drawn_changed_tried_adopted(page, address, home):
    go(page, address, "rules")
    page.locator("article").first.wait_for()
    shot(page, "rules")
    go(page, address, "rules?rules-part=Why%2C+as+a+picture")
    page.locator("[data-testid=stGraphVizChart] svg").wait_for()
    settled(page)
    shot(page, "rules_graph")
    go(page, address, "rules?rules-part=Draft")
    fill(page, "You, for the history (a role or initials)", "educator")
    page.get_by_role("button", name="Start a draft").click()
    page.get_by_text("says what the packaged rules say").wait_for()
    page.get_by_text("Change weights").click()
    page.get_by_role("button", name="Keep these weights").wait_for()
    page.get_by_role("spinbutton", name=re.compile(r"^appearance \(")).fill("60")
    page.get_by_role("button", name="Keep these weights").click()
    page.get_by_text("1 weights changed in the draft").wait_for()
    shot(page, "weights")
    page.get_by_text("Try on the library").click()
    page.get_by_role("button", name="Try it on the library").click()
    page.get_by_text("cases would be advised otherwise").wait_for(timeout=120_000)
    shot(page, "trial")
    page.get_by_text("Adopt", exact=True).click()
    fill(page, "Why (kept with the rules)", "appearance first")
    page.get_by_text("I have seen what would change").click()
    settled(page)
    page.get_by_role("button", name="Adopt this draft").click()
    page.get_by_text("Adopted as number 0001").wait_for()
    shot(page, "adopted")
    assert (home / "casebook-rules" / "adopted" / "current").read_text().strip() == "0001"
    assert page.get_by_text("In use: the packaged rules").count() == 1
