"""Why an option stands where it does: bars that add up, then line by line; and the contrast with another option.

Each view draws its picture and gives back what draws the table below it, over the whole width.
"""

from collections.abc import Callable, Sequence
from math import fsum
from typing import TYPE_CHECKING

import streamlit as st

from recommender.domain.statement import Word, quantity, say
from recommender.screens.advice.charts import adding_up, short
from recommender.screens.session import current_advice
from recommender.screens.ui import theme, words

if TYPE_CHECKING:
    from recommender.advice.model import Contribution, Decision, DecisionResult, OptionResult

Below = Callable[[], None]


def nothing_below() -> None:
    """A view without a table."""


def sure_line(found: current_advice.Answer, asked: "Decision") -> None:
    """How sure the leading option is: strength and certainty apart, in words."""
    from recommender.advice.explanation.confidence import graded

    sure = graded(found.analysis, asked)
    strength = sure.strength[:1].upper() + sure.strength[1:]
    with st.expander(
        words.told("screen.strength", strength=strength, certainty=Word("certainty", sure.certainty))
    ):
        st.markdown("\n".join(f"- {line}" for line in words.in_words().lines((*sure.words, *sure.reasons))))


def reasons_view(found: current_advice.Answer, result: "DecisionResult", option: "OptionResult") -> Below:
    """The score as bars that add up; below, each line with the facts of this case and its source."""
    if option.status == "excluded" and any(block.kind == "safety" for block in option.blocked_by):
        st.write("Excluded for safety: it carries no score.")
        return nothing_below
    blend = option.precedent_weight
    st.write(
        words.told(
            "screen.score",
            score=quantity(option.score),
            rules=quantity(option.rules_score),
            share=quantity(1 - blend, "share"),
            precedents=quantity(option.precedents_score),
            rest=quantity(blend, "share"),
            alone=None if blend else say("screen.rules_alone"),
        )
    )
    if option.low < option.high:
        theme.note(words.told("screen.bounds", low=quantity(option.low), high=quantity(option.high)))
    bars = _bars(option.contributions)
    adding_up(bars, "score", words.told("screen.score_bars", score=quantity(option.score)))
    return lambda: _lines(found, result, option)


def _bars(lines: "Sequence[Contribution]") -> list[tuple[str, float]]:
    """What the option is anywhere, then every rule and cap by size, then what the precedents say together."""
    rules = sorted(
        (line for line in lines if line.kind in ("rule", "cap", "house")), key=lambda line: -line.points
    )
    said = [line.points for line in lines if line.kind == "precedent"]
    bars = [
        ("By the catalogue, before this case", fsum(line.points for line in lines if line.kind == "start"))
    ]
    bars += [(words.said(line.statement), line.points) for line in rules]
    middles = ("thin-evidence", "Precedents: their middle (50)"), ("house", "The house: its middle (50)")
    for identifier, head in middles:
        middle = [line.points for line in lines if line.kind == "neutral" and line.id == identifier]
        if middle:
            bars.append((head, fsum(middle)))
    speaking_for, against = [p for p in said if p > 0], [p for p in said if p < 0]
    if speaking_for:
        bars.append((words.told("screen.precedents_for_it", n=len(speaking_for)), fsum(speaking_for)))
    if against:
        bars.append((words.told("screen.precedents_against_it", n=len(against)), fsum(against)))
    return bars


def _lines(found: current_advice.Answer, result: "DecisionResult", option: "OptionResult") -> None:
    cited = _cited(found, result, option).contributions
    groups = (
        ("Rules that fired, with the facts of this case", [x for x in cited if x.kind in ("rule", "cap")]),
        ("This house's own hand, learned from its cases", [x for x in cited if x.source == "house"]),
        ("Precedents", [x for x in cited if x.kind in ("precedent", "neutral") and x.source != "house"]),
        ("Starting values of the catalogue", [x for x in cited if x.kind == "start"]),
    )
    for name, lines in groups:
        if not lines:
            continue
        total = fsum(line.points for line in lines)
        head = words.told("screen.points_of", name=name, points=quantity(total, "points"))
        with st.expander(head, expanded=lines is groups[0][1]):
            rows: list[list[object]] = [
                [words.said(line.statement), f"{line.points:+.2f}", _facts(line), line.source or ""]
                for line in sorted(lines, key=lambda line: -abs(line.points))
            ]
            rows.append(["Sum", f"{total:+.2f}", "", ""])
            theme.table(
                ["reason", "points", "because of (score without it)", "source"], rows, numbers=(1,),
                lead=len(rows) - 1, caption=name,
            )  # fmt: skip
    if option.steps:
        part = words.option(result.decision.kind, option.option)
        with st.expander(words.told("screen.bench_with", option=part)):
            st.markdown("\n".join(f"- {words.said(step)}" for step in option.steps))
    for caution in option.cautions:
        st.warning(words.said(caution))


def _cited(found: current_advice.Answer, result: "DecisionResult", option: "OptionResult") -> "OptionResult":
    """The option with the recorded fields behind each line, worked out by running again without them."""
    if result.given is not None and result.given != found.result(result.decision).given:
        return option
    from recommender.advice.explanation.ablation import Ablation

    held: dict[object, OptionResult] = st.session_state.setdefault("casebook.cited", {})
    key = (found.key, result.decision, option.option)
    if key not in held:
        if len(held) > 50:
            held.clear()
        held[key] = Ablation(found.analysis).cite(result, [option.option]).option(option.option)
    return held[key]


def _facts(line: "Contribution") -> str:
    said = [
        f"{words.field(path)}: {words.value_at(path, cited.value)}"
        + ("" if cited.without_this is None else f" ({cited.without_this:.1f})")
        for path, cited in line.because.items()
    ]
    said += [f"{words.fact(name)}: {words.fact_value(name, value)}" for name, value in line.given.items()]
    if line.similarity is not None:
        said.append(words.told("screen.likeness", likeness=quantity(line.similarity, "", 2)))
    return "; ".join(said)


def contrast_view(found: current_advice.Answer, result: "DecisionResult", option: "OptionResult") -> Below:
    """Another option held against this one: the lines in which they differ, adding up to the difference."""
    from recommender.advice.explanation.contrast import contrast, grouped_by_criterion

    kind = result.decision.kind
    others = [other.option for other in result.ranked if other.option != option.option]
    key = f"advice.against.{result.decision.key}"
    if st.session_state.get(key) not in others:
        st.session_state[key] = others[0]
    asked = st.selectbox("Why not …", others, format_func=lambda o: words.option(kind, o), key=key)
    against = result.option(asked)
    held = contrast(option, against)
    here, there = words.option(kind, option.option), words.option(kind, against.option)
    if held.settled_by_status:
        st.write(
            words.told(
                "screen.status_settles",
                here=here,
                here_status=words.status(option),
                there=there,
                there_status=words.status(against),
            )
        )
        blocks = (*option.blocked_by, *against.blocked_by)
        st.markdown("\n".join(f"- {words.said(block.statement)} ({block.source})" for block in blocks))
    st.write(
        words.told(
            "screen.difference",
            here=here,
            score=quantity(option.score),
            there=there,
            other=quantity(against.score),
            points=quantity(held.points, "points"),
        )
    )
    labels = found.analysis.engine.knowledge.criteria.labels
    grouped = grouped_by_criterion(held, lambda name: labels[name])
    adding_up(
        grouped,
        "difference",
        words.told("screen.difference_bars", points=quantity(held.points, "points")),
    )

    def below() -> None:
        rows: list[list[object]] = [
            [words.said(line.statement), f"{line.points:+.2f}", line.source or ""] for line in held.lines
        ]
        theme.table(
            ["line", words.told("screen.for", option=short(here, 30)), "source"],
            rows,
            numbers=(1,),
            caption="Where they differ, largest first",
        )

    return below
