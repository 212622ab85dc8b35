"""What stands in the way of an option, what would change the answer, and where a weight would flip it."""

from typing import TYPE_CHECKING

import streamlit as st

from recommender.domain.statement import Choice, Statement, quantity, say, several
from recommender.screens.advice.reasons import Below, nothing_below
from recommender.screens.session import current_advice, keys
from recommender.screens.ui import theme, words

if TYPE_CHECKING:
    from recommender.advice.explanation.counterfactuals.changes import Changes
    from recommender.advice.explanation.counterfactuals.facts import Flips
    from recommender.advice.model import DecisionResult, OptionResult
    from recommender.advice.scoring.weights import Break


def blocks_view(option: "OptionResult") -> Below:
    """What blocks an option, and the preparation that would remove it."""
    if not option.blocked_by:
        st.write(words.told("screen.nothing_against"))
    for block in option.blocked_by:
        kind = words.in_words().term("block", block.kind)
        lines = [f"- **{kind}**: {words.said(block.statement)} ({block.source})"]
        lines += [
            f"    - {words.told('screen.opens_after', work=words.step(step))}" for step in block.unlocked_by
        ]
        st.markdown("\n".join(lines))
    if option.preparation:
        work = "; ".join(words.step(step) for step in option.preparation)
        st.markdown(words.told("screen.routine_with_it", work=work))
    if option.unverified:
        st.markdown(words.told("screen.could_still_block"))
        st.markdown("\n".join(f"- {words.gap(path)}" for path in option.unverified))
    return nothing_below


def changes_view(found: current_advice.Answer, result: "DecisionResult", option: "OptionResult") -> Below:
    """The smallest changes of the case after which another option leads; each was run again."""
    key = (found.key, result.decision, option.option)
    held: dict[object, Changes] = st.session_state.setdefault("casebook.changes", {})
    if key not in held:
        st.write(
            "Every recorded fact, every preparation and every gap is tried in turn, and the decision worked out again "
            "each time. That takes some seconds."
        )
        if not st.button("Work out what would change it", key="advice.changes"):
            return nothing_below
        from recommender.advice.explanation.counterfactuals.changes import what_would_change

        if len(held) > 20:
            held.clear()
        with st.spinner("Trying changes …", show_time=True):
            held[key] = what_would_change(found.analysis, result.decision, option.option)
    changes = held[key]
    kind = result.decision.kind
    st.write(words.told("screen.runs_cut" if changes.capped else "screen.runs", n=changes.runs))
    if changes.toward is not None:
        st.markdown(f"**{words.told('screen.facts_for', option=words.option(kind, option.option))}**")
        _flips(changes.toward, kind)
    st.markdown("**Facts after which another option would lead**")
    _flips(changes.flips, kind)
    return lambda: _more(changes, kind)


def _flips(flips: "Flips", kind: str) -> None:
    if not flips.flips:
        st.write("No change of a single recorded fact does it.")
        return
    rows: list[list[object]] = [
        [
            words.field(f.path),
            words.value_at(f.path, f.now),
            words.value_at(f.path, f.value),
            words.option(kind, f.leader),
        ]
        for f in flips.flips[:12]
    ]
    theme.table(["if", "instead of", "were", "then leads"], rows)
    if len(flips.flips) > 12:
        st.write(words.told("and_more", n=len(flips.flips) - 12))


def _more(changes: "Changes", kind: str) -> None:
    plans: list[list[object]] = [
        [
            words.option(kind, plan.option),
            "; ".join(words.step(step) for step in plan.steps),
            words.told("screen.price", enamel=quantity(plan.price.enamel_mm, "mm"), visits=plan.price.visits),
            words.told(f"screen.goal_{plan.goal}")
            if plan.reached
            else words.told("screen.not_reached", status=words.listed("status", plan.status)),
            words.told(
                {True: "screen.permitted", False: "screen.ruled_out", None: "screen.ask"}[plan.permitted]
            ),
        ]
        for plan in changes.plans
    ]
    if plans:
        theme.table(
            ["option", "preparation", "cost", "what it does", "permitted"], plans, caption="Preparation"
        )
    gaps: list[list[object]] = [
        [
            words.field(worth.path),
            "; ".join(f"{words.value_at(worth.path, v)}: {words.option(kind, o)}" for v, o in worth.flips[:3])
            or words.told("screen.no_value_changes"),
            f"{worth.largest_move:.1f}",
        ]
        for worth in changes.worths.fields[:15]
    ]
    if gaps:
        theme.table(
            ["not recorded", "values that change the leader", "moves its score by up to"],
            gaps,
            numbers=(2,),
            caption="Worth measuring, the most telling first",
        )


def weights_view(found: current_advice.Answer, result: "DecisionResult") -> Below:
    """How far each criterion's weight can move before another option leads, with a slider to try it."""
    from recommender.advice.scoring.weights import rooms

    kind = result.decision.kind
    labels = found.analysis.engine.knowledge.criteria.labels
    room = rooms(found.analysis.examine(result.decision))
    names = [one.criterion for one in room]
    key = f"advice.criterion.{kind}"
    if st.session_state.get(key) not in names:
        st.session_state[key] = names[0]
    criterion = st.selectbox("Criterion", names, format_func=lambda name: labels[name], key=key)
    one = next(item for item in room if item.criterion == criterion)
    slider = keys.view(f"advice.weight.{kind}.{criterion}", round(float(one.weight), 1))
    st.slider(
        words.told("screen.weight_of", criterion=labels[criterion], kind=words.plain(kind)),
        min_value=0.0,
        max_value=float(max(60.0, round(one.weight * 2))),
        value=round(float(one.weight), 1),
        step=0.5,
        key=slider,
        on_change=_moved,
        args=(kind, criterion, slider),
        help="A trial for this session: the project's own table stays as it is.",
    )
    ends = [_flip("screen.flips_under", one.down, kind), _flip("screen.flips_over", one.up, kind)]
    flipping = [end for end in ends if end is not None]
    lead = words.option(kind, result.ranked[0].option)
    if flipping:
        st.write(words.told("screen.lead_flips", option=lead, ends=several(flipping, "or")))
    else:
        st.write(words.told("screen.lead_stays", option=lead))
    if current_advice.moved_weights():
        st.button(
            "Put the weights back", on_click=current_advice.weights_back, key="advice.weights_back_here"
        )

    def below() -> None:
        rows: list[list[object]] = [
            [
                labels[item.criterion],
                f"{item.weight:.1f}",
                f"{item.share:.0%}",
                _flip_or_not("screen.flips_under", item.down, kind),
                _flip_or_not("screen.flips_over", item.up, kind),
            ]
            for item in room
        ]
        theme.table(
            ["criterion", "weight", "share", "if it counts less", "if it counts more"],
            rows,
            numbers=(1, 2),
            caption="Where the choice flips, the closest first",
        )

    return below


def _flip(code: str, end: "Break | None", kind: str) -> "Statement | None":
    return None if end is None else say(code, weight=quantity(end.weight), option=Choice(kind, end.leader))


def _flip_or_not(code: str, end: "Break | None", kind: str) -> str:
    found = _flip(code, end, kind)
    return words.told("screen.stays") if found is None else words.said(found)


def _moved(kind: str, criterion: str, slider: str) -> None:
    if keys.edited(slider):
        current_advice.move_weight(kind, criterion, float(st.session_state[slider]))
