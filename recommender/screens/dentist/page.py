"""Talking it over with the dentist: prescription against proposal, the letter, the ticket, the dentist's answer."""

from typing import TYPE_CHECKING

import streamlit as st

from recommender.screens.advice.answer import cautions_section
from recommender.screens.advice.page import ready
from recommender.screens.dentist.settled import said
from recommender.screens.session import current_advice, keys, state
from recommender.screens.ui import theme, words
from recommender.wording.words import capital

if TYPE_CHECKING:
    from recommender.advice.model import Framework
    from recommender.advice.review import ReviewItem
    from recommender.domain.statement import Statement

_PRECEDENTS = 5  # the nearest; the page of precedents shows them all


def page() -> None:
    """Draw the page."""
    found = ready()
    if found is None:
        return
    framework, trouble = current_advice.framework(found)
    if trouble:
        st.error(words.told("screen.a_choice_not_built", why=theme.literal(trouble)))
    from recommender.advice.beside_framework import beside
    from recommender.advice.review import review

    items = beside(found.analysis, framework, review(found.analysis))
    _on_the_telephone(found, framework, items)
    cautions_section(found, framework)
    if framework is None:
        st.warning("No framework can be put together, so the letter says why and asks for what would help.")
    _items(found, framework, [item for item in items if item.asked is not None])
    _left_out([item for item in items if item.asked is None])
    from recommender.screens.dentist.answer import answer_section
    from recommender.screens.dentist.papers import papers_section

    papers_section(found, framework)
    answer_section(found, framework, items)


def _on_the_telephone(
    found: current_advice.Answer, framework: "Framework | None", items: "tuple[ReviewItem, ...]"
) -> None:
    """Four lines to say first; below, what the note of the prescription wishes for, answered."""
    from recommender.advice.phone import four_lines, note_answered

    lines = [words.said(line) for line in four_lines(found.analysis, framework, items)]
    inside = "".join(f"<li>{theme.escape(line)}</li>" for line in lines)
    noted = [words.said(line) for line in note_answered(found.analysis, found.whole, framework)]
    head = theme.escape(words.told("screen.on_the_telephone"))
    told = f'<section class="casebook-cautions" aria-label="{head}"><b>{head}</b><ul>{inside}</ul></section>'
    if noted:
        more = "".join(f"<p>{theme.escape(line)}</p>" for line in noted)
        told += f"<p><b>{theme.escape(words.told('screen.of_the_note'))}</b></p>{more}"
    st.html(told)


def _items(found: current_advice.Answer, framework: "Framework | None", items: "list[ReviewItem]") -> None:
    st.subheader("What was asked, and what we propose", anchor=False)
    if not items:
        st.info("The case holds no prescription. The letter then proposes the whole design.")
        return
    for item in items:
        _item(found, framework, item)


def _item(found: current_advice.Answer, framework: "Framework | None", item: "ReviewItem") -> None:
    kind = item.decision.kind
    proposed = proposed_at(framework, item)
    asked = words.option(kind, item.asked)
    follows = proposed == item.asked
    verdict = "school" if item.school is not None and not follows else item.verdict
    title = f"{words.decision(item.decision)}: {words.listed('verdict', verdict)}"
    proposal = None if follows else words.option(kind, proposed)
    tail = words.told("screen.followed" if follows else "screen.asked", asked=asked, proposal=proposal)
    with st.expander(
        f"{title} · {tail}", expanded=not follows or item.verdict in ("conflicts", "better_alternative")
    ):
        st.write(theme.literal(words.said(item.wording)))
        if item.school is not None:
            school = item.school
            theme.note(f"{capital(school.name)}: {school.says} {school.source}.")
        left, right = st.columns(2, gap="large")
        with left:
            _lines("To follow costs", item.price_of_following)
            _lines(words.told("screen.precedents_for", option=asked), item.precedents_for_asked, _PRECEDENTS)
        with right:
            _lines("To depart costs", item.price_of_departing)
            _lines(
                words.told("screen.precedents_for", option=words.option(kind, item.lead)),
                item.precedents_for_lead,
                _PRECEDENTS,
            )
        _decide(found, item, follows)
        if not follows:
            _wording(item)


def proposed_at(framework: "Framework | None", item: "ReviewItem") -> str | None:
    """What the framework carries where the dentist asked for something."""
    from recommender.screens.advice.choose import taken_at

    if item.decision.kind == "alloy":
        return None if framework is None else framework.design.alloy
    taken = taken_at(item.decision, framework)
    return "none" if taken is None and item.decision.kind in ("retainer", "rest") and framework else taken


def _lines(title: str, lines: "tuple[Statement, ...]", most: int | None = None) -> None:
    """Lines under a title, at most so many."""
    if not lines:
        return
    told = [theme.literal(words.said(line)) for line in lines[:most]]
    if most is not None and len(lines) > most:
        told.append(words.told("and_more", n=len(lines) - most))
    st.markdown(f"**{title}**\n\n" + "\n".join(f"- {line}" for line in told))


def _decide(found: current_advice.Answer, item: "ReviewItem", follows: bool) -> None:
    """Follow the prescription at this item, or propose to depart from it."""
    if item.decision not in found.analysis.decisions() or item.asked is None:
        return
    status = found.result(item.decision).option(item.asked).status
    if status == "excluded":
        st.write("It cannot be followed: what was recorded excludes it. The letter says so and asks.")
        return
    key = keys.view(f"talk.decide.{item.decision.key}", "follow" if follows else "depart")
    st.radio(
        "In the letter",
        ["follow", "depart"],
        index=0 if follows else 1,
        format_func={"follow": "follow what was asked", "depart": "propose to depart"}.__getitem__,
        key=key,
        on_change=_decided,
        args=(item, key),
        horizontal=True,
    )


def _decided(item: "ReviewItem", key: str) -> None:
    if not keys.edited(key):
        return
    if st.session_state[key] == "follow":
        current_advice.choose(item.decision, item.asked, "as prescribed")
    else:
        held = state.choices().get(item.decision.key)
        taken = None if held is None or held["option"] == item.asked else held["option"]
        current_advice.choose(item.decision, taken or item.lead)


def _wording(item: "ReviewItem") -> None:
    now = said().get(item.decision.key) or words.said(item.wording)
    key = keys.view(f"talk.wording.{item.decision.key}", now)
    st.text_area(
        "In our words",
        value=now,
        key=key,
        on_change=_worded,
        args=(item, key),
        help="Printed in the letter.",
    )


def _worded(item: "ReviewItem", key: str) -> None:
    if not keys.edited(key):
        return
    held = state.case()
    if held is None:
        return
    made = state.choices()
    text = str(st.session_state[key]).strip()
    kept = {**said(), item.decision.key: text}
    if not text or text == words.said(item.wording):
        kept.pop(item.decision.key)
    made["wording"] = kept
    state.change(held, made)


def _left_out(items: "list[ReviewItem]") -> None:
    if not items:
        return
    with st.expander(words.told("screen.left_out", n=len(items))):
        rows: list[list[object]] = [
            [
                words.decision(item.decision),
                words.option(item.decision.kind, item.lead),
                "; ".join(words.in_words().lines(item.reasons[:2])),
            ]
            for item in items
        ]
        theme.table(["for", "leads", "because"], rows)
