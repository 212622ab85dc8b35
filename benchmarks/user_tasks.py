"""Three users' tasks in a real browser, counted: clicks, keystrokes, seconds, and words on the first screen.

    python -m benchmarks.user_tasks                    # this checkout
    python -m benchmarks.user_tasks --root CHECKOUT    # another one, such as the commit before a change
    python -m benchmarks.user_tasks --first-look [--pictures FOLDER]   # the advice of 20 demo cases: words and pixels
    python -m benchmarks.user_tasks --first-look --arch maxilla        # of all demo cases of an arch, 1280 wide

A junior enters an invented case by hand and from a pasted order; a senior has a dentist on the telephone; a bench
technician wants the ticket. Every way is the shortest that the page offers: where it has no drawing of teeth to enter
figures on, the table is typed into. Seconds are those of the machine with no thinking time, so only their ratio tells.
"""

import argparse
import os
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from statistics import median
from typing import Any

from recommender.precedents.source import demo_source
from tests.screens import browser as b

_ORDER = (
    "upper RPD, missing 15, 16, 25, 26; abutments 14, 17, 24, 27; "
    "clearance 7 mm; high smile line; wants little metal"
)
_ABUTMENTS = ((17, ("1", "1", "0")), (14, ("0", "1", "1")), (24, ("1", "1", "0")), (27, ("0", "1", "1")))
_TRIES = 8
_MM = {"0": "0", "1": "0.25"}
# Words that are painted: with letters or digits in them, whatever the menu says too, or the page alone.
_WORDS = """([main, tall]) => {
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  let count = 0;
  const menu = main ? ', [data-testid="stSidebar"]' : '';
  const outside = 'style, script, noscript, [data-testid="stIconMaterial"]' + menu;
  while (walk.nextNode()) {
    const e = walk.currentNode.parentElement;
    if (!e || e.closest(outside) || !e.checkVisibility({visibilityProperty: true})) continue;
    const range = document.createRange();
    range.selectNodeContents(walk.currentNode);
    const r = range.getBoundingClientRect();
    if (r.width > 0 && r.height > 0 && r.top < (tall ? 1e6 : innerHeight) && r.bottom > (tall ? -1e6 : 0)) {
      count += (walk.currentNode.textContent.match(/\\S*[\\p{L}\\p{N}]\\S*/gu) || []).length;
    }
  }
  return count;
}"""


class Hand:
    """A hand on mouse and keys that counts."""

    def __init__(self, page: Any) -> None:
        self.page = page
        self.clicks = self.keys = 0

    def click(self, target: Any, times: int = 1) -> None:
        """A click, or a double click."""
        self.clicks += times
        target.click(click_count=times)
        b.settle(self.page)

    def at(self, x: float, y: float) -> None:
        """A double click at a place, as into the cell of a table."""
        self.clicks += 2
        self.page.mouse.dblclick(x, y)
        self.page.wait_for_timeout(250)

    def type(self, text: str) -> None:
        """Every letter is a keystroke."""
        self.keys += len(text)
        self.page.keyboard.type(text, delay=15)

    def press(self, *names: str) -> None:
        """Named keys."""
        for name in names:
            self.keys += 1
            self.page.keyboard.press(name)

    def into(self, label: str, text: str) -> None:
        """A click into a field, its text, Enter."""
        self.click(self.page.get_by_label(label, exact=True).first)
        self.type(text)
        self.press("Enter")
        b.settle(self.page)

    def pick(self, label: str, option: str) -> None:
        """Choose in a list by mouse; a list that closed by itself is opened again, and every click counts."""
        for _ in range(_TRIES):
            self.click(self.page.get_by_role("combobox", name=label).first)
            wanted = self.page.get_by_role("option", name=option, exact=True).first
            with suppress(Exception):
                wanted.click(timeout=3_000)
                self.clicks += 1
                b.settle(self.page)
                return
        raise RuntimeError(f"{label}: the list closed by itself {_TRIES} times")


def by_hand(hand: Hand, address: str) -> None:
    """The whole case by mouse and keys."""
    page = hand.page
    b.open_at(page, address)
    hand.click(page.get_by_text("A blank arch").first)
    hand.click(page.get_by_role("button", name="Start with a full arch"))
    page.wait_for_selector("[data-tooth]")
    hand.into("Teeth missing, to be replaced", "15, 16, 25, 26")
    hand.into("Abutments", "14, 17, 24, 27")
    drawn = page.locator('[data-at="17.distofacial"]')
    with suppress(Exception):
        drawn.wait_for(timeout=4_000)
    if drawn.count():
        _on_drawings(hand)
        for label in ("Space at 16, vertical clearance (mm)", "Space at 25, vertical clearance (mm)"):
            hand.into(label, "7")
        hand.pick("Smile line", "high")
        hand.pick("Importance of appearance", "high")
        hand.pick("Palatal torus", "none")
        return
    tables = page.locator('[data-testid="stDataFrame"]')
    for row, (_, figures) in enumerate(_ABUTMENTS):
        box = tables.first.bounding_box()
        for column, figure in enumerate(figures):
            tables.first.scroll_into_view_if_needed()
            box = tables.first.bounding_box()
            hand.at(box["x"] + 130 + 110 * column, box["y"] + 36 + 34 * (row + 0.5))
            hand.type(_MM[figure])
            hand.press("Enter")
            b.settle(page)
    for row in range(2):
        tables.nth(1).scroll_into_view_if_needed()
        box = tables.nth(1).bounding_box()
        hand.at(box["x"] + 130, box["y"] + 36 + 34 * (row + 0.5))
        hand.type("7")
        hand.press("Enter")
        b.settle(page)
    for fold, label, option in (
        ("Patient and smile", "Smile line", "high"), ("", "Importance of appearance", "high"),
        ("Palate", "Palatal torus", "none"),
    ):  # fmt: skip
        if fold:
            hand.click(page.get_by_text(fold, exact=True).first)
        hand.pick(label, option)


def _on_drawings(hand: Hand) -> None:
    """One click to begin, then a key a figure; arrows pass over the lingual figures."""
    first = hand.page.locator('[data-at^="17."]').first
    hand.click(first)
    for _, figures in _ABUTMENTS:
        hand.press(*figures, "ArrowRight", "ArrowRight", "ArrowRight")
    b.settle(hand.page)


def from_an_order(hand: Hand, address: str) -> None:
    """The same teeth, wishes and clearance from a pasted order (paste counts as one keystroke)."""
    page = hand.page
    b.open_at(page, address)
    hand.click(page.get_by_text("Read an order").first)
    hand.click(page.get_by_role("textbox", name="The order"))
    page.get_by_role("textbox", name="The order").fill(_ORDER)
    hand.keys += 2
    hand.click(page.get_by_role("button", name="Read it"))
    hand.click(page.get_by_role("button", name="Begin a case with what stands above"))
    page.wait_for_selector("[data-tooth]")
    if page.locator('[data-at^="17."]').count():
        _on_drawings(hand)


def on_the_telephone(hand: Hand, address: str) -> None:
    """From the case to what keeping the prescribed connector costs."""
    page = hand.page
    b.open_at(page, f"{address}/?case=harbour-0052")
    hand.click(page.get_by_test_id("stSidebarNavItems").get_by_role("link", name="Talk it over").first)
    page.wait_for_selector("text=To follow costs")
    b.settle(page)
    price = page.get_by_text("points behind the leading option").first
    price.wait_for(state="attached")
    while not price.evaluate("e => e.getBoundingClientRect().bottom < innerHeight"):
        hand.press("PageDown")
        page.mouse.wheel(0, 700)
        page.wait_for_timeout(150)


def for_the_bench(hand: Hand, address: str) -> None:
    """From the case to its ticket."""
    page = hand.page
    b.open_at(page, f"{address}/?case=harbour-0012")
    hand.click(page.get_by_test_id("stSidebarNavItems").get_by_role("link", name="Talk it over").first)
    ticket = page.get_by_role("button", name="Ticket (PDF)")
    ticket.wait_for()
    b.settle(page)
    if not ticket.is_enabled():
        why = page.get_by_role("textbox", name="Reason for printing its ticket")
        hand.click(why)
        hand.type("trial")
        hand.press("Enter")
        b.settle(page)
    with page.expect_download():
        hand.click(ticket)


_TASKS: tuple[tuple[str, Callable[[Hand, str], None]], ...] = (
    ("a case by hand", by_hand),
    ("a case from a pasted order", from_an_order),
    ("the price on the telephone", on_the_telephone),
    ("the ticket for the bench", for_the_bench),
)
_CASES = (1, 4, 7, 12, 16, 20, 25, 31, 37, 43, 48, 52, 60, 67, 73, 80, 88, 95, 103, 111)
_SCREENS = (
    ("nobody's first screen", ""),
    ("the advice", "advice?case=harbour-0012"),
    ("talk it over", "talk?case=harbour-0052"),
)


def main() -> None:
    """Serve a checkout, do every task once, print the counts."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--root", type=Path, default=Path(__file__).parents[1])
    parser.add_argument("--first-look", action="store_true", help="how much of the advice is seen at once")
    parser.add_argument("--arch", choices=("maxilla", "mandible"), help="with --first-look: all its demo cases")
    parser.add_argument("--pictures", type=Path, help="keep what is seen there as pictures")
    asked = parser.parse_args()
    root = asked.root.resolve()
    with tempfile.TemporaryDirectory() as folder, b.chromium() as browser:
        process, address = _serve(root, Path(folder))
        try:
            if asked.first_look:
                first_look(browser, address, asked.pictures, asked.arch)
                return
            for name, task in _TASKS:
                context = browser.new_context(viewport={"width": 1280, "height": 900}, accept_downloads=True)
                hand = Hand(context.new_page())
                begun = time.perf_counter()
                try:
                    task(hand, address)
                    told = (
                        f"{hand.clicks} clicks, {hand.keys} keystrokes, {time.perf_counter() - begun:.0f} s"
                    )
                except (
                    Exception
                ) as error:  # a page without the way that was tried: said, and the others go on
                    told = f"not done: {str(error).splitlines()[0]}"
                print(f"{name}: {told}", flush=True)
                context.close()
            for name, path in _SCREENS:
                context = browser.new_context(viewport={"width": 1280, "height": 900})
                page = context.new_page()
                b.open_at(page, f"{address}/{path}")
                page.wait_for_timeout(4_000)
                b.settle(page)
                seen, words = page.evaluate(_WORDS, [False, False]), page.evaluate(_WORDS, [True, True])
                tall = page.get_by_test_id("stMain").evaluate("m => m.scrollHeight")
                told = f"{seen} words in sight with menu and all, {words} on the whole page without it, {tall} pixels"
                print(f"{name}: {told}", flush=True)
                context.close()
        finally:
            process.terminate()
            process.wait(20)


def first_look(browser: Any, address: str, pictures: Path | None, arch: str | None) -> None:
    """Words in sight and the height of the whole page of the advice, in windows 900 pixels high: of 20 demo cases, or
    of all of one arch that are advised."""
    names = [f"harbour-{number:04}" for number in _CASES]
    if arch is not None:
        names = [case.id for case in demo_source().cases() if case.arch == arch and case.missing]
    for wide in (1280, 1440) if arch is None else (1280,):
        context = browser.new_context(viewport={"width": wide, "height": 900})
        page = context.new_page()
        rows = []
        for name in names:
            b.open_at(page, f"{address}/advice?case={name}")
            page.wait_for_timeout(700)
            b.settle(page)
            words = page.evaluate(_WORDS, [True, False])
            tall = page.get_by_test_id("stMain").evaluate("m => m.scrollHeight")
            rows.append((words, page.evaluate(_WORDS, [False, False]), tall))
            print(f"{wide} {name}: {words} words in sight, {rows[-1][1]} with the menu, {tall} pixels")
            if pictures is not None:
                pictures.mkdir(parents=True, exist_ok=True)
                page.screenshot(path=pictures / f"{name}-{wide}.png")
        for name, column in zip(("words", "words with the menu", "pixels"), zip(*rows, strict=True), strict=True):
            print(f"{wide} {name}: {min(column)} to {max(column)}, median {median(column):.0f}", flush=True)
        context.close()


def _serve(root: Path, folder: Path) -> tuple["subprocess.Popen[bytes]", str]:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    env = {
        **os.environ, "PYTHONPATH": str(root), "RPD_CASEBOOK_DRAFTS": str(folder / "drafts"),
        "XDG_CONFIG_HOME": str(folder),
    }  # fmt: skip
    command = [sys.executable, "-m", "recommender", "app", "--port", str(port), "--no-browser"]
    with (folder / "server.log").open("wb") as log:
        process = subprocess.Popen(command, cwd=folder, env=env, stdout=log, stderr=log)
    address = f"http://127.0.0.1:{port}"
    b._wait_for(address, process)
    return process, address


if __name__ == "__main__":
    main()
