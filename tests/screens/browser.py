"""A real Chromium on the running screens: shared by the tests that are marked ``browser``."""

import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
ROOT = Path(__file__).parents[2]


def need_browser() -> None:
    """Skip, with the reason, where no browser can be driven."""
    pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    if CHROMIUM is None:
        pytest.skip("no Chromium on this machine")


class Running(str):
    """The address of the screens, with the number of the process that serves them."""

    pid: int


def free_port() -> int:
    """A port on which nothing listens."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextmanager
def server(folder: Path, library: str | None = None, port: int | None = None) -> Iterator[Running]:
    """The screens as ``rpd-casebook app`` starts them, with working copies in ``folder``; gives the address."""
    port = port or free_port()
    env = {
        **os.environ,
        "RPD_CASEBOOK_DRAFTS": str(folder / "drafts"),
        "XDG_CONFIG_HOME": str(folder / "config"),
        "PYTHONPATH": str(ROOT),
    }
    env.pop("RPD_CASEBOOK_LIBRARY", None)
    command = [sys.executable, "-m", "recommender", "app", "--port", str(port), "--no-browser"]
    command += ["--library", library] if library else []
    with (folder / "server.log").open("wb") as log:
        process = subprocess.Popen(command, cwd=folder, env=env, stdout=log, stderr=log)
    address = Running(f"http://127.0.0.1:{port}")
    address.pid = process.pid
    try:
        _wait_for(address, process)
        yield address
    finally:
        process.terminate()
        process.wait(20)


def _wait_for(address: str, process: "subprocess.Popen[bytes]") -> None:
    until = time.monotonic() + 60
    while time.monotonic() < until:
        assert process.poll() is None, "the server stopped at once"
        try:
            urllib.request.urlopen(f"{address}/_stcore/health", timeout=2)
            return
        except (urllib.error.URLError, OSError):
            time.sleep(0.1)
    raise AssertionError("the server did not answer within a minute")


@contextmanager
def chromium() -> Iterator[object]:
    """A headless browser."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox", "--disable-gpu"])
        try:
            yield browser
        finally:
            browser.close()


def settle(page) -> None:
    """Wait until the page has run, how sure the parts are stands in its place, and it stayed quiet for a moment."""
    quiet = (
        "document.querySelector('[data-testid=\"stApp\"]')?.dataset.testScriptState === 'notRunning'"
        " && ![...document.querySelectorAll('.casebook-parts td')].some(cell => cell.textContent.trim() === '…')"
    )
    page.wait_for_function(quiet, timeout=30_000)
    page.wait_for_timeout(150)
    page.wait_for_function(quiet, timeout=30_000)


def open_at(page, address: str) -> None:
    """Go to an address and wait for the page's title."""
    page.goto(address)
    page.wait_for_selector("h1", timeout=30_000)
    settle(page)


def pick(page, label: str, option: str) -> None:
    """Choose in a select box by typing."""
    box = page.get_by_role("combobox", name=label, exact=False).first
    box.click()
    page.keyboard.type(option)
    page.keyboard.press("Enter")
    settle(page)


def marks(page) -> dict[int, str]:
    """The state of every tooth as the chart says it aloud."""
    found = page.locator("[data-tooth]").evaluate_all(
        "all => all.map(t => [t.dataset.tooth, t.getAttribute('aria-label')])"
    )
    return {int(tooth): label.split(", ", 1)[1] for tooth, label in found}
