"""The views on one option: reasons that add up, the contrast with another, blocks, changes, weights."""

from typing import TYPE_CHECKING

import streamlit as st

from recommender.screens import answers, theme, words
from recommender.screens.advice_charts import adding_up, short

if TYPE_CHECKING:
    from recommender.advice.model import Contribution, Decision, DecisionResult, OptionResult


def sure_line(found: answers.Answer, asked: "Decision") -> None:
    """How sure the leading option is: strength and certainty apart, in words."""
    from recommender.advice.sure import how_sure

    sure = how_sure(found.working, asked)
    st.markdown(
        f"**{sure.strength[:1].upper() + sure.strength[1:]}**, certainty of the evidence **{sure.certainty}**."
    )
    with st.expander("How sure, and why"):
        st.markdown("\n".join(f"- {line}" for line in dict.fromkeys((*sure.words, *sure.reasons))))


def reasons_view(found: answers.Answer, result: "DecisionResult", option: "OptionResult") -> None:
    """The score as bars that add up, then line by line with the facts of this case and the sources."""
    if option.status == "excluded" and any(block.kind == "safety" for block in option.blocked_by):
        st.write("Excluded for safety: it carries no score.")
        blocks_view(option)
        return
    cited = _cited(found, result, option)
    blend = option.precedent_weight
    st.write(
        f"Score {option.score:.1f} = rules {option.rules_score:.1f} × {1 - blend:.0%} + "
        f"precedents {option.precedents_score:.1f} × {blend:.0%}. "
        + ("" if blend else "Without comparable precedents the rules alone decide.")
    )
    criteria = found.working.engine.knowledge.criteria.labels
    bars = _bars(cited.contributions, criteria)
    adding_up(
        bars, "score", f"Bars that add up to the score of {option.score:.1f}; the table below says the same."
    )
    order = sorted(cited.contributions, key=lambda line: (line.kind == "start", -abs(line.points)))
    rows: list[list[object]] = [
        [line.text, f"{line.points:+.2f}", _facts(line), line.source or ""] for line in order
    ]
    rows.append(["Sum", f"{option.score:.2f}", "", ""])
    theme.table(
        ["reason", "points", "because (score without it)", "source"], rows, numbers=(1,), lead=len(rows) - 1,
        caption="Line by line",
    )  # fmt: skip
    if option.steps:
        st.markdown("**On the bench**")
        st.markdown("\n".join(f"- {step}" for step in option.steps))
    for caution in option.cautions:
        st.warning(caution)


def _cited(found: answers.Answer, result: "DecisionResult", option: "OptionResult") -> "OptionResult":
    """The option with the recorded fields behind each line, worked out by running again without them."""
    if result.given is not None and result.given != found.result(result.decision).given:
        return option
    from recommender.advice.faithful import Faithful

    held: dict[object, OptionResult] = st.session_state.setdefault("casebook.cited", {})
    key = (found.key, result.decision, option.option)
    if key not in held:
        if len(held) > 50:
            held.clear()
        held[key] = Faithful(found.working).cite(result, [option.option]).option(option.option)
    return held[key]


def _bars(lines: "tuple[Contribution, ...]", criteria: object) -> list[tuple[str, float]]:
    """Starts together (they say what the option is anywhere), then every rule, cap and precedent by size."""
    from math import fsum

    starts = fsum(line.points for line in lines if line.kind == "start")
    others = [line for line in lines if line.kind not in ("start", "neutral")]
    neutral = fsum(line.points for line in lines if line.kind == "neutral")
    others.sort(key=lambda line: (("rule", "cap", "precedent").index(line.kind), -line.points))
    bars = [("What it is worth anywhere, by the catalogue", starts)]
    bars += [(line.text, line.points) for line in others]
    if neutral:
        bars.append(("Precedents' share of the middle (50)", neutral))
    return bars


def _facts(line: "Contribution") -> str:
    said = [
        f"{words.field(path)}: {words.plain(_value(cited.value))}"
        + ("" if cited.without_this is None else f" ({cited.without_this:.1f})")
        for path, cited in line.because.items()
    ]
    said += [f"{words.plain(name)}: {words.plain(_value(value))}" for name, value in line.given.items()]
    if line.similarity is not None:
        said.append(f"likeness {line.similarity:.2f}")
    return "; ".join(said)


def _value(value: object) -> object:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, (list, tuple, set, frozenset)):
        return ", ".join(sorted(map(str, value))) or "none"
    return value


def contrast_view(found: answers.Answer, result: "DecisionResult", option: "OptionResult") -> None:
    """Another option held against this one: the lines in which they differ, adding up to the difference."""
    from recommender.advice.contrast import contrast, grouped_by_criterion

    kind = result.decision.kind
    others = [other.option for other in result.ranked if other.option != option.option]
    key = f"advice.against.{result.decision.key}"
    if st.session_state.get(key) not in others:
        st.session_state[key] = others[0]
    against = result.option(
        st.selectbox("Why not …", others, format_func=lambda o: f"{words.option(kind, o)}", key=key)
    )
    held = contrast(option, against)
    here, there = words.option(kind, option.option), words.option(kind, against.option)
    if held.settled_by_status:
        st.write(
            f"{here}: {words.status(option)}. {there}: {words.status(against)}. The status settles it, not the score."
        )
        for block in (*option.blocked_by, *against.blocked_by):
            st.markdown(f"- {block.text} ({block.source})")
    st.write(
        f"{here} {option.score:.1f}, {there} {against.score:.1f}: a difference of {held.points:+.1f} points."
    )
    labels = found.working.engine.knowledge.criteria.labels
    grouped = grouped_by_criterion(held, lambda name: labels[name])
    adding_up(
        grouped,
        "difference",
        f"Difference of {held.points:+.1f} points by criterion; the table says the same.",
    )
    rows: list[list[object]] = [
        [line.text, f"{line.points:+.2f}", line.source or ""] for line in held.lines[:40]
    ]
    theme.table(["line", f"for {short(here, 24)}", "source"], rows, numbers=(1,), caption="Where they differ")


def blocks_view(option: "OptionResult") -> None:
    """What stands in the way of an option, and the preparation that would remove it."""
    if not option.blocked_by:
        st.write("Nothing recorded speaks against it as it stands.")
    for block in option.blocked_by:
        kinds = {
            "impossible": "impossible",
            "safety": "unsafe",
            "advised_against": "against accepted practice",
        }
        st.markdown(f"- **{kinds[block.kind]}**: {block.text} ({block.source})")
        for step in block.unlocked_by:
            st.markdown(f"    - opens after: {words.step(step)}")
    if option.preparation:
        st.markdown(
            "Routine preparation with it: " + "; ".join(words.step(step) for step in option.preparation)
        )
    if option.unverified:
        st.markdown("Not recorded, and could still block it:")
        st.markdown("\n".join(f"- {words.field(path)}" for path in option.unverified))


def changes_view(found: answers.Answer, result: "DecisionResult", option: "OptionResult") -> None:
    """What would change the answer: gaps that bear on this decision."""
    path = result.decision.path
    gaps = [gap for gap in found.whole.not_recorded if path in gap.would_change]
    if gaps:
        st.markdown("**Not recorded, and could change this decision**")
        st.markdown("\n".join(f"- {words.field(gap.field)}" for gap in gaps[:12]))
        if len(gaps) > 12:
            st.write(f"and {len(gaps) - 12} more")
    else:
        st.write("Nothing that is still unrecorded could change this decision.")


def weights_view(found: answers.Answer, result: "DecisionResult") -> None:
    """How far each criterion's weight can move before another option leads, with a slider to try it."""
    from recommender.advice.weights import rooms

    kind = result.decision.kind
    labels = found.working.engine.knowledge.criteria.labels
    examination = found.working.examine(result.decision)
    room = rooms(examination)
    rows: list[list[object]] = [
        [
            labels[one.criterion],
            f"{one.weight:g}",
            f"{one.share:.0%}",
            "stays"
            if one.down is None
            else f"under {one.down.weight:.1f}: {words.option(kind, one.down.leader)}",
            "stays" if one.up is None else f"over {one.up.weight:.1f}: {words.option(kind, one.up.leader)}",
        ]
        for one in room
    ]
    names = [one.criterion for one in room]
    key = f"advice.criterion.{kind}"
    if st.session_state.get(key) not in names:
        st.session_state[key] = names[0]
    criterion = st.selectbox("Criterion", names, format_func=lambda name: labels[name], key=key)
    one = next(item for item in room if item.criterion == criterion)
    slider = f"advice.weight.{kind}.{criterion}"
    st.session_state[slider] = round(float(one.weight), 1)
    st.slider(
        f"Weight of {labels[criterion]} at every {words.plain(kind)} decision (trial)",
        min_value=0.0, max_value=float(max(60.0, round(one.weight * 2))), step=0.5, key=slider,
        on_change=_moved, args=(kind, criterion, slider),
        help="A trial for this session: the project's own table stays as it is.",
    )  # fmt: skip
    ends = [
        f"{'under' if end is one.down else 'over'} {end.weight:.1f} {words.option(kind, end.leader)} would lead"
        for end in (one.down, one.up)
        if end is not None
    ]
    st.write("; ".join(ends) + "." if ends else "No weight of this criterion alone changes the leader.")
    if answers.moved_weights():
        st.button("Put the weights back", on_click=answers.weights_back, key="advice.weights_back_here")
    theme.table(
        ["criterion", "weight", "share", "if it counts less", "if it counts more"], rows, numbers=(1, 2),
        caption="Where the choice flips, the closest first",
    )  # fmt: skip


def _moved(kind: str, criterion: str, slider: str) -> None:
    answers.move_weight(kind, criterion, float(st.session_state[slider]))
