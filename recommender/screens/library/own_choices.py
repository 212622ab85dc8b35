"""How often a library's own choices come first: by decision, lead and size of library, each case without itself."""

from typing import TYPE_CHECKING, Any

import streamlit as st

from recommender.screens.library import data
from recommender.screens.session import library_in_use
from recommender.screens.ui import theme, words

if TYPE_CHECKING:
    from recommender.curation.evaluation.learning_curve import Point
    from recommender.curation.evaluation.shares import Share
    from recommender.curation.evaluation.summing_up import Summary

_KEPT = "casebook.own_choices"


def part() -> None:
    """Draw this part."""
    st.write(
        "Each approved case is advised without itself and its near-duplicates, and its own choices are looked up in "
        "the ranking; rests and teeth that carry nothing count. Of more than 2,000 cases so many are advised, evenly "
        "chosen. Agreement is a figure to report, not a target."
    )
    key = (data.where(), library_in_use.library_version())
    kept: dict[object, tuple[Summary, list[Point]]] = st.session_state.setdefault(_KEPT, {})
    if key not in kept:
        if not st.button("Work it out (some seconds for every ten cases)", key="library.own_choices"):
            return
        kept.clear()
        kept[key] = _worked_out()
    found, curve = kept[key]
    if data.where() == "demo":
        data.invented("These cases were made up; the figures say nothing about real work.")
    rows: list[list[object]] = [
        [
            words.term("decisions", kind),
            told.first.of,
            *map(_said, (told.first, told.three, told.rules_first, told.commonest)),
        ]
        for kind, told in found.by_kind.items()
    ]
    theme.table(
        ["decisions", "number", "own choice first", "among three", "first by rules alone", "always the commonest"],
        rows, numbers=(1,), caption=words.told("library.cases_brackets_resampled", cases=found.cases),
    )  # fmt: skip
    first, second = st.columns(2)
    leads = [(_lead(low, high), held) for (low, high), held in found.by_lead.items()]
    with first:
        st.markdown("#### By size of the lead")
        st.altair_chart(
            _leads(leads), width="stretch", alt="Share right by lead in points; the table says the same"
        )
    with second:
        st.markdown("#### As the library grows")
        st.altair_chart(_curve(curve), width="stretch", alt="Own choice first against cases in the library")
    theme.table(
        ["lead", "right"], [[name, _said(held)] for name, held in leads], caption="Lead over the runner-up"
    )
    with st.expander("By option that was chosen", expanded=False):
        ordered = sorted(found.by_option.items(), key=lambda item: (item[0][0], -item[1].of))
        dots = [
            (f"{words.term('decisions', kind)}: {words.option(kind, option)}", held)
            for (kind, option), held in ordered
        ]
        st.altair_chart(
            _options(dots), width="stretch", alt="Own choice first by option; the table says the same"
        )
        theme.table(
            ["decision", "chosen", "came first"],
            [
                [words.term("decisions", kind), words.option(kind, option), _said(held)]
                for (kind, option), held in ordered
            ],
            caption="How often each option comes first where it was chosen",
        )
    theme.note(words.told("library.teeth_which_design", without_clasp=_said(found.without_clasp)))
    theme.note(words.told("library.own_choices_rules", out_of_status=found.out_of_status))


def _worked_out() -> "tuple[Summary, list[Point]]":
    from recommender.curation.evaluation.learning_curve import learning_curve
    from recommender.curation.evaluation.leave_one_out import evaluate_some
    from recommender.curation.evaluation.summing_up import summary
    from recommender.knowledge.in_force import knowledge

    bar = st.progress(0.0, "Advising each case without itself …")

    def first(done: int, of: int) -> None:
        bar.progress(0.6 * done / of)

    def then(done: int, of: int) -> None:
        bar.progress(0.6 + 0.4 * done / of)

    rows, _ = evaluate_some(data.where(), progress=first)
    points = learning_curve(list(library_in_use.library().cases()), knowledge(), then)
    bar.empty()
    return summary(rows), points


def _said(found: "Share") -> str:
    return f"{found.share:.0%} ({found.low:.0%}–{found.high:.0%})" if found.of else "none"


def _lead(low: float, high: float) -> str:
    return (
        words.told("verb.from_to", low=f"{low:g}", high=f"{high:g}")
        if high < float("inf")
        else words.told("library.more", low=f"{low:g}")
    )


def _leads(leads: "list[tuple[str, Share]]") -> Any:
    import altair as alt
    import pandas as pd

    rows = [
        {"lead": name, "share": held.share, "low": held.low, "high": held.high, "number": held.of}
        for name, held in leads
        if held.of
    ]
    base = alt.Chart(pd.DataFrame(rows)).encode(
        x=alt.X(
            "lead:N",
            sort=[name for name, _ in leads],
            title="points before the runner-up",
            axis=alt.Axis(labelAngle=0),
        )
    )
    low = alt.Y("low:Q", title="right", scale=alt.Scale(domain=[0, 1]))
    bars = base.mark_rule(strokeWidth=2, color=theme.ink()).encode(y=low, y2="high:Q")
    dots = base.mark_point(size=90, filled=True).encode(
        y=alt.Y("share:Q", axis=alt.Axis(format="%")),
        tooltip=["lead:N", alt.Tooltip("share:Q", format=".0%"), "number:Q"],
    )
    return _dressed((bars + dots).properties(height=260))


def _curve(points: "list[Point]") -> Any:
    import altair as alt
    import pandas as pd

    rows = [
        {
            "cases": p.cases,
            "decision": words.term("decisions", p.kind),
            "first": p.first,
            "low": p.low,
            "high": p.high,
        }
        for p in points
    ]
    names = list(dict.fromkeys(words.term("decisions", p.kind) for p in points))
    base = alt.Chart(pd.DataFrame(rows))
    spread = base.mark_rule(strokeWidth=1).encode(
        x="cases:Q", y=alt.Y("low:Q", title="own choice first"), y2="high:Q",
        color=alt.Color("decision:N", scale=alt.Scale(domain=names)),
    )  # fmt: skip
    chart = base.mark_line(point=True, strokeWidth=2).encode(
        x=alt.X("cases:Q", title="cases in the library"),
        y=alt.Y("first:Q", title="own choice first", axis=alt.Axis(format="%"), scale=alt.Scale(zero=False)),
        color=alt.Color("decision:N", scale=alt.Scale(domain=names), title=None, legend=alt.Legend(orient="top")),
        strokeDash=alt.StrokeDash("decision:N", scale=alt.Scale(domain=names), title=None, legend=None),
        tooltip=["decision:N", "cases:Q", alt.Tooltip("first:Q", format=".0%")],
    )  # fmt: skip
    return _dressed((spread + chart).properties(height=260))


def _options(dots: "list[tuple[str, Share]]") -> Any:
    import altair as alt
    import pandas as pd

    rows = [
        {"option": name, "share": held.share, "low": held.low, "high": held.high, "number": held.of}
        for name, held in dots
    ]
    every = alt.Axis(labelLimit=320, labelOverlap=False)
    order = alt.Y("option:N", sort=[name for name, _ in dots], title=None, axis=every)
    base = alt.Chart(pd.DataFrame(rows)).encode(y=order)
    low = alt.X("low:Q", title="came first where it was chosen", scale=alt.Scale(domain=[0, 1]))
    bars = base.mark_rule(strokeWidth=2, color=theme.ink()).encode(x=low, x2="high:Q")
    marks = base.mark_point(size=70, filled=True).encode(
        x=alt.X("share:Q", axis=alt.Axis(format="%")),
        tooltip=["option:N", alt.Tooltip("share:Q", format=".0%"), "number:Q"],
    )
    return _dressed((bars + marks).properties(height=alt.Step(20)))


def _dressed(chart: Any) -> Any:
    ink = theme.ink()
    return chart.configure_axis(labelColor=ink, titleColor=ink).configure_legend(
        labelColor=ink, titleColor=ink
    )
