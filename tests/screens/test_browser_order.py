"""From a pasted order to a case in a real browser."""

import pytest

from tests.screens import browser as b

pytestmark = [pytest.mark.browser, pytest.mark.xdist_group("browser")]
ORDER = "upper RPD, missing 1-4, 14; I-bar #5, circumferential 12 & 15, horseshoe; no clasp on 11; wants little metal"
# The whole way from the pasted order to the case takes fewer clicks than this.
_MOST_CLICKS = 12


def test_a_pasted_order_becomes_a_case_and_undo_takes_it_back(chromium, address):
    context = chromium.new_context(viewport={"width": 1280, "height": 900})
    page = context.new_page()
    outside = []
    page.on(
        "request", lambda request: outside.append(request.url) if "127.0.0.1" not in request.url else None
    )
    b.open_at(page, address)
    clicks = 0

    def click(target):
        nonlocal clicks
        clicks += 1
        target.click()
        b.settle(page)

    click(page.get_by_text("Read an order").first)
    page.get_by_role("textbox", name="The order").fill(ORDER)
    click(page.get_by_role("button", name="Read it"))
    marked = page.locator(".casebook-order mark").all_inner_texts()
    assert "I-bar #5" in marked
    assert "no clasp on 11" in marked
    assert page.get_by_text("14 upper right first premolar: I-bar clasp").is_visible()
    assert page.locator("[data-tooth]").count() == 0, "nothing is taken over by reading"
    click(page.get_by_role("button", name="Begin a case with what stands above"))
    page.locator('[data-tooth="26"][aria-label*="to be replaced"]').wait_for(timeout=20_000)
    gone = {tooth for tooth, state in b.marks(page).items() if "to be replaced" in state}
    assert gone == {18, 17, 16, 15, 26}
    assert clicks <= _MOST_CLICKS
    assert page.get_by_role("button", name="taken over").count() == 5
    click(
        page.locator(".st-key-order_undo")
        .get_by_role("button")
        .or_(page.get_by_role("button", name="Undo"))
        .last
    )
    page.locator('[data-tooth="26"][aria-label*="to be replaced"]').wait_for(state="detached", timeout=20_000)
    assert not {tooth for tooth, state in b.marks(page).items() if "to be replaced" in state}
    assert not [url for url in outside if not url.startswith(("data:", "blob:"))], (
        "something left the machine"
    )
    context.close()
