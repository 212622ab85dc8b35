"""What the parts of the rules page share: the rules in use, their graph, and a rule set out to be read."""

from pathlib import Path
from typing import TYPE_CHECKING

import streamlit as st

from recommender.domain.statement import Word, count
from recommender.screens.ui import theme, words

if TYPE_CHECKING:
    from recommender.knowledge.check import Finding
    from recommender.knowledge.drafts import Draft, Entry
    from recommender.knowledge.graph import Graph
    from recommender.knowledge.model import Knowledge, Rule

DECISIONS = ("retainer", "rest", "connector", "replacement", "indirect_retainer", "framework", "case")
EFFECTS = {
    "favours": ("+", "favours"),
    "discourages": ("−", "discourages"),
    "blocks": ("✕", "blocks"),
    "prepares": ("◐", "asks for preparation"),
    "step": ("▸", "step at the bench"),
    "caution": ("△", "caution"),
    "question": ("?", "question to the dentist"),
}


def known() -> "Knowledge":
    """The rules in use. Raises ``CaseError`` for adopted rules that cannot be read."""
    from recommender.knowledge.in_force import knowledge

    return knowledge()


def graph() -> "Graph":
    """The concept graph of the rules in use."""
    from recommender.knowledge.graph import concept_graph

    return concept_graph(known())


def draft(folder: Path) -> "Draft":
    """What a draft folder says now, read once for each state of its files."""
    return _draft(folder, stamp(folder))


def stamp(folder: Path) -> str:
    """A stamp of the files of a draft. Raises ``DraftError`` where they cannot be read."""
    from recommender.knowledge.adopted import digest
    from recommender.knowledge.drafts import DraftError

    try:
        return digest(folder)
    except OSError as error:
        raise DraftError(f"{folder}: {error}") from error


@st.cache_resource(show_spinner=False, max_entries=4)
def _draft(folder: Path, stamp: str) -> "Draft":
    from recommender.knowledge.drafts import read

    del stamp  # only part of the key
    return read(folder)


def findings(folder: Path) -> "tuple[Finding, ...]":
    """What can be said against a sound draft without a case."""
    return _findings(folder, stamp(folder))


@st.cache_resource(show_spinner="Checking the draft …", max_entries=4)
def _findings(folder: Path, stamp: str) -> "tuple[Finding, ...]":
    from recommender.knowledge.check import check

    del stamp  # only part of the key
    known = draft(folder).knowledge
    return () if known is None else check(known)


def entries(folder: Path) -> "dict[str, Entry]":
    """Every rule of the draft as it stands in its file, by id."""
    return _entries(folder, stamp(folder))


@st.cache_resource(show_spinner=False, max_entries=4)
def _entries(folder: Path, stamp: str) -> "dict[str, Entry]":
    from recommender.knowledge import drafts

    del stamp  # only part of the key
    return {entry.rule_id: entry for path in drafts.rule_files(folder) for entry in drafts.entries(path)}


def sentence(rule_id: str) -> str:
    """The sentence of a rule; its id where the rules in use no longer have it."""
    try:
        return known().rule(rule_id).why
    except KeyError:
        return words.told("rulebook.no_longer", rule=rule_id)


def effect(rule: "Rule") -> str:
    """What a rule does, with a symbol: ``＋ favours, 8 points on retention``."""
    return words.told(
        "rulebook.effect",
        does=words.marked(EFFECTS, rule.effect),
        block=Word("rule_block", rule.block) if rule.block else None,
        points=f"{rule.points:+g}" if rule.points else None,
        criterion=Word("criterion", rule.criterion),
    )


def about(rule: "Rule") -> str:
    """The options that a rule speaks of, in words."""
    if not rule.options:
        return words.told("rulebook.every_option", decision=Word("rules_on", rule.decision))
    named = [_option(rule.decision, name) for name in rule.options]
    left = count(len(named) - 8) if len(named) > 8 else None
    return words.told("rulebook.options", named=", ".join(named[:8]), left=left)


def _option(decision: str, name: str) -> str:
    if name in known().catalogue.options.get(decision, {}):
        return words.option(decision, name)
    return next(
        (words.option(kind, name) for kind, held in known().catalogue.options.items() if name in held), name
    )


def decision_title(name: str) -> str:
    """A kind of decision that rules are about, as a heading."""
    return words.term("rules_on", name).capitalize()


def condition(rule: "Rule") -> str:
    """When a rule fires, in words."""
    from recommender.knowledge.wording import in_words

    return in_words(rule.when.root, known().registry)


def cards(rules: "list[Rule]", most: int = 30) -> None:
    """Rules set out to be read, each with its source, and both sides where it is disputed."""
    if not rules:
        st.write("No rule.")
        return
    st.html("".join(_card(rule) for rule in rules[:most]))
    if len(rules) > most:
        theme.note(words.told("rulebook.first_shown", most=most, rules=len(rules)))


def _card(rule: "Rule") -> str:
    lines = [
        ("When", condition(rule)),
        ("Does", effect(rule)),
        ("To", about(rule)),
    ]
    if rule.unlocked_by:
        removed = ", ".join(
            f"{words.plain(one.action)} ({words.plain(one.surface)})" for one in rule.unlocked_by
        )
        lines.append(("Removed by", removed))
    if rule.preparation is not None:
        lines.append(
            ("Asks for", f"{words.plain(rule.preparation.action)} ({words.plain(rule.preparation.surface)})")
        )
    if rule.disputed:
        lines.append(("⇄ Disputed: the other side", rule.disputed))
    found = Word("rule_found", rule.found) if rule.found in ("page", "memory") else None
    lines.append(("Source", words.told("rulebook.source", source=rule.source, found=found)))
    plain = 'style="margin:0"'
    place = words.told(
        "rulebook.place",
        rule=theme.escape(rule.id),
        place=theme.escape(rule.place),
        when=theme.escape(rule.when.text),
    )
    body = "".join(
        f"<dt {plain}>{theme.escape(name)}</dt><dd {plain}>{theme.escape(text)}</dd>" for name, text in lines
    )
    return (
        '<article style="border-left:4px solid currentColor;padding:.1rem 0 .1rem .8rem;margin:.9rem 0;'
        'max-width:62rem">'
        f'<p style="margin:0;font-weight:600">{theme.escape(rule.why)}</p>'
        '<dl style="display:grid;grid-template-columns:minmax(5.5rem,max-content) 1fr;gap:.05rem .8rem;margin:.2rem 0;'
        f'font-size:.93rem">{body}</dl>'
        f'<p style="margin:0;font-size:.86rem">{place}</p></article>'
    )
