"""The designer's whole way in a real browser: from nothing to a printed letter, and what may go wrong on it."""

import json
import os
import re
from io import BytesIO

import pytest
from pypdf import PdfReader

from recommender.domain.dentition import ARCH_ORDER
from recommender.precedents.source import demo_source
from recommender.screens.ui import chart
from tests.screens import browser as b

pytestmark = [pytest.mark.browser, pytest.mark.xdist_group("browser")]


@pytest.fixture
def page(chromium):
    context = chromium.new_context(viewport={"width": 1280, "height": 900}, accept_downloads=True)
    found = context.new_page()
    found.outside = []
    found.on(
        "request",
        lambda request: (
            found.outside.append(request.url)
            if not request.url.startswith(("http://127.0.0.1", "data:", "blob:", "ws://127.0.0.1"))
            else None
        ),
    )
    yield found
    context.close()


def wait_marked(page, *teeth: int, state: str = "to be replaced") -> None:
    """Wait until the chart says so of every one of these teeth."""
    for tooth in teeth:
        page.locator(f'[data-tooth="{tooth}"][aria-label*="{state}"]').wait_for(timeout=20_000)


def begin_blank(page, address: str, name: str) -> None:
    b.open_at(page, address)
    page.get_by_role("radio", name="A blank arch").or_(page.get_by_text("A blank arch")).first.click()
    b.settle(page)
    page.get_by_role("textbox", name="Case id").fill(name)
    page.keyboard.press("Tab")
    b.settle(page)
    page.get_by_role("button", name="Start with a full arch").click()
    b.settle(page)


def test_from_an_empty_start_to_a_printed_letter(page, address):
    begin_blank(page, address, "bench-1")
    for tooth in (14, 15, 16):
        page.locator(f'[data-tooth="{tooth}"]').click()
    wait_marked(page, 14, 15, 16)
    b.settle(page)
    assert {tooth for tooth, state in b.marks(page).items() if "to be replaced" in state} == {14, 15, 16}
    assert page.get_by_role("heading", name="Class III").is_visible()
    page.reload()
    page.wait_for_selector("[data-tooth]")
    b.settle(page)
    assert b.marks(page)[15] == "to be replaced", "a reload in the middle lost a mark"
    page.get_by_test_id("stSidebarNavItems").get_by_role("link", name="The advice").first.click()
    page.wait_for_selector(".casebook-drawing")
    b.settle(page)
    before = page.locator(".casebook-drawing img").first.get_attribute("src")
    assert page.get_by_text("PROVISIONAL").first.is_visible()
    b.pick(page, "Change a part", "Major connector")
    b.pick(page, "Your choice", "complete")
    page.wait_for_function(
        "was => document.querySelector('.casebook-drawing img')?.src !== was", arg=before, timeout=20_000
    )
    page.get_by_role("button", name="Undo").click()
    page.wait_for_function(
        "was => document.querySelector('.casebook-drawing img')?.src === was", arg=before, timeout=20_000
    )
    page.get_by_test_id("stSidebarNavItems").get_by_role("link", name="Talk it over").first.click()
    page.wait_for_selector("text=Letter to the dentist")
    b.settle(page)
    with page.expect_download() as waited:
        page.get_by_role("button", name="Letter (PDF)").click()
    data = waited.value.path().read_bytes()
    text = " ".join(" ".join(one.extract_text() for one in PdfReader(BytesIO(data)).pages).split())
    assert waited.value.suggested_filename == "bench-1-letter.pdf"
    assert "bench-1" in text
    assert "PROVISIONAL" in text
    assert page.outside == [], "the page asked for something outside this machine"


def test_teeth_are_marked_by_keyboard_alone(page, address):
    begin_blank(page, address, "keys-1")
    page.locator('[data-tooth="18"]').focus()
    for _ in range(10):  # twenty keys without a pause
        page.keyboard.press("Enter")
        page.keyboard.press("ArrowRight")
    marked = [18, 17, 16, 15, 14, 13, 12, 11, 21, 22]
    wait_marked(page, *marked)
    for _ in range(2):  # and some while the page is drawn anew
        page.wait_for_timeout(45)
        page.keyboard.press("Enter")
        page.keyboard.press("ArrowRight")
    wait_marked(page, *marked, 23, 24)
    b.settle(page)
    gone = {tooth for tooth, state in b.marks(page).items() if "to be replaced" in state}
    assert gone == {*marked, 23, 24}
    assert page.locator("[data-tooth]:focus").get_attribute("data-tooth") == "25", (
        "focus came back after the redraw"
    )
    page.keyboard.press("Home")
    page.keyboard.press("ArrowLeft")
    assert page.locator("[data-tooth]:focus").get_attribute("data-tooth") == "18", (
        "it stops at the end of the arch"
    )
    page.keyboard.press("End")
    page.keyboard.press(" ")
    wait_marked(page, 28)
    assert b.marks(page)[28] == "to be replaced"
    stops = page.locator('[data-tooth][tabindex="0"]').count()
    assert stops == 1, "one tab stop for the whole arch"


def test_a_run_of_teeth_with_shift(page, address):
    begin_blank(page, address, "run-1")
    page.locator('[data-tooth="24"]').click()
    page.locator('[data-tooth="27"]').click(modifiers=["Shift"])
    wait_marked(page, 24, 25, 26, 27)
    gone = sorted(tooth for tooth, state in b.marks(page).items() if "to be replaced" in state)
    assert gone == [24, 25, 26, 27]


def test_two_tabs_on_one_case(page, address):
    begin_blank(page, address, "tabs-1")
    other = page.context.new_page()
    b.open_at(other, f"{address}/?case=tabs-1")
    other.locator('[data-tooth="26"]').click()
    wait_marked(other, 26)
    b.settle(other)
    page.locator('[data-tooth="16"]').click()
    page.get_by_role("button", name="Take the other tab's version").wait_for()
    assert page.get_by_text("changed in another tab").first.is_visible()
    page.get_by_role("button", name="Take the other tab's version").click()
    wait_marked(page, 26)
    b.settle(page)
    assert b.marks(page)[16] != "to be replaced"


def test_a_wrong_file_is_told_and_nothing_is_lost(page, address):
    begin_blank(page, address, "keep-1")
    page.get_by_text("Begin with …").click()
    page.get_by_text("A case file", exact=True).first.click()
    b.settle(page)
    page.locator('input[type="file"]').set_input_files(
        {
            "name": "wrong.yaml",
            "mimeType": "application/yaml",
            "buffer": b"format: 1\nid: x\narch: maxila\nmissing: [15]\n",
        }
    )
    page.wait_for_selector("text=was not taken in")
    b.settle(page)
    assert page.get_by_text("wrong.yaml:3").first.is_visible()
    assert page.get_by_text("keep-1").first.is_visible()


def test_a_figure_typed_into_the_survey_table_is_kept_by_tooth(page, address):
    b.open_at(page, f"{address}/?case=harbour-0001")
    page.get_by_text("Abutments ·").click()
    grid = page.locator('[data-testid="stDataFrame"]').first
    grid.wait_for()
    b.settle(page)
    grid.scroll_into_view_if_needed()
    box = grid.bounding_box()
    assert box is not None
    # second row (tooth 43), first figure column
    page.mouse.dblclick(box["x"] + 130, box["y"] + 36 + 34 * 1.5)
    page.wait_for_timeout(300)
    # A decimal comma has to stay one: 0,25 must never become 25.
    page.keyboard.type("0,25", delay=120)
    page.keyboard.press("Enter")
    page.wait_for_timeout(1500)
    b.settle(page)
    page.reload()
    page.wait_for_selector("[data-tooth]")
    b.settle(page)
    page.get_by_role("button", name="Download the case file (YAML)").scroll_into_view_if_needed()
    with page.expect_download() as waited:
        page.get_by_role("button", name="Download the case file (YAML)").click()
    import yaml

    case = yaml.safe_load(waited.value.path().read_bytes())
    by_tooth = {entry["tooth"]: entry for entry in case["abutments"]}
    assert by_tooth[43]["undercuts_mm"]["mesiofacial"] == 0.25
    assert by_tooth[44]["undercuts_mm"]["mesiofacial"] == 0.1


def test_free_text_is_shown_as_it_was_typed_and_fetches_nothing(page, address):
    """A link sent by somebody else, and a case with markup in its texts: both are only text here."""
    picture = "![x](https://pictures.invalid/p.png)"
    b.open_at(page, f"{address}/?case={picture}")
    assert page.get_by_text(picture).first.is_visible()
    case = {
        "format": 1, "id": "markup-1", "arch": "maxilla", "missing": [15, 16], "title": picture,
        "prescription": {"connector": "u_shaped", "note": f"{picture} **bold**"},
    }  # fmt: skip
    page.get_by_text("A case file", exact=True).first.click()
    b.settle(page)
    page.locator('input[type="file"]').set_input_files(
        {"name": "markup.json", "mimeType": "application/json", "buffer": json.dumps(case).encode()}
    )
    page.wait_for_selector("[data-tooth]")
    for name in ("advice", "precedents", "talk", ""):
        b.open_at(page, f"{address}/{name}?case=markup-1")
        page.wait_for_timeout(500)
    assert page.locator("img[src*='pictures.invalid']").count() == 0
    assert page.outside == []


# What lies under the pointer, watched until the page has been quiet for long enough to work the list out anew.
WATCH = """([x, y, ms]) => new Promise((done) => {
  const top = () => {
    const e = document.elementFromPoint(x, y);
    if (e && e.closest('[data-baseweb="popover"], [role="listbox"]')) { return first; }  // an open list lies over it
    const box = e && e.closest('[data-testid="stElementContainer"], [data-testid="stCustomComponentV2"]');
    return box ? box.getBoundingClientRect().top : null;
  };
  let first = 0, worst = 0;
  first = top();
  const until = performance.now() + ms;
  const look = () => {
    const now = top();
    worst = Math.max(worst, first === null || now === null ? 999 : Math.abs(now - first));
    if (performance.now() < until) { requestAnimationFrame(look); } else { done(worst); }
  };
  look();
})"""


def test_entries_in_a_row_leave_the_page_where_it_is_and_close_no_list(page, address):
    """Entries one after another while what to record next is worked out anew; every fourth time a list is opened."""
    b.open_at(page, f"{address}/?case=harbour-0012")
    fields = page.locator('[class*="st-key-field-next-"]')
    fields.nth(5).wait_for(timeout=30_000)
    b.settle(page)
    closed, moved = [], []
    for number in range(20 if os.environ.get("RPD_LONG") else 9):
        b.settle(page)
        named = re.search(r"st-key-field-next-\S+", fields.nth(number % 6).get_attribute("class"))
        assert named is not None
        field = page.locator(f".{named[0]}")  # this very field, wherever it may go
        field.scroll_into_view_if_needed()
        if field.locator("input[type=number]").count():
            field.locator("input").fill("0")
        else:
            field.locator("input").first.click()
            page.keyboard.press("ArrowDown")
            page.keyboard.press("ArrowDown")
        page.keyboard.press("Enter")
        box = field.bounding_box()
        assert box is not None, "the field went away under the entry"
        at = [box["x"] + 40, box["y"] + box["height"] - 12]
        page.mouse.move(*at)
        moved.append(page.evaluate(WATCH, [*at, 250]))
        if number % 4:
            continue
        b.settle(page)
        coming = (fields.nth((number + away) % 6) for away in range(1, 6))
        other = next(one for one in coming if not one.locator("input[type=number]").count())
        other.locator("input").first.click()
        opened = page.get_by_role("listbox").first
        opened.wait_for(timeout=5_000)
        stood = field.bounding_box()
        moved.append(page.evaluate(WATCH, [*at, 1500]))
        now = field.bounding_box()
        assert stood is not None
        assert now is not None
        moved.append(abs(now["y"] - stood["y"]))
        closed.append(not opened.is_visible())
        page.keyboard.press("Escape")
    told = f"{len(moved)} looks after entries: moved by at most {max(moved):.1f} px"
    print(f"{told}; {sum(closed)} of {len(closed)} open lists closed by themselves")
    assert not any(closed), f"{sum(closed)} of {len(closed)} open lists closed by themselves"
    assert max(moved) <= 4, f"something under the pointer moved by {max(moved):.0f} px"


def test_what_waits_is_sent_together_and_again_but_never_into_a_run_that_goes_on(chromium):
    """The arch without a server: keys typed while it is drawn anew, a run that takes long, an answer that is lost."""
    page = chromium.new_page()
    script = chart._JS.replace("export default function", "window.make = function")
    page.set_content(
        f'<div data-testid="stApp" data-test-script-state="running"></div><div id="here">{chart._HTML}</div>'
        f'<script type="module">{script}</script>'
    )
    page.wait_for_function("() => !!window.make")
    svg = chart.drawing(demo_source().get("harbour-0001"), "iso")
    found = page.evaluate(
        """async ([svg, order]) => {
          const sent = [], here = document.getElementById('here'), app = document.querySelector('[data-testid]');
          const draw = (seen) => window.make({ data: { svg, order, seen, label: '', hint: '' }, parentElement: here,
            setTriggerValue: (_, value) => sent.push(JSON.parse(JSON.stringify(value))) });
          const key = (name) => document.activeElement.dispatchEvent(
            new KeyboardEvent('keydown', { key: name, bubbles: true }));
          const wait = (ms) => new Promise((done) => setTimeout(done, ms));
          draw(0);
          here.querySelector(`[data-tooth="${order[0]}"]`).focus();
          for (let i = 0; i < 10; i++) { key('Enter'); if (i % 3 === 0) { draw(0); } key('ArrowRight'); }
          await wait(300);
          const together = sent.length;
          await wait(1500);
          const running = sent.length;
          app.dataset.testScriptState = 'notRunning';
          await wait(3000);
          const again = sent.length;
          draw(10);
          await wait(4500);
          return { together, running, again, end: sent.length, last: sent[sent.length - 1] };
        }""",
        [svg, list(ARCH_ORDER["mandible"])],
    )
    page.close()
    assert [click["tooth"] for click in found["last"]["clicks"]] == list(ARCH_ORDER["mandible"][:10])
    assert found["together"] == found["running"] == 2, "the first at once, nine together, none into the run"
    assert found["again"] > 2, "what had no answer was sent again"
    assert found["end"] <= found["again"] + 1
    assert found["last"]["turn"] == found["end"]
