"""The screens in a real browser: from start to first page, from a chosen part to the redrawn advice, many at once.

    python -m benchmarks.screens [--library sqlite:///cases.db] [--changes 40] [--sessions 20]

Times are taken inside Chromium: from the key that takes an option to the moment when the drawing of the framework is
another one, and until the whole page has run. Chromium, the server and this script share the machine, so the figures
are what one person at this machine waits. Memory is the server's, and that of the programs it started. Prints JSON.
"""

import argparse
import json
import os
import subprocess
import tempfile
import time
from pathlib import Path
from statistics import median, quantiles
from typing import Any

from recommender.precedents.source import demo_source
from recommender.screens.session import drafts
from tests.screens import browser as b

CASES = ("harbour-0001", "harbour-0007", "harbour-0020", "harbour-0045", "harbour-0060")
_WATCH = """
() => {
  const now = () => document.querySelector('.casebook-drawing img')?.src;
  document.addEventListener('keydown', (event) => {
    if (event.key !== 'Enter') { return; }
    const before = now(), start = performance.now();
    window.redrawn = null;
    const seen = new MutationObserver(() => {
      const after = now();
      if (after !== undefined && after !== before) {
        window.redrawn = performance.now() - start; window.began = start; seen.disconnect();
      }
    });
    seen.observe(document.body, { subtree: true, childList: true, attributes: true, attributeFilter: ['src'] });
  }, true);
}
"""


def put_in_work(folder: Path, sessions: int) -> None:
    """Working copies of the demo cases that are asked for, so that they can be opened beside any library."""
    os.environ[drafts.ENVIRONMENT] = str(folder / "drafts")
    wanted = {*CASES, *(f"harbour-{turn + 1:04}" for turn in range(sessions))}
    for name in sorted(wanted):
        drafts.save(demo_source().get(name), 0, {})


def memory_mb(pid: int) -> float:
    """Resident memory of a process and of those it started, in MB."""
    said = subprocess.run(["ps", "-e", "-o", "pid=,ppid=,rss="], capture_output=True, text=True, check=True)
    rows = [tuple(map(int, line.split())) for line in said.stdout.splitlines()]
    family = {pid}
    while more := {child for child, parent, _ in rows if parent in family} - family:
        family |= more
    return sum(rss for child, _, rss in rows if child in family) / 1024


def spread(milliseconds: list[float]) -> dict[str, float]:
    """Median and 95th percentile, in ms."""
    high = quantiles(milliseconds, n=20)[-1] if len(milliseconds) > 1 else milliseconds[0]
    return {"median_ms": round(median(milliseconds)), "p95_ms": round(high), "n": len(milliseconds)}


def first_page(browser: Any, address: str, began: float) -> dict[str, float]:
    """Seconds until a case can be taken in, and until the first advice is drawn.

    ``cold`` counts from the start of the server, with a browser that has seen nothing of it; ``warm`` is the same
    browser coming again.
    """
    found = {}
    context = browser.new_context()
    page = context.new_page()
    for name in ("cold", "warm"):
        start = began if name == "cold" else time.perf_counter()
        page.goto(f"{address}/?case={CASES[0]}")
        page.wait_for_selector("[data-tooth]", timeout=120_000)
        found[f"{name}_take_in_s"] = round(time.perf_counter() - start, 2)
        page.goto(f"{address}/advice?case={CASES[0]}")
        page.wait_for_selector(".casebook-drawing img", timeout=600_000)
        found[f"{name}_both_s"] = round(time.perf_counter() - start, 2)
    context.close()
    return found


def changed_parts(browser: Any, address: str, changes: int) -> dict[str, dict[str, float]]:
    """Another option taken for a part, again and again, on several cases."""
    drawn: list[float] = []
    whole: list[float] = []
    each = max(1, changes // len(CASES))
    for case in CASES:
        context = browser.new_context(viewport={"width": 1280, "height": 900})
        page = context.new_page()
        b.open_at(page, f"{address}/advice?case={case}")
        page.wait_for_selector(".casebook-drawing img", timeout=600_000)
        b.settle(page)
        b.pick(page, "Change a part", "Major connector")
        page.evaluate(_WATCH)
        for turn in range(each):
            page.get_by_role("combobox", name="Your choice").first.click()
            for _ in range(1 + turn % 3):
                page.keyboard.press("ArrowDown")
            page.wait_for_timeout(50)
            page.keyboard.press("Enter")
            try:
                page.wait_for_function(
                    "window.redrawn !== null && window.redrawn !== undefined", timeout=3_000
                )
            except Exception:  # the same drawing: the option that was taken already
                continue
            drawn.append(page.evaluate("window.redrawn"))
            page.wait_for_function(_QUIET, timeout=60_000)
            whole.append(page.evaluate("performance.now() - window.began"))
            b.settle(page)
        context.close()
    return {"drawing": spread(drawn), "whole_page": spread(whole)}


_QUIET = "document.querySelector('[data-testid=\"stApp\"]')?.dataset.testScriptState === 'notRunning'"


def at_once(browser: Any, address: str, sessions: int, pid: int) -> dict[str, float]:
    """Many sessions opened together, each on the advice; seconds until all are drawn, and memory of each."""
    before = memory_mb(pid)
    contexts = [browser.new_context() for _ in range(sessions)]
    pages = [context.new_page() for context in contexts]
    start = time.perf_counter()
    for turn, page in enumerate(pages):
        page.goto(f"{address}/advice?case=harbour-{turn + 1:04}", wait_until="commit")
    for page in pages:
        page.wait_for_selector(".casebook-drawing img", timeout=600_000)
    seconds = time.perf_counter() - start
    wrong = sum(page.locator('[data-testid="stException"]').count() for page in pages)
    after = memory_mb(pid)
    for context in contexts:
        context.close()
    return {
        "sessions": sessions, "all_drawn_s": round(seconds, 1), "exceptions": wrong,
        "server_mb": round(before), "mb_each": round((after - before) / sessions, 1),
    }  # fmt: skip


def main() -> None:
    """Runs all three and prints JSON."""
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--library", default=None)
    ask.add_argument("--changes", type=int, default=40)
    ask.add_argument("--sessions", type=int, default=20)
    said = ask.parse_args()
    with tempfile.TemporaryDirectory() as folder, b.chromium() as browser:
        put_in_work(Path(folder), said.sessions)
        began = time.perf_counter()
        with b.server(Path(folder), said.library) as started:
            found: dict[str, Any] = {"answers_after_s": round(time.perf_counter() - began, 2)}
            found["first_page"] = first_page(browser, started, began)
            found["change_a_part"] = changed_parts(browser, started, said.changes)
            if said.sessions:
                found["at_once"] = at_once(browser, started, said.sessions, started.pid)
            print(json.dumps(found, indent=1))


if __name__ == "__main__":
    main()
