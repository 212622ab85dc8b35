"""The rules: read by option, fact or source, drawn as a graph, and changed in a draft that is tried first."""

import importlib

import streamlit as st

from recommender.screens.library import data
from recommender.screens.rules.data import known
from recommender.screens.session import current_advice, state
from recommender.screens.ui import theme, words

PARTS = {"Read": "read", "Why, as a picture": "graph", "Draft": "draft"}


def page() -> None:
    """Draw the page."""
    with data.told():
        _in_use()
        data.show_done()
        _open_on_the_part_in_hand()
        part = st.segmented_control(
            "Part", list(PARTS), default="Read", required=True, key="rules-part", bind="query-params",
            persist_state="session", wrap=True, label_visibility="collapsed",
        )  # fmt: skip
        importlib.import_module(f"recommender.screens.rules.{PARTS[str(part)]}").part()


def _in_use() -> None:
    """Which rules the advice is given by."""
    from recommender.knowledge import adopted, drafts
    from recommender.knowledge.packaged import RULES_ENVIRONMENT, adopted_folder
    from recommender.precedents.store.errors import LibraryError

    folder = adopted_folder()
    if folder is None:
        said = words.told("rulebook.use_packaged_rules", rules=len(known().rules))
    else:
        try:
            current = adopted.current(folder)
        except drafts.DraftError as error:
            raise LibraryError(str(error)) from error
        rules = known()  # says what is wrong where nothing was adopted
        assert current is not None
        said = words.told(
            "rulebook.use_rules_adopted",
            who=theme.escape(current.who),
            what=theme.escape(current.at[:10]),
            rules=len(rules.rules),
            number=current.number,
            folder=theme.escape(folder),
            why=theme.escape(current.why),
            rules_environment=RULES_ENVIRONMENT,
        )
    data.say(words.told("rulebook.rule_one_sentence", said=said))


def _advised() -> "current_advice.Answer | None":
    """The advice for the case in hand, if there is a case that can be advised."""
    from recommender.advice.analysis import NoAdviceError
    from recommender.screens.intake.arch import problems

    held = state.case()
    if held is None or problems(held):
        return None
    try:
        return current_advice.answer()
    except NoAdviceError:
        return None


def _open_on_the_part_in_hand() -> None:
    """The part that is looked at on the advice page is looked up here, once for each part."""
    found = _advised()
    if found is None:
        return
    from recommender.screens.advice.choose import decision_in_hand, result_for, taken_at

    decision = decision_in_hand(found)
    framework, _ = current_advice.framework(found)
    option = taken_at(decision, framework) or result_for(found, decision, framework).ranked[0].option
    part = found.analysis.case.id, decision.key, option
    if st.session_state.get("rules.part_in_hand") != part and option != "none":
        st.session_state["rules.part_in_hand"] = part
        st.session_state["rules.decision"] = decision.kind
        st.session_state[f"rules.option.{decision.kind}"] = option
