"""Preparing a case for the dentist in a real browser; and the designer's whole way by the keyboard alone."""

import re
from io import BytesIO

import pytest
import yaml
from pypdf import PdfReader

from recommender.domain.numbering import display
from recommender.precedents.source import demo_source
from tests.screens import browser as b
from tests.screens.test_talk import departing

pytestmark = [pytest.mark.browser, pytest.mark.xdist_group("browser")]


@pytest.fixture
def page(chromium):
    context = chromium.new_context(viewport={"width": 1280, "height": 900}, accept_downloads=True)
    yield context.new_page()
    context.close()


def printed(data: bytes) -> str:
    """The words of a PDF, with single spaces."""
    return " ".join(" ".join(one.extract_text() for one in PdfReader(BytesIO(data)).pages).split())


def downloaded(page, act) -> bytes:
    with page.expect_download() as waited:
        act()
    data: bytes = waited.value.path().read_bytes()
    return data


def test_a_case_is_prepared_printed_and_answered(page, address):
    name = departing()
    b.open_at(page, f"{address}/talk?case={name}&numbers=universal")
    box = page.get_by_role("textbox", name="In our words").first
    box.fill("We ask your leave to keep the metal off the front teeth.")
    box.press("Control+Enter")
    b.settle(page)
    letter = printed(downloaded(page, page.get_by_role("button", name="Letter (PDF)").click))
    assert "keep the metal off the front teeth" in letter
    assert "prescribing dentist" in letter
    first = demo_source().get(name).missing[0]
    named = [*demo_source().get(name).missing, *(a.tooth for a in demo_source().get(name).abutments or ())]
    assert any(re.search(rf"\b{display(tooth, 'universal')}\b", letter) for tooth in named), (
        "the letter keeps to the numbers on the screen"
    )
    assert not re.search(rf"\b{first}\b", letter)
    ticket = page.get_by_role("button", name="Ticket (PDF)")
    if not ticket.is_enabled():
        why = page.get_by_role("textbox", name="Reason for printing its ticket")
        why.fill("trial on a study cast")
        why.press("Enter")
        b.settle(page)
        assert "trial on a study cast" in printed(downloaded(page, ticket.click))
    answer = page.get_by_role("combobox", name="Answer on").first
    item = answer.get_attribute("aria-label")
    answer.click()
    page.get_by_role("option", name="declined").click()
    b.settle(page)
    why = page.get_by_role("textbox", name="Reason on").first
    why.fill("the patient will not have it")
    why.press("Enter")
    b.settle(page)
    page.get_by_role("button", name="Put this design into the case").click()
    page.get_by_text("The case holds this design").wait_for()
    page.reload()
    page.get_by_text("The case holds this design").wait_for()
    b.settle(page)
    assert (
        page.get_by_role("textbox", name="In our words").first.input_value().startswith("We ask your leave")
    )
    page.get_by_test_id("stSidebarNavItems").get_by_role("link", name="Take in a case").first.click()
    page.wait_for_selector("[data-tooth]")
    b.settle(page)
    get = page.get_by_role("button", name="Download the case file (YAML)")
    case = yaml.safe_load(downloaded(page, get.click))
    given = {(one["answer"], one["reason"]) for one in case["dentist_answer"]}
    assert ("declined", "the patient will not have it") in given, item
    assert case["design"]["connector"]


def tab_to(page, target, most: int = 150) -> None:
    """Press Tab until the target has the focus; fails where the keyboard does not get there."""
    at = "e => e === e.getRootNode().activeElement"
    for _ in range(most):
        if target.count() and target.first.evaluate(at):
            return
        page.keyboard.press("Tab")
    raise AssertionError("the keyboard does not get there")


def follow(page, name: str, tries: int = 3) -> None:
    """Follow a link of the sidebar by the keyboard; where it was drawn anew under the key, as a person would, again."""
    from playwright.sync_api import TimeoutError

    link = page.get_by_test_id("stSidebarNavItems").get_by_role("link", name=name).first
    there = "href => location.pathname === new URL(href, location.href).pathname"
    for left in reversed(range(tries)):
        tab_to(page, link)
        href = link.get_attribute("href")
        page.keyboard.press("Enter")
        try:
            page.wait_for_function(there, arg=href, timeout=10_000)
            return
        except TimeoutError:
            if not left:
                raise


def test_the_whole_way_by_the_keyboard_alone(page, address):
    b.open_at(page, address)
    tab_to(page, page.get_by_role("radio", name="A case file"))
    for _ in range(2):  # within a group of choices, arrow keys move
        page.keyboard.press("ArrowRight")
    page.keyboard.press("Enter")
    b.settle(page)
    tab_to(page, page.get_by_role("textbox", name="Case id"))
    page.keyboard.press("Control+A")
    page.keyboard.type("keys-only")
    page.keyboard.press("Tab")
    b.settle(page)
    tab_to(page, page.get_by_role("button", name="Start with a full arch"))
    page.keyboard.press("Enter")
    page.wait_for_selector("[data-tooth]")
    b.settle(page)
    tab_to(page, page.locator('[data-tooth][tabindex="0"]'))
    for key in ("Home", "ArrowRight", "ArrowRight", "Enter", "ArrowRight", "Enter"):
        page.keyboard.press(key)
    for tooth in (16, 15):
        page.locator(f'[data-tooth="{tooth}"][aria-label*="to be replaced"]').wait_for(timeout=20_000)
    b.settle(page)
    follow(page, "The advice")
    page.wait_for_selector(".casebook-drawing")
    b.settle(page)
    before = page.locator(".casebook-drawing img").first.get_attribute("src")
    for label, typed in (("Change a part", "Major"), ("Your choice", "complete")):
        tab_to(page, page.get_by_role("combobox", name=label))
        page.keyboard.type(typed)
        page.wait_for_timeout(300)
        page.keyboard.press("Enter")
        b.settle(page)
    assert page.locator(".casebook-drawing img").first.get_attribute("src") != before
    follow(page, "Talk it over")
    page.wait_for_selector("text=Letter to the dentist")
    b.settle(page)
    tab_to(page, page.get_by_role("button", name="Letter (PDF)"))
    letter = printed(downloaded(page, lambda: page.keyboard.press("Enter")))
    assert "keys-only" in letter
    assert "PROVISIONAL" in letter
