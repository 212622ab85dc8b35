"""The advice: the proposed framework, the reasons for every part, and what follows from changing one."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

import streamlit as st

from recommender.screens.session import current_advice, state
from recommender.screens.ui import links, theme, words

if TYPE_CHECKING:
    from recommender.advice.model import Gap

_TOLD = 5


def page() -> None:
    """Draw the page."""
    found = ready()
    if found is None:
        return
    from recommender.screens.advice.decision import decision_section
    from recommender.screens.advice.frame import framework_section
    from recommender.screens.advice.new_cast import new_cast_section
    from recommender.screens.advice.room import room_section

    framework, trouble = current_advice.framework(found)
    if trouble:
        st.error(
            f"That choice was not built: {theme.literal(trouble)} The framework below is the recommended one."
        )
    standing(found, framework)
    framework_section(found, framework)
    decision_section(found, framework)
    if framework is not None:
        room_section(found, framework)
        new_cast_section(found, framework)


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
        st.error(
            "There is no advice while the case contradicts itself:\n\n"
            + "\n".join(f"- {theme.literal(text)}" for text in wrong)
        )
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


def standing(found: "current_advice.Answer", framework: object) -> None:
    """PROVISIONAL and the cautions, above everything else."""
    whole = found.whole
    own = tuple(getattr(framework, "cautions", ()) or ())
    provisional = bool(getattr(framework, "provisional", False)) or whole.provisional
    if provisional:
        st.html(f"<p>{theme.flag('PROVISIONAL')} {theme.escape(_waits_for(whole.not_recorded))}</p>")
    if current_advice.moved_weights():
        st.html(
            f"<p>{theme.flag('WEIGHTS MOVED')} This is a trial with other weights than the project's table.</p>"
        )
        st.button("Put the weights back", on_click=current_advice.weights_back, key="advice.weights_back")
    said = "".join(
        f"<li>{theme.escape(words.said(text))}</li>" for text in dict.fromkeys((*own, *whole.cautions))
    )
    st.html(
        '<section class="casebook-cautions" aria-label="Cautions and questions"><b>Cautions and questions</b>'
        f"<ul>{said}</ul></section>"
    )


def _waits_for(gaps: "Sequence[Gap]") -> str:
    """What a provisional design rests on, the most telling first."""
    telling = list(dict.fromkeys(words.field(gap.field) for gap in gaps if gap.could_lead and not gap.asked))
    if not telling:
        return (
            f"It rests on {len(gaps)} things that were not recorded; none of them alone would bring another part "
            "to the front."
        )
    more = len(telling) - _TOLD
    return (
        "It rests on things that were not recorded. These could bring another part to the front: "
        + "; ".join(telling[:_TOLD])
        + (f"; and {more} more, in order where the case is taken in." if more > 0 else ".")
    )
