"""Why, as a picture: what stands around an option, a rule, a fact or a source, two steps wide."""

from typing import TYPE_CHECKING

import streamlit as st

from recommender.screens.rules import data
from recommender.screens.rules.read import option
from recommender.screens.ui import theme, words

if TYPE_CHECKING:
    from recommender.knowledge.graph import Node

_WAYS = ("an option", "a rule", "a fact", "a source")
_READING = {
    "option": "heavy box: option",
    "rule": "rounded box: rule",
    "fact": "ellipse: fact",
    "criterion": "six corners: criterion",
    "source": "sheet: source",
    "preparation": "arrow: preparation",
    "family": "folder: kind of option",
}


def part() -> None:
    """Draw this part."""
    from recommender.knowledge.neighbourhood import MOST, dot, label, neighbourhood

    way = st.radio("Around", _WAYS, horizontal=True, key="rules.around", persist_state="session")
    middle = {_WAYS[0]: _option, _WAYS[1]: _rule, _WAYS[2]: _fact, _WAYS[3]: _source}[str(way)]()
    if middle is None:
        return
    graph = data.graph()
    most = st.slider("At most so many nodes", 10, MOST, 30, 5, key="rules.most", persist_state="session")
    found = neighbourhood(graph, middle, most=most)
    lines = words.told("rulebook.dashed_lines_speak", values=", ".join(_READING.values()))
    shown = words.told(
        "rulebook.more_did_not" if found.left_out else "rulebook.all_shown", left_out=found.left_out
    )
    theme.note(f"{lines} {shown}")
    st.graphviz_chart(
        dot(graph, found), width="stretch",
        alt=words.told(
            "rulebook.what_stands_around",
            graph=label(graph, middle),
            nodes=len(found.nodes),
        ),
    )  # fmt: skip
    with st.expander("The same as a table"):
        theme.table(
            ["from", "", "to"],
            [[_named(edge.start), edge.says, _named(edge.end)] for edge in found.edges],
            caption=words.told("rulebook.around", graph=label(graph, middle)),
        )
    rules = [data.known().rule(node[1]) for node in found.nodes if node[0] == "rule"]
    with st.expander(words.told("rulebook.these_rules_full", rules=len(rules))):
        data.cards(rules, most=60)


def _named(node: "Node") -> str:
    from recommender.knowledge.neighbourhood import label

    return f"{node[0]}: {' '.join(label(data.graph(), node).split())}"


def _option() -> "Node | None":
    picked = option()
    return None if picked is None else ("option", f"{picked[0]}/{picked[1]}")


def _rule() -> "Node | None":
    rules = {rule.id: rule for rule in data.known().rules}
    name = st.selectbox(
        "Rule", list(rules), index=None, placeholder="type a word of its sentence", key="rules.one",
        format_func=lambda rule: rules[rule].why, persist_state="session",
    )  # fmt: skip
    return None if name is None else ("rule", name)


def _fact() -> "Node | None":
    known = data.known()
    read = sorted({name for rule in known.rules for name in rule.when.facts})
    name = st.selectbox(
        "Fact", read, index=None, placeholder="type a word", key="rules.graph_fact", persist_state="session",
        format_func=words.fact,
    )  # fmt: skip
    return None if name is None else ("fact", name)


def _source() -> "Node | None":
    from recommender.knowledge import queries

    name = st.selectbox(
        "Source", queries.sources_like(data.graph(), ""), index=None, placeholder="type an author",
        key="rules.graph_source", persist_state="session",
    )  # fmt: skip
    return None if name is None else ("source", name)
