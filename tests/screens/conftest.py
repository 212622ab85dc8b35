"""Pages run in process, each test with its own folder of working copies and the demo library."""

import re
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from tests.screens import browser

ROOT = Path(__file__).parents[2]


@pytest.fixture(autouse=True)
def own_drafts(tmp_path, monkeypatch):
    """Working copies of a test never meet the user's."""
    monkeypatch.setenv("RPD_CASEBOOK_DRAFTS", str(tmp_path / "drafts"))
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.delenv("RPD_CASEBOOK_LIBRARY", raising=False)
    return tmp_path / "drafts"


@pytest.fixture(scope="module")
def address(tmp_path_factory):
    """The screens as they are started, over the demo library, for the tests of one file."""
    browser.need_browser()
    with browser.server(tmp_path_factory.mktemp("server")) as found:
        yield found


@pytest.fixture(scope="module")
def chromium():
    """A headless browser for the tests of one file."""
    browser.need_browser()
    with browser.chromium() as found:
        yield found


def open_page(name: str, case: str | None = None, **params: str) -> AppTest:
    """One page as its visitor sees it, run once; ``case`` is the id in the address."""
    module = {"case": "intake", "talk": "dentist"}.get(name, name)
    script = (
        "import importlib\n"
        "from recommender.screens.session import state\n"
        "from recommender.screens.ui.router import _news\n"
        "state.sync()\n_news()\n"
        f"importlib.import_module('recommender.screens.{module}.page').page()\n"
    )
    at = AppTest.from_string(script, default_timeout=60)
    if case is not None:
        at.query_params["case"] = case
    for key, value in params.items():
        at.query_params[key] = value
    return at.run()


def unfold(at: AppTest, *names: str) -> AppTest:
    """Open what is folded away on a page, by the keys of its folds, until something is entered."""
    for name in names:
        at.session_state[name] = True
    return at.run()


def words_on(at: AppTest) -> str:
    """Everything that is written on the page, HTML included, as a reader sees it: without Markdown's backslashes."""
    kinds = ("markdown", "html", "error", "warning", "info", "caption", "subheader", "title", "success")
    found = []
    for kind in kinds:
        found += [str(getattr(one, "value", "") or getattr(one, "body", "")) for one in at.get(kind)]
    return as_read("\n".join(found))


def as_read(markdown: str) -> str:
    """Markdown without its backslashes."""
    return re.sub(r"\\([^\w\s])", r"\1", markdown)


def widget(at: AppTest, kind: str, key: str):
    """The widget of that key (or that view of it); fails with what there is instead."""
    mine = re.compile(re.escape(key) + r"(\.\d+)?")
    found = [one for one in at.get(kind) if mine.fullmatch(str(getattr(one, "key", None)))]
    assert found, f"no {kind} {key!r}; there are {[getattr(one, 'key', None) for one in at.get(kind)]}"
    return found[0]
