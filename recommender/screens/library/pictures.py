"""Charts of the library pages (Altair): told apart by line style and symbol as well as by colour."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from recommender.screens.ui import theme

if TYPE_CHECKING:
    from recommender.curation.coverage import Cell
    from recommender.curation.evaluation.calibration import Tenth
    from recommender.curation.survival import Curve

_DASHES = [[1, 0], [6, 3], [2, 2], [8, 3, 2, 3], [4, 4], [10, 4]]


def _dressed(chart: Any) -> Any:
    ink = theme.ink()
    return chart.configure_axis(labelColor=ink, titleColor=ink, labelFontSize=12).configure_legend(
        labelColor=ink, titleColor=ink, labelFontSize=12, symbolSize=420, symbolStrokeWidth=2.5
    )


def survival(curves: "Sequence[tuple[str, Curve]]") -> Any:
    """Step lines of survival against months with their bands; label and curve of each."""
    import altair as alt
    import pandas as pd

    rows = []
    for label, curve in curves:
        steps = (
            curve.steps
            if curve.steps and curve.steps[0][0] == 0
            else ((0.0, 1.0, 1.0, 1.0, curve.units), *curve.steps)
        )
        rows += [
            {"option": label, "month": month, "share": share, "low": low, "high": high, "followed": at_risk}
            for month, share, low, high, at_risk in steps
        ]
    frame = pd.DataFrame(rows)
    names = [label for label, _ in curves]
    base = alt.Chart(frame).encode(x=alt.X("month:Q", title="months since fitting"))
    legend = alt.Legend(orient="top", labelLimit=260, symbolType="stroke")
    band = base.mark_area(interpolate="step-after", opacity=0.14).encode(
        color=alt.Color("option:N", scale=alt.Scale(domain=names), legend=None),
        y=alt.Y("low:Q", title="not failed", axis=alt.Axis(format="%"), scale=alt.Scale(domain=[0, 1])),
        y2="high:Q",
    )
    line = base.mark_line(interpolate="step-after", strokeWidth=2.5).encode(
        y="share:Q",
        color=alt.Color("option:N", scale=alt.Scale(domain=names), title=None, legend=legend),
        strokeDash=alt.StrokeDash(
            "option:N",
            scale=alt.Scale(domain=names, range=_DASHES[: len(names)]),
            title=None,
            legend=legend,
        ),
        tooltip=[
            "option:N",
            alt.Tooltip("month:Q", title="month"),
            alt.Tooltip("share:Q", format=".0%", title="not failed"),
            alt.Tooltip("followed:Q", title="still followed"),
        ],
    )
    return _dressed(
        (band + line).resolve_scale(color="independent", strokeDash="independent").properties(height=330)
    )


def coverage(cells: "Sequence[tuple[str, Cell]]") -> Any:
    """Cases held (bars) against expected (ticks), by kind of arch in the order given: label and cell of each."""
    import altair as alt
    import pandas as pd

    frame = pd.DataFrame(
        [{"kind": label, "held": cell.held, "expected": round(cell.expected, 1)} for label, cell in cells]
    )
    order = list(frame["kind"])
    base = alt.Chart(frame).encode(
        y=alt.Y("kind:N", sort=order, title=None, axis=alt.Axis(labelLimit=340)),
        tooltip=["kind:N", "held:Q", "expected:Q"],
    )
    bars = base.mark_bar(size=11).encode(
        x=alt.X("held:Q", title="cases held (bar), expected (upright stroke)")
    )
    ticks = base.mark_tick(thickness=3, size=19, color=theme.ink()).encode(x="expected:Q")
    return _dressed((bars + ticks).properties(height=alt.Step(23)))


def options(counts: "Sequence[tuple[str, str, int]]") -> Any:
    """How many cases use each option, as bars with the number beside them: (group, option, cases)."""
    import altair as alt
    import pandas as pd

    frame = pd.DataFrame(counts, columns=["decision", "option", "cases"])
    base = alt.Chart(frame).encode(
        y=alt.Y("option:N", sort="-x", title=None, axis=alt.Axis(labelLimit=300)),
        x=alt.X("cases:Q", title="cases that use it"),
    )
    bars = base.mark_bar(size=11)
    text = base.mark_text(align="left", dx=4, color=theme.ink()).encode(text="cases:Q")
    return _dressed((bars + text).properties(height=alt.Step(21)))


def reliability(tenths: "Sequence[Tenth]") -> Any:
    """The reliability curve: what stood against what was stated, with bootstrapped bounds; the dashed line is where
    they would be the same."""
    import altair as alt
    import pandas as pd

    frame = pd.DataFrame(
        [
            {"stated": t.stated, "stood": t.stood, "low": t.low, "high": t.high, "choices": t.number}
            for t in tenths
        ]
    )
    share = alt.Scale(domain=[0, 1])
    percent = alt.Axis(format="%")
    same = pd.DataFrame({"stated": [0, 1], "stood": [0, 1]})
    x = alt.X("stated:Q", title="stated", scale=share, axis=percent)
    y = alt.Y("stood:Q", title="stood", scale=share, axis=percent)
    line = alt.Chart(same).mark_line(strokeDash=[6, 3], opacity=0.7).encode(x=x, y=y)
    bars = alt.Chart(frame).mark_rule(strokeWidth=2).encode(x=x, y=alt.Y("low:Q", title="stood"), y2="high:Q")
    tip = [
        alt.Tooltip("stated:Q", format=".0%"),
        alt.Tooltip("stood:Q", format=".0%"),
        alt.Tooltip("choices:Q"),
    ]
    points = alt.Chart(frame).mark_point(filled=True, size=70).encode(x=x, y=y, tooltip=tip)
    return _dressed(alt.layer(line, bars, points).properties(height=260))
