"""The new cast after preparation held against the proposal, tooth by tooth."""

from typing import TYPE_CHECKING

import streamlit as st

from recommender.domain.limits import MOST_BYTES
from recommender.screens.session import current_advice
from recommender.screens.ui import theme, words

if TYPE_CHECKING:
    from recommender.advice.model import Framework

_STANDING = {
    "stands": "✓ stands",
    "stands_changed": "✓ stands, figures changed",
    "falls": "✗ does not stand",
}


def new_cast_section(found: current_advice.Answer, framework: "Framework") -> None:
    """A place for the case with the new survey, and one line a tooth: what stands, what changed, what to do."""
    folded = theme.fold("After preparation: hold the new cast against this framework", "advice.new_cast_fold")
    if not folded.open:
        return
    with folded:
        st.write(
            "Once the teeth are prepared the new cast is surveyed before wax. Give the same case with the new survey; "
            "the case in hand stays as it is."
        )
        given = st.file_uploader(
            "The case with the new survey, YAML or JSON", type=["yaml", "yml", "json"],
            max_upload_size=MOST_BYTES // 1_000_000, key="advice.new_cast",
        )  # fmt: skip
        if given is not None:
            _told(found, framework, given.getvalue(), given.name)


def _told(found: current_advice.Answer, framework: "Framework", content: bytes, name: str) -> None:
    from recommender.advice.analysis import NoAdviceError
    from recommender.advice.recommend import Recommender
    from recommender.advice.resurvey import on_new_cast
    from recommender.domain.errors import CaseError
    from recommender.domain.reader import read_bytes

    engine = found.analysis.engine
    before = found.analysis.case.model_copy(update={"design": framework.design})
    recommender = Recommender(engine.library, engine.knowledge)
    try:
        teeth = on_new_cast(recommender, before, read_bytes(content, name), ("the case in hand", name))
    except CaseError as error:
        rows: list[list[object]] = [[p.at, p.field, p.found, p.allowed] for p in error.problems]
        theme.refusal(words.told("screen.not_held_against", name=name))
        theme.table(["where", "field", "found", "allowed"], rows, caption="What to mend")
        return
    except NoAdviceError as nothing:
        theme.refusal(words.said(nothing.statement))
        return
    theme.table(
        ["", "Tooth by tooth"],
        [[_STANDING[one.standing], words.said(one.said)] for one in teeth],
        caption="The framework on the new cast",
    )
