"""The frame around every page: menu, caution, purpose, undo, news from another tab, the case in the address."""

import tomllib

from streamlit.testing.v1 import AppTest

from recommender.domain.fields import with_field
from recommender.screens.session import drafts
from recommender.screens.ui import words
from recommender.screens.ui.links import SCREENS
from tests.screens.conftest import ROOT, as_read, open_page, widget, words_on


def whole_app(case: str | None = None) -> AppTest:
    at = AppTest.from_file(str(ROOT / "app.py"), default_timeout=60)
    if case:
        at.query_params["case"] = case
    return at.run()


def test_first_page_says_what_it_is_for_and_who_decides():
    at = whole_app()
    assert not at.exception
    said = words_on(at)
    for sentence in (words.PURPOSE, words.CAUTION, words.NO_LOGIN, words.INVENTED, words.NO_IDENTITY):
        assert sentence.replace("'", "&#x27;") in said or sentence in said


def test_page_names_and_addresses_are_unique():
    for part in ("name", "title", "module"):
        assert len({getattr(screen, part) for screen in SCREENS}) == len(SCREENS) == 8


def test_case_in_the_address_is_opened_and_stays_there():
    at = whole_app("harbour-0001")
    assert not at.exception
    assert "harbour-0001" in words_on(at)
    assert at.query_params["case"] in ("harbour-0001", ["harbour-0001"])


def test_unknown_case_in_the_address_is_told_and_dropped():
    at = whole_app("nobody-1")
    assert any("nobody-1" in as_read(error.value) for error in at.error)
    assert "case" not in at.query_params


def test_universal_numbers_change_what_is_shown_and_not_the_case():
    at = whole_app("harbour-0001")
    widget(at, "radio", "casebook.numbers_widget").set_value("universal").run()
    assert "third molars 32, 17" in words_on(at).lower()
    assert at.session_state["casebook"]["casebook.case"].missing == [47, 46, 45, 35, 36, 37]
    assert at.query_params["numbers"] in ("universal", ["universal"])


def test_undo_and_redo_walk_through_every_change():
    at = whole_app("harbour-0001")
    box = widget(at, "text_input", "take_in.list.missing")
    box.set_value("47, 46, 45").run()
    widget(at, "text_input", "take_in.list.absent").set_value("48, 38, 37").run()
    assert at.session_state["casebook"]["casebook.case"].absent == [48, 37, 38]
    widget(at, "button", "casebook.undo_button").click().run()
    widget(at, "button", "casebook.undo_button").click().run()
    assert at.session_state["casebook"]["casebook.case"].missing == [47, 46, 45, 35, 36, 37]
    widget(at, "button", "casebook.redo_button").click().run()
    assert at.session_state["casebook"]["casebook.case"].missing == [47, 46, 45]


def test_every_change_is_on_disk_at_once_and_a_new_session_finds_it():
    at = open_page("case", "harbour-0001")
    widget(at, "text_input", "take_in.list.missing").set_value("47, 46").run()
    kept = drafts.load("harbour-0001")
    assert kept is not None
    assert kept.case.missing == [47, 46]
    again = open_page("case", "harbour-0001")
    assert again.session_state["casebook"]["casebook.case"].missing == [47, 46]


def test_two_tabs_on_one_case_never_write_over_each_other_unseen():
    first, second = open_page("case", "harbour-0001"), None
    widget(first, "text_input", "take_in.list.missing").set_value("47, 46").run()
    second = open_page("case", "harbour-0001")
    widget(second, "text_input", "take_in.list.missing").set_value("36, 37").run()
    widget(first, "text_input", "take_in.list.absent").set_value("48").run()
    assert "another tab" in first.warning[0].value
    kept = drafts.load("harbour-0001")
    assert kept is not None
    assert kept.case.missing == [36, 37], "the second tab's work was written over"
    widget(first, "button", "casebook.take_theirs").click().run()
    assert first.session_state["casebook"]["casebook.case"].missing == [36, 37]
    widget(second, "text_input", "take_in.list.absent").set_value("48").run()
    assert not second.warning, "a tab that has seen everything is not warned"


def test_keeping_mine_is_a_choice_and_theirs_can_be_had_back():
    first = open_page("case", "harbour-0001")
    widget(first, "text_input", "take_in.list.missing").set_value("47, 46").run()
    kept = drafts.load("harbour-0001")
    assert kept is not None
    drafts.save(with_field(kept.case, "title", "theirs"), kept.revision)
    first.run()
    widget(first, "button", "casebook.keep_mine").click().run()
    now = drafts.load("harbour-0001")
    assert now is not None
    assert now.case.title != "theirs"
    assert any(case.title == "theirs" for case, _ in first.session_state["casebook"]["casebook.undo"])


def test_a_damaged_working_copy_is_told_and_left_as_it_is(own_drafts):
    own_drafts.mkdir(parents=True)
    path = own_drafts / "harbour-0001.json"
    path.write_text("{not json")
    at = open_page("case", "harbour-0001")
    assert any("harbour-0001.json" in as_read(error.value) for error in at.error)
    assert path.read_text() == "{not json"


def test_settings_keep_the_screens_private():
    settings = tomllib.loads((ROOT / ".streamlit" / "config.toml").read_text())
    assert settings["browser"]["gatherUsageStats"] is False
    assert settings["server"]["address"] == "127.0.0.1"


def test_command_starts_the_server_on_the_loopback_address_only():
    from recommender.cli.app import arguments

    given = arguments(8600, no_browser=True)
    assert "--server.address=127.0.0.1" in given
    assert "--browser.gatherUsageStats=false" in given
    assert "--server.port=8600" in given


def _luminance(colour: str) -> float:
    def linear(part: int) -> float:
        share = part / 255
        return share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4

    red, green, blue = (int(colour[i : i + 2], 16) for i in (1, 3, 5))
    return 0.2126 * linear(red) + 0.7152 * linear(green) + 0.0722 * linear(blue)


def test_colours_keep_the_contrast_of_wcag_2_2():
    """W3C, Web Content Accessibility Guidelines 2.2 (2023), 1.4.3 and the relative luminance it defines."""

    def ratio(first: str, second: str) -> float:
        light, dark = sorted((_luminance(first), _luminance(second)), reverse=True)
        return (light + 0.05) / (dark + 0.05)

    assert round(ratio("#ffffff", "#000000"), 2) == 21.0
    theme = tomllib.loads((ROOT / ".streamlit" / "config.toml").read_text())["theme"]
    for name in ("light", "dark"):
        colours = theme[name]
        for ground in ("backgroundColor", "secondaryBackgroundColor"):
            assert ratio(colours["textColor"], colours[ground]) >= 4.5
            assert ratio(colours["linkColor"], colours[ground]) >= 4.5
        assert ratio("#ffffff", colours["primaryColor"]) >= 4.5, f"words on a button, {name}"
