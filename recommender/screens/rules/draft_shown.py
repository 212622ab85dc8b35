"""A draft as it is shown: what is wrong with it, and how it differs from the packaged rules."""

from pathlib import Path

import streamlit as st

from recommender.knowledge.drafts import Draft
from recommender.knowledge.model import Rule
from recommender.screens.ui import theme, words


def problems(found: Draft) -> None:
    """What keeps a draft from being read, with file, rule and place."""
    if found.problems:
        theme.table(
            ["place", "of", "found", "allowed"],
            [
                [shorter(one.at, found.folder), one.field, one.found, f"{one.allowed} {one.hint}".strip()]
                for one in found.problems[:60]
            ],
            caption=words.told("rulebook.problems_keep_draft", problems=len(found.problems)),
        )


def shorter(place: str, folder: Path) -> str:
    """A place in a file of the draft, without the folder."""
    return place.replace(f"{folder}/", "")


def show_differences(found: Draft) -> None:
    """What the draft changes about the packaged rules."""
    from recommender.knowledge.differences import differences
    from recommender.knowledge.load import packaged_knowledge

    assert found.knowledge is not None
    before, after = packaged_knowledge(), found.knowledge
    changed = differences(before, after)
    if changed.none:
        st.write("The draft says what the packaged rules say.")
        return
    rows: list[list[object]] = []
    for name in changed.changed:
        rows.append([f"≠ {name}", _said(before.rule(name)), _said(after.rule(name))])
    rows += [[f"+ {name}", "", _said(after.rule(name))] for name in changed.added]
    rows += [[f"− {name}", _said(before.rule(name)), "taken out"] for name in changed.removed]
    labels = after.criteria.labels
    rows += [
        [
            words.told("rulebook.weight", name=labels.get(name, name), decision=decision.replace("_", " ")),
            f"{old:g}",
            f"{new:g}",
        ]
        for decision, name, old, new in changed.weights
    ]
    if changed.shifts:
        rows.append(["≠ what a case adds to the weights", "as packaged", "changed"])
    theme.table(["what", "packaged", "draft"], rows, caption="How the draft differs from the packaged rules")


def _said(rule: "Rule") -> str:
    points = f" {rule.points:+g} {rule.criterion}" if rule.points else ""
    return words.told("rulebook.when_a", effect=rule.effect, points=points, text=rule.when.text, why=rule.why)
