"""What a learner did, and which principles are due to be met again."""

from typing import TYPE_CHECKING

import streamlit as st

from recommender.screens.library import data
from recommender.screens.practice import data as own
from recommender.screens.practice.feedback import STANDING
from recommender.screens.rules.data import sentence
from recommender.screens.session import person
from recommender.screens.ui import theme, words

if TYPE_CHECKING:
    from recommender.curation.teaching.learners import Principle, Progress


def part() -> None:
    """Draw this part."""
    from recommender.curation.teaching import learners
    from recommender.precedents.store.records import now

    if not data.is_database():
        st.info("Results are kept in a library of your own; this one is read-only.")
        return
    name = own.alias()
    if name is None:
        st.info("Give your alias above to see your results.")
    else:
        done = learners.progress(data.writing(), name)
        if not done.answers:
            st.info(f"Nothing is kept under {theme.literal(name)} yet.")
        else:
            theme.table(
                ["where your choices stood", "choices"],
                [[words.marked(STANDING, standing), number] for standing, number in done.by_standing.items()],
                numbers=(1,),
                caption=f"{done.answers} choices of {name}",
            )
            _principles(done.principles, now())
            _answers(done)
            _forget(name)
    if person.may("class"):
        _everybody()


def _principles(found: "tuple[Principle, ...]", at: str) -> None:
    from recommender.curation.teaching.exercises import figures

    if not found:
        st.write("✓ No principle is waiting to be met again.")
        return
    boxes = figures().boxes
    theme.table(
        ["principle", "due", "step", "missed", "met since"],
        [
            [
                sentence(one.id),
                "now" if one.is_due(at) else one.due[:10],
                f"{one.box} of {len(boxes)}",
                one.missed,
                one.met,
            ]
            for one in found
        ],
        numbers=(3, 4),
        caption="Principles that you missed",
    )
    days = ", ".join(str(day) for day in boxes)
    theme.note(
        f"A principle comes back after {days} days, one step further each time it is met; missed again, it starts anew "
        "(Leitner's boxes)."
    )


def _answers(done: "Progress") -> None:
    with st.expander("Every choice, the latest first"):
        theme.table(
            ["when (UTC)", "exercise", "decision", "chosen", "stood"],
            [
                [
                    one.at[:16].replace("T", " "), one.exercise, one.decision,
                    words.option(one.decision.split(":")[0], one.answer), words.marked(STANDING, one.standing),
                ]
                for one in reversed(done.answered[-200:])
            ],
            caption="Choices",
        )  # fmt: skip


def _forget(name: str) -> None:
    from recommender.curation.teaching.learners import forget

    with st.expander("Take everything out that is kept under this alias"):
        sure = st.checkbox(f"Take out all results of {name}", key="practice.sure")
        if st.button("Take them out", disabled=not sure, key="practice.forget"):
            with data.told():
                number = forget(data.writing(), name)
                data.done(f"{number} results of {name} are gone.")
                st.rerun()


def _everybody() -> None:
    from recommender.curation.teaching import learners

    names = learners.learners(data.writing())
    if not names:
        return
    with st.expander(f"All learners ({len(names)}), for the educator"):
        rows: list[list[object]] = []
        for each in names[:100]:
            done = learners.progress(data.writing(), each)
            good = done.by_standing["favoured"] + done.by_standing["acceptable"]
            missed = ", ".join(one.id for one in done.principles[:3])
            rows.append([each, done.answers, good, len(done.principles), missed])
        theme.table(
            ["alias", "choices", "acceptable", "principles missed", "among them"], rows, numbers=(1, 2, 3),
            caption="Learners",
        )  # fmt: skip
