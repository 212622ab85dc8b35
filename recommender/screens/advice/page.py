"""The advice: the proposed framework, the reasons for every part, and what follows from changing one."""

import streamlit as st

from recommender.screens.session import current_advice, state
from recommender.screens.ui import links, theme, words


def page() -> None:
    """Draw the page."""
    found = ready()
    if found is None:
        return
    from recommender.screens.advice.answer import answer_section, cautions_section, closer_section
    from recommender.screens.advice.choose import change_a_part
    from recommender.screens.advice.new_cast import new_cast_section

    framework, trouble = current_advice.framework(found)
    if trouble:
        st.error(words.told("screen.choice_not_built", why=theme.literal(trouble)))
    if framework is None:
        cautions_section(found, None)
        no_framework(found)
        change_a_part(found, None)
    else:
        answer_section(found, framework)
    closer_section(found, framework)
    if framework is not None:
        new_cast_section(found, framework)


def no_framework(found: "current_advice.Answer") -> None:
    """Why nothing whole can be put together, and the nearest ways out."""
    st.warning("No framework can be put together: some place has no usable part.")
    nothing = found.whole.no_framework
    if nothing is not None:
        lines = words.in_words().lines((*nothing.reasons, *nothing.ways_out))
        st.markdown("\n".join(f"- {theme.literal(line)}" for line in lines))


def ready() -> "current_advice.Answer | None":
    """The advice for the case in hand; says what is lacking, and gives ``None``, where there can be none."""
    from recommender.screens.intake.arch import problems

    held = state.case()
    if held is None:
        st.info("No case is in hand. Take one in first.")
        links.link("case", "Take in a case")
        return None
    wrong = problems(held)
    if wrong:
        st.error("\n".join([words.told("screen.contradicts"), "", *(f"- {theme.literal(x)}" for x in wrong)]))
        links.link("case", "Mend it where the case is taken in")
        return None
    from recommender.advice.analysis import NoAdviceError

    try:
        with st.spinner("Working it out …", show_time=False):
            return current_advice.answer()
    except NoAdviceError:
        st.info("No tooth is marked as missing, so the arch has no class and there is nothing to advise.")
        links.link("case", "Mark the teeth to be replaced")
        return None
