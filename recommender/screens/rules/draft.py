"""A draft of the rules: a folder of one's own, checked, changed, tried on the library, then adopted or not."""

from pathlib import Path
from typing import TYPE_CHECKING

import streamlit as st

from recommender.knowledge.drafts import DraftError
from recommender.screens.library import data
from recommender.screens.rules import data as own
from recommender.screens.rules.draft_shown import problems, shorter, show_differences
from recommender.screens.session import person
from recommender.screens.ui import theme, words

if TYPE_CHECKING:
    pass

_FOLDER = "rules.folder"
_STEPS = ("Check", "Change a rule", "Change weights", "Try on the library", "Adopt")


def part() -> None:
    """Draw this part."""
    if not person.may("rules"):
        st.info("Rules and weights of the house are changed by a steward.")
        return
    from recommender.knowledge import drafts

    st.write(
        "Rules and weights are changed in a draft: a copy in a folder of your own. The packaged rules stay as they "
        "are, and the advice stays as it is until a draft is adopted."
    )
    left, right = st.columns([3, 2], vertical_alignment="bottom")
    with left:
        st.session_state.setdefault(_FOLDER, str(Path.home() / "casebook-rules"))
        typed = st.text_input("Folder of the draft", key=_FOLDER, persist_state="session")
    with right:
        data.ask_who()
    folder = Path(str(typed).strip()).expanduser()
    try:
        if not drafts.is_draft(folder):
            _start(folder)
            return
        _steps(folder)
    except DraftError as error:
        st.error(f"✕ {theme.literal(error)}")


def _start(folder: Path) -> None:
    from recommender.knowledge import drafts

    st.info(words.told("rulebook.there_no_draft", folder=theme.literal(folder)))
    if st.button("Start a draft", type="primary", key="rules.start"):
        drafts.start(folder)
        data.done(words.told("rulebook.draft_stands_may", folder=folder))
        st.rerun()


def _steps(folder: Path) -> None:
    from recommender.screens.rules import draft_change, draft_try

    step = st.segmented_control(
        "Step", _STEPS, default=_STEPS[0], required=True, key="rules.step", persist_state="session", wrap=True
    )
    {
        _STEPS[0]: check,
        _STEPS[1]: draft_change.rule,
        _STEPS[2]: draft_change.weights,
        _STEPS[3]: draft_try.trial,
        _STEPS[4]: draft_try.adoption,
    }[str(step)](folder)


def check(folder: Path) -> None:
    """What is wrong with the draft, and how it differs from the packaged rules."""
    found = own.draft(folder)
    problems(found)
    if found.knowledge is None:
        return
    rows: list[list[object]] = [
        [
            {"error": "✕ error", "warning": "△ warning"}[one.level],
            one.subject,
            one.message,
            shorter(one.place, folder),
        ]
        for one in own.findings(folder)
        if one.level != "information"
    ]
    if rows:
        theme.table(
            ["", "of", "what", "place"], rows[:80], caption=words.told("rulebook.findings", rows=len(rows))
        )
    else:
        st.write("✓ Nothing is wrong with the draft.")
    show_differences(found)
