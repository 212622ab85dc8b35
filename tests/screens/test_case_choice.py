"""Choosing a stored case: a short list is offered whole, a long one is narrowed first."""

import pytest
from streamlit.testing.v1 import AppTest

from recommender.screens.ui.case_choice import MOST
from tests.screens.conftest import widget, words_on

SCRIPT = """
import streamlit as st
from recommender.precedents.store.records import Head
from recommender.screens.ui.case_choice import choose
heads = [
    Head(
        id=f"lab-{{n:05}}", revision=1, arch="mandible", kennedy="Class I", status="approved", outcome_known=False,
        age=None, fingerprint="", format=1, title=f"Case of row {{n}}", updated_at="2026-01-01T00:00:00",
    )
    for n in range({count})
]
st.write("chosen", choose("Case", heads, "pick"))
"""


def drawn(count: int) -> AppTest:
    at = AppTest.from_string(SCRIPT.format(count=count), default_timeout=30).run()
    assert not at.exception, at.exception
    return at


@pytest.mark.parametrize("count", [0, 3, MOST])
def test_a_short_list_is_offered_whole(count):
    at = drawn(count)
    assert len(widget(at, "selectbox", "pick").options) == count
    assert not at.text_input


def test_a_long_list_is_narrowed_by_number_or_title():
    at = drawn(20 * MOST)
    assert len(widget(at, "selectbox", "pick").options) == MOST
    assert "10,000 cases" in words_on(at)
    widget(at, "text_input", "pick.text").set_value("row 9999").run()
    assert [option.split(" · ")[0] for option in widget(at, "selectbox", "pick").options] == ["lab-09999"]
    widget(at, "selectbox", "pick").select_index(0).run()
    assert "lab-09999" in words_on(at)
    widget(at, "text_input", "pick.text").set_value("LAB-00012").run()
    assert "chosen None" in words_on(at).replace("`", ""), "what is no longer listed is no longer chosen"
    widget(at, "text_input", "pick.text").set_value("nothing like it").run()
    assert widget(at, "selectbox", "pick").options == []
