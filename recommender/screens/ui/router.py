"""What stands on every page: the menu, the caution, the case in hand with undo, and news from other tabs."""

import importlib.util

import streamlit as st

from recommender.screens.session import library_in_use, person, state
from recommender.screens.ui import door, links, theme, words

_ICON = "🦷"
_SIDEBAR_PX = 230
_LAST_PAGE = "casebook.last_page"


def run() -> None:
    """Draw the page that was asked for."""
    st.set_page_config(
        page_title="rpd-casebook", page_icon=_ICON, layout="wide", initial_sidebar_state=_SIDEBAR_PX
    )
    if st.query_params.get("numbers") == "universal" and state.numbering() == "iso":
        state.set_numbering("universal")
    barred = person.admitted()
    page = st.navigation(links.sections(), position="sidebar" if barred is None else "hidden")
    theme.style()
    if barred is not None:
        door.draw(barred)
        return
    door.watch()
    if st.session_state.get(_LAST_PAGE) not in (None, page.title):
        state.forget_trouble()
    st.session_state[_LAST_PAGE] = page.title
    state.sync()
    _sidebar()
    _strip(page.title)
    _news()
    screen = next(screen for screen in links.SCREENS if screen.title == page.title)
    if importlib.util.find_spec(screen.module) is None:
        st.info(words.told("screen.not_part_installation", title=screen.title))
        return
    page.run()


def _sidebar() -> None:
    with st.sidebar:
        st.radio(
            "Tooth numbers",
            ["iso", "universal"],
            index=["iso", "universal"].index(state.numbering()),
            format_func=lambda system: {"iso": "two-digit (ISO 3950)", "universal": "1–32 (universal)"}[
                system
            ],
            key="casebook.numbers_widget",
            on_change=lambda: state.set_numbering(st.session_state["casebook.numbers_widget"]),
        )
        if person.current() is not None:
            door.who()
        elif state.case() is None:
            theme.note(words.NO_LOGIN)
        if library_in_use.library_name() == "demo":
            theme.note(words.INVENTED)


def _strip(title: str) -> None:
    """The line that stays in sight: which case, its class, undo, and the caution."""
    held = state.case()
    with st.container(key="casebook_strip", gap="xxsmall"):
        with st.container(horizontal=True, vertical_alignment="center", gap="small"):
            st.title(title, anchor=False, width="content")
            st.html(_case_line(), width="stretch")
            if held is not None:
                st.button(
                    "↶ Undo", on_click=state.undo, disabled=not state.can_undo(), key="casebook.undo_button"
                )
                st.button(
                    "↷ Redo", on_click=state.redo, disabled=not state.can_redo(), key="casebook.redo_button"
                )
        theme.note(words.CAUTION)


def _case_line() -> str:
    held = state.case()
    if held is None:
        return f'<p class="casebook-caution">{theme.escape(words.PURPOSE)}</p>'
    from recommender.domain.kennedy import classify
    from recommender.domain.labels import word_label

    found = classify(held)
    # the title is at hand for whoever points at the number; it stands in full where the case is taken in
    title = f' title="{theme.escape(held.title)}"' if held.title else ""
    return (
        f'<p class="casebook-caution"><b{title}>{theme.escape(held.id)}</b> · '
        f"{theme.escape(word_label('arch', held.arch))} · {theme.escape(found.label)}</p>"
    )


def _news() -> None:
    """What went wrong, and what another tab did to this case."""
    trouble = state.trouble()
    if trouble:
        st.error(theme.literal(trouble))
    stored = state.conflict()
    if stored is None:
        return
    from recommender.precedents.store.documents import differences

    held = state.case()
    assert held is not None
    changed = differences(held, stored.case)
    with st.container(border=True):
        st.warning(words.told("screen.case_changed_another", what=stored.saved_at[11:16]))
        if changed:
            rows: list[list[object]] = [
                [words.field(path), _shown(mine), _shown(theirs)] for path, mine, theirs in changed[:12]
            ]
            theme.table(["field", "here", "in the other tab"], rows, caption="What differs")
            if len(changed) > 12:
                st.write(words.told("screen.more", changed=len(changed) - 12))
        with st.container(horizontal=True):
            st.button("Take the other tab's version", on_click=state.take_theirs, key="casebook.take_theirs")
            st.button("Keep this tab's version", on_click=state.keep_mine, key="casebook.keep_mine")


def _shown(value: object) -> str:
    return "not recorded" if value is None else str(value)
