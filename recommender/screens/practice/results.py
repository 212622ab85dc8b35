"""What a learner did, and which principles are due to be met again."""

from typing import TYPE_CHECKING

import streamlit as st

from recommender.screens.library import data
from recommender.screens.practice import data as own
from recommender.screens.rules.data import sentence
from recommender.screens.session import person
from recommender.screens.ui import theme, words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from recommender.curation.teaching.learners import Answered, Principle, Progress


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
            st.info(words.told("practice.nothing_kept_under", name=theme.literal(name)))
        else:
            theme.table(
                ["where your choices stood", "choices"],
                [
                    [words.listed("standing", standing), number]
                    for standing, number in done.by_standing.items()
                ],
                numbers=(1,),
                caption=words.told("practice.choices", answers=done.answers, name=name),
            )
            _come_on(done.answered, words.told("practice.week_week", name=name))
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
    known = figures()
    rows: list[list[object]] = [
        [sentence(one.id), "now" if one.is_due(at) else one.due[:10], one.missed, one.met] for one in found
    ]
    theme.table(
        ["principle", "due", "missed", "met since"],
        rows,
        numbers=(2, 3),
        caption="Principles that you missed",
    )
    theme.note(words.told("practice.principle_comes_back", recall=f"{known.recall:.0%}", leaves=known.leaves))


def _answers(done: "Progress") -> None:
    with st.expander("Every choice, the latest first"):
        theme.table(
            ["when (UTC)", "exercise", "decision", "chosen", "stood"],
            [
                [
                    one.at[:16].replace("T", " "), one.exercise, one.decision,
                    words.option(one.decision.split(":")[0], one.answer), words.listed("standing", one.standing),
                ]
                for one in reversed(done.answered[-200:])
            ],
            caption="Choices",
        )  # fmt: skip


def _come_on(answered: "Sequence[Answered]", title: str) -> None:
    """Right answers week by week; a near tie is never wrong."""
    from recommender.curation.teaching.over_time import weeks

    found = weeks(answered)
    if len(found) > 1:
        import altair as alt
        import pandas as pd

        told = [{"week": one.monday, "right": one.share, "low": one.low, "high": one.high} for one in found]
        frame = pd.DataFrame(told)
        base = alt.Chart(frame).encode(x=alt.X("week:T", title="week of"))
        axis = alt.Y("right:Q", title="not wrong", axis=alt.Axis(format="%"), scale=alt.Scale(domain=[0, 1]))
        spread = base.mark_rule(color=theme.ink()).encode(y="low:Q", y2="high:Q")
        drawn = spread + base.mark_line(point=True).encode(y=axis)
        st.altair_chart(
            drawn.properties(height=180),
            width="stretch",
            alt=words.told("practice.table_says_same", title=title),
        )
    theme.table(
        ["week of", "choices", "not wrong"],
        [[one.monday, one.answers, f"{one.share:.0%} ({one.low:.0%}–{one.high:.0%})"] for one in found],
        numbers=(1,), caption=title,
    )  # fmt: skip


def _forget(name: str) -> None:
    from recommender.curation.teaching.learners import forget

    with st.expander("Take everything out that is kept under this alias"):
        sure = st.checkbox(words.told("practice.take_out_all", name=name), key="practice.sure")
        if st.button("Take them out", disabled=not sure, key="practice.forget"):
            with data.told():
                number = forget(data.writing(), name)
                data.done(words.told("practice.results_gone", number=number, name=name))
                st.rerun()


def _everybody() -> None:
    from recommender.curation.teaching import learners

    names = learners.learners(data.writing())
    if not names:
        return
    with st.expander(words.told("practice.all_learners_educator", names=len(names))):
        each_done = [learners.progress(data.writing(), each) for each in names[:100]]
        _come_on(learners.answered(data.writing()), "The class, week by week")
        _items()
        rows: list[list[object]] = []
        for each, done in zip(names, each_done, strict=False):
            good = done.by_standing["favoured"] + done.by_standing["acceptable"]
            missed = ", ".join(one.id for one in done.principles[:3])
            rows.append([each, done.answers, good, len(done.principles), missed])
        theme.table(
            ["alias", "choices", "acceptable", "principles missed", "among them"], rows, numbers=(1, 2, 3),
            caption="Learners",
        )  # fmt: skip


def _items() -> None:
    """The decisions that were answered most, how hard they proved, and how well they tell learners apart."""
    from recommender.curation.teaching import items, learners

    found = items.known(learners.replies(data.writing()))
    rows: list[list[object]] = []
    for item in found.often():
        telling = found.telling[item]
        rows.append(
            [
                item[0], item[1], found.answers[item], f"{found.difficulty[item]:+.1f}",
                "too few" if telling is None else f"{telling:+.2f}",
            ]
        )  # fmt: skip
    theme.table(
        ["case", "decision", "choices", "difficulty", "tells apart"], rows, numbers=(2,),
        caption="Decisions answered most: difficulty in logits (0 is middling), correlation with ability",
    )  # fmt: skip
