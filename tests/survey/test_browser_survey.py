"""The way from a scan to the ticket in a real browser, and the round trip of a click."""

import json
import re
from pathlib import Path

import pytest

from recommender.domain.case import Case
from recommender.screens.session import drafts
from recommender.survey.demo import demo_mesh
from recommender.survey.entry import dentition_of
from tests.screens import browser as b

pytestmark = [pytest.mark.browser, pytest.mark.xdist_group("browser")]
# invented: a list of teeth and nothing else
BARE = Case.model_validate(
    {"format": 1, "id": "bare-list", "arch": "mandible", "missing": [35, 36, 46], "absent": [38, 48]}
)


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("survey")


@pytest.fixture(scope="module")
def address(folder):
    b.need_browser()
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv(drafts.ENVIRONMENT, str(folder / "drafts"))
        drafts.save(BARE, 0)
    mesh = demo_mesh(dentition_of(BARE), BARE.id, edge_mm=0.4)
    # as large as scans are: more than what a small limit of the server would let pass
    text = "".join(f"v {x:.4f} {y:.4f} {z:.4f}\n" for x, y, z in mesh.points)
    text += "".join(f"f {a} {b} {c}\n" for a, b, c in mesh.faces + 1)
    (folder / "cast.obj").write_text(text + "# nothing more\n" * ((20_000_000 - len(text)) // 15))
    with b.server(folder) as found:
        yield found


@pytest.fixture
def page(address):
    with b.chromium() as chromium:
        context = chromium.new_context(viewport={"width": 1280, "height": 1000})
        found = context.new_page()
        found.set_default_timeout(90_000)
        yield found
        context.close()


def drawing(page, number: int = 0):
    return page.locator(".ink svg").nth(number)


def click_at(page, x: float, y: float, number: int = 0) -> None:
    """Click where the drawing has (x, y), by its own transformation."""
    svg = drawing(page, number)
    svg.scroll_into_view_if_needed()
    at = svg.evaluate(
        "(svg, [x, y]) => { const p = new DOMPoint(x, y).matrixTransform(svg.getScreenCTM()); return [p.x, p.y]; }",
        [x, y],
    )
    page.mouse.click(*at)
    settle(page)


def settle(page) -> None:
    quiet = "document.querySelector('[data-testid=\"stApp\"]')?.dataset.testScriptState === 'notRunning'"
    for _ in range(2):
        page.wait_for_timeout(300)
        page.wait_for_function(quiet, timeout=120_000)


def label_of(page, tooth: str) -> tuple[float, float]:
    """Where the number of a tooth is written in the drawing."""
    text = drawing(page).locator("text", has_text=re.compile(f"^{tooth}$")).first
    return float(text.get_attribute("x")), float(text.get_attribute("y"))


def press(page, name: str) -> None:
    page.get_by_role("button", name=name).first.click()
    settle(page)


def handle_near(page, x: float, y: float) -> tuple[float, float]:
    """The centre of the small ring nearest to (x, y): an end of an outline that can be picked up."""
    rings = drawing(page).evaluate(
        "svg => [...svg.querySelectorAll('circle[r=\"0.4\"]')].map(c => [+c.getAttribute('cx'), +c.getAttribute('cy')])"
    )
    return min(rings, key=lambda ring: (ring[0] - x) ** 2 + (ring[1] - y) ** 2)


def test_from_a_bare_list_of_teeth_and_a_scan_to_advice_and_ticket(page, address, folder: Path):
    clicks = 0
    b.open_at(page, f"{address}/survey?case={BARE.id}")
    assert page.get_by_text("A scan identifies a person").first.is_visible()
    page.locator("input[type=file]").first.set_input_files(folder / "cast.obj")
    clicks += 2  # the button of the picker, and the file
    page.wait_for_selector(".ink svg")
    settle(page)
    teeth = drawing(page).locator("text").all_text_contents()
    teeth = [text for text in teeth if text.isdigit()]
    left, right = label_of(page, teeth[0]), label_of(page, teeth[-1])
    front = label_of(page, teeth[len(teeth) // 2])
    page.get_by_text("The unit is right").click()
    settle(page)
    # the cross is drawn where the pointer was, whatever the width of the page
    for width, place in ((820, left), (1920, right)):
        page.set_viewport_size({"width": width, "height": 1000})
        settle(page)
        before = drawing(page).locator("circle[r='1.2']").count()
        click_at(page, place[0], place[1] - 1.1)
        crosses = drawing(page).locator("circle[r='1.2']")
        assert crosses.count() == before + 1
        scale = drawing(page).evaluate("svg => svg.getScreenCTM().a")
        found = [float(crosses.last.get_attribute(name)) for name in ("cx", "cy")]
        off = max(abs(found[0] - place[0]), abs(found[1] - (place[1] - 1.1)))
        assert off <= max(0.1, 1.0 / scale)  # a pointer stands on whole pixels
    page.set_viewport_size({"width": 1280, "height": 1000})
    settle(page)
    click_at(page, front[0], front[1] - 1.1)
    clicks += 4
    # the step has gone on to the side by itself
    page.wait_for_selector("text=Click on this tooth in the drawing")
    first = page.get_by_role("combobox", name="Click on this tooth").first.input_value() or teeth[0]
    x, y = label_of(page, re.sub(r"\D", "", first) or teeth[0])
    click_at(page, x, y - 1.1)
    clicks += 1
    # a cut is picked up by a click near its ring and set down by the next one
    x, y = label_of(page, "34")
    ring = handle_near(page, x, y + 5.0)
    click_at(page, ring[0] + 0.3, ring[1] + 0.3)
    assert page.get_by_text("Picked up").first.is_visible()
    click_at(page, ring[0] + 0.2, ring[1] - 0.6)
    clicks += 2
    moved = handle_near(page, ring[0], ring[1] - 0.6)
    assert abs(moved[0] - ring[0]) + abs(moved[1] - ring[1]) > 0.2
    press(page, "outlines are right")
    press(page, "Take this path")
    clicks += 2
    margins = 0
    for _ in range(8):
        button = page.get_by_role("button", name=re.compile("The margin and outline of"))
        if not button.count():
            break
        button.first.click()
        settle(page)
        margins += 1
    assert margins == 4
    press(page, "Take over the figures of")
    clicks += margins + 1
    print(f"\n{clicks} clicks from a list of teeth and a scan to a confirmed case of four abutments")
    assert clicks <= 25
    assert page.get_by_text("The case holds figures measured from a scan").first.is_visible()
    page.screenshot(path=str(folder / "taken.png"), full_page=True)
    drafts_kept = [path for path in (folder / "drafts").rglob("*") if path.is_file()]
    assert drafts_kept
    for path in drafts_kept:
        saved = path.read_bytes()
        assert len(saved) < 200_000
        assert b"vertices" not in saved
        data = json.loads(saved)
        assert data["case"]["survey"]["scan"]["side_confirmed"] is True
        assert data["case"]["survey"]["confirmed"] == [34, 37, 45, 47]
        assert any(
            isinstance(v, dict) for a in data["case"]["abutments"] for v in a.get("undercuts_mm", {}).values()
        )
    page.get_by_role("link", name="To the advice").click()
    page.wait_for_selector(".casebook-drawing")
    page.go_back()
    settle(page)
    page.get_by_role("link", name="Letter and ticket").first.click()
    page.wait_for_selector("text=Letter to the dentist")
    settle(page)
    scans = [path for path in folder.rglob("*") if path.suffix in (".stl", ".ply", ".obj")]
    assert scans == [folder / "cast.obj"]
