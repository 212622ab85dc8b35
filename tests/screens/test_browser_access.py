"""Accessibility and narrow windows in a real browser.

W3C, Web Content Accessibility Guidelines 2.2 (2023): 1.4.10 reflow (1280 wide at 200 % is 640 CSS pixels); the rules
of axe-core for levels A and AA.
"""

import base64
import itertools
from importlib.resources import files

import pytest

from tests.screens import browser as b

pytestmark = [pytest.mark.browser, pytest.mark.xdist_group("browser")]
PAGES = ("", "survey", "advice", "precedents", "talk", "library", "practice", "rules")
_CASE = "?case=harbour-0001"
# What the framework below draws by itself and no page can change: markup of its menu and of the frames around widgets.
NOT_OURS = ('[data-testid="stSidebarNav"]', '[data-testid="stToolbar"]', '[data-testid="stDataFrame"]')


@pytest.fixture(scope="module")
def axe() -> str:
    """axe-core as the development dependency carries it."""
    return str(files("axe_playwright_python") / "axe.min.js")


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_no_serious_violation_of_ours(chromium, address, axe, scheme):
    context = chromium.new_context(viewport={"width": 1280, "height": 900}, color_scheme=scheme)
    page = context.new_page()
    found = []
    for name in ("/", *(f"{name}{_CASE}" for name in PAGES)):  # a newcomer's first screen, then every page with a case
        b.open_at(page, f"{address}/{name.removeprefix('/')}")
        page.add_script_tag(path=axe)
        result = page.evaluate(
            "([out, rules]) => axe.run({exclude: out.map(s => [s])}, {runOnly: rules})",
            [list(NOT_OURS), ["wcag2a", "wcag2aa", "wcag21aa", "wcag22aa"]],
        )
        assert result["passes"], "the checker did not run"
        for one in result["violations"]:
            if one["impact"] in ("serious", "critical"):
                nodes = [node["html"][:160] for node in one["nodes"][:3]]
                found.append((name, one["id"], nodes))
    context.close()
    assert found == []


@pytest.mark.parametrize("width", [640, 820])
def test_nothing_is_cut_off_sideways(chromium, address, width):
    context = chromium.new_context(viewport={"width": width, "height": 450})
    page = context.new_page()
    for name in PAGES:
        b.open_at(page, f"{address}/{name}{_CASE}")
        main = page.get_by_test_id("stMain")
        wide, room = main.evaluate("m => [m.scrollWidth, m.clientWidth]")
        assert wide <= room + 1, f"{name or 'case'} at {width}: {wide} in {room}"
        page.get_by_text("prescribing dentist decides").first.wait_for(timeout=10_000)
    context.close()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_a_page_prints_black_on_white_and_nothing_lies_over_anything(chromium, address, scheme):
    context = chromium.new_context(viewport={"width": 720, "height": 1000}, color_scheme=scheme)
    page = context.new_page()
    b.open_at(page, f"{address}/advice?case=harbour-0001")
    page.get_by_text("Every option, and why").click()
    page.get_by_text("Look into").wait_for()
    b.settle(page)
    page.emulate_media(media="print", color_scheme=scheme)
    page.wait_for_timeout(500)
    assert page.get_by_test_id("stSidebar").is_hidden()
    assert page.locator("button:visible").count() == 0
    colours = page.evaluate(
        "() => [getComputedStyle(document.querySelector('.stApp')).backgroundColor,"
        " ...Array.from(document.querySelectorAll('td, li, h1, h3'), e => getComputedStyle(e).color)]"
    )
    assert set(colours) == {"rgb(255, 255, 255)", "rgb(0, 0, 0)"}
    boxes = page.locator(".casebook-drawing, table.casebook, [data-testid=stVegaLiteChart]").evaluate_all(
        "all => all.map(e => e.getBoundingClientRect()).filter(r => r.height > 0).map(r => [r.top, r.bottom])"
    )
    assert len(boxes) > 3
    for (_, above), (below, _) in itertools.pairwise(sorted(boxes)):
        assert below >= above - 1
    context.close()


@pytest.mark.parametrize(("scheme", "ground"), [("light", "#ffffff"), ("dark", "#000000")])
def test_a_drawing_takes_the_theme_and_its_parts_tell_their_names(chromium, address, scheme, ground):
    context = chromium.new_context(viewport={"width": 1280, "height": 1000}, color_scheme=scheme)
    page = context.new_page()
    b.open_at(page, f"{address}/advice?case=harbour-0001")
    drawing = page.locator(".casebook-drawing").first
    drawing.scroll_into_view_if_needed()
    source = drawing.locator("img").get_attribute("src")
    svg = base64.b64decode(source.partition("base64,")[2]).decode()
    assert f'z" fill="{ground}"' in svg[: svg.index("<g ")]
    told = drawing.evaluate(
        "d => { const r = d.querySelector('img').getBoundingClientRect(), found = new Set();"
        " for (let i = 1; i < 60; i++) for (let j = 1; j < 40; j++) {"
        " const e = document.elementFromPoint(r.x + r.width * i / 60, r.y + r.height * j / 40);"
        " if (e && e.title) found.add(e.title); } return [...found]; }"
    )
    assert any(one.startswith("lingual bar") and len(one) > 30 for one in told), "a part tells its reason as well"
    assert "41: standing tooth" in told
    assert any(one.startswith("44: ") and "rest" in one for one in told)
    context.close()
