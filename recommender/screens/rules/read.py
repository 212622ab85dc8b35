"""Rules to be read: those about an option, those that read a fact, those that rest on a source."""

from typing import TYPE_CHECKING

import streamlit as st

from recommender.screens.library import data
from recommender.screens.rules import data as own
from recommender.screens.ui import theme, words

if TYPE_CHECKING:
    from recommender.knowledge.model import Rule

_WAYS = ("an option", "a fact", "a source", "words or id")


def part() -> None:
    """Draw this part."""
    left, right = st.columns([3, 2], vertical_alignment="bottom")
    with left:
        way = st.radio("Find rules by", _WAYS, horizontal=True, key="rules.way", persist_state="session")
    with right:
        disputed = st.checkbox("Only what schools dispute", key="rules.disputed", persist_state="session")
    found = {_WAYS[0]: _by_option, _WAYS[1]: _by_fact, _WAYS[2]: _by_source, _WAYS[3]: _by_words}[str(way)]()
    if found is None:
        return
    shown = [rule for rule in found if rule.disputed or not disputed]
    st.markdown(words.told("rulebook.rules", shown=len(shown)))
    own.cards(shown)


def option() -> tuple[str, str] | None:
    """One option, as (decision, identifier)."""
    options = own.known().catalogue.options
    left, right = st.columns([2, 3])
    with left:
        decision = st.selectbox(
            "Decision", [name for name in own.DECISIONS if name in options], format_func=own.decision_title,
            key="rules.decision", persist_state="session",
        )  # fmt: skip
    with right:
        names = sorted(options[decision], key=lambda name: words.option(decision, name).casefold())
        chosen = st.selectbox(
            "Option", names, format_func=lambda name: words.option(decision, name), key=f"rules.option.{decision}",
            persist_state="session",
        )  # fmt: skip
    return (decision, chosen) if chosen else None


def _by_option() -> "list[Rule] | None":
    from recommender.knowledge import queries

    picked = option()
    if picked is None:
        return None
    decision, name = picked
    held = own.known().catalogue.option(decision, name)
    data.say(f"<b>{theme.escape(held.label)}</b>: {theme.escape(held.definition)}")
    graph, node = own.graph(), ("option", f"{decision}/{name}")
    near = queries.related(graph, node)[:6]
    alike = ", ".join(f"{words.option(decision, other)} ({share:g})" for other, share, _ in near)
    if alike:
        theme.note(words.told("rulebook.kind_precedent_one", alike=alike))
    sides = {
        words.told("rulebook.side_for"): queries.why(graph, node),
        words.told("rulebook.side_against"): queries.why_not(graph, node),
        words.told("rulebook.side_else"): queries.rules_about(
            graph, node, ("prepares", "step", "caution", "question")
        ),
    }
    general = st.checkbox(
        "Also rules about every option of this decision", key="rules.general", persist_state="session"
    )
    side = st.segmented_control(
        "What", list(sides), default=next(iter(sides)), required=True, key="rules.side", wrap=True,
        persist_state="session",
        format_func=lambda text: f"{text} ({sum(general or line.named for line in sides[text])})",
    )  # fmt: skip
    return [own.known().rule(line.id) for line in sides[str(side)] if general or line.named]


def _by_fact() -> "list[Rule] | None":
    from recommender.knowledge import queries

    known = own.known()
    read = sorted(
        {name for rule in known.rules for name in rule.when.facts}, key=lambda n: known.registry[n].label
    )
    name = st.selectbox(
        "Fact", read, index=None, placeholder="type a word, e.g. undercut", key="rules.fact", persist_state="session",
        format_func=words.fact,
    )  # fmt: skip
    if name is None:
        return None
    spec = known.registry[name]
    values = " | ".join(words.plain(value) for value in spec.values) or spec.unit or spec.type
    theme.note(words.told("rulebook.known_can", scope=spec.scope, values=values))
    return [known.rule(rule) for rule in queries.rules_reading(own.graph(), name)]


def _by_source() -> "list[Rule] | None":
    from recommender.knowledge import queries

    graph = own.graph()
    resting = {source: queries.rules_resting_on(graph, source) for source in queries.sources_like(graph, "")}
    source = st.selectbox(
        "Source, those most relied on first",
        sorted((name for name in resting if resting[name]), key=lambda name: (-len(resting[name]), name)),
        index=None,
        format_func=lambda name: f"{name} ({len(resting[name])})",
        placeholder="type an author or a word of the title",
        key="rules.source",
        persist_state="session",
    )
    if source is None:
        return None
    st.text(source)
    return [own.known().rule(rule) for rule in resting[source]]


def _by_words() -> "list[Rule] | None":
    text = st.text_input(
        "Words of the sentence, the condition or the id", key="rules.words", persist_state="session"
    )
    wanted = (text or "").casefold().split()
    if not wanted:
        return None
    return [
        rule
        for rule in own.known().rules
        if all(
            word in f"{rule.id} {rule.why} {rule.when.text} {rule.disputed or ''}".casefold()
            for word in wanted
        )
    ]
