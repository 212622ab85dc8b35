"""A draft of the rules: a folder of one's own, checked, changed, tried on the library, then adopted or not."""

from pathlib import Path
from typing import TYPE_CHECKING

import streamlit as st

from recommender.knowledge.drafts import Draft, DraftError
from recommender.screens.library import data
from recommender.screens.rules import data as own
from recommender.screens.ui import theme

if TYPE_CHECKING:
    from recommender.knowledge.model import Rule

_FOLDER = "rules.folder"
_STEPS = ("Check", "Change a rule", "Change weights", "Try on the library", "Adopt")


def part() -> None:
    """Draw this part."""
    from recommender.knowledge import drafts

    st.write(
        "Rules and weights are changed in a draft: a copy in a folder of your own. The packaged rules stay as they "
        "are, and the advice stays as it is until a draft is adopted."
    )
    left, right = st.columns([3, 2], vertical_alignment="bottom")
    with left:
        st.session_state.setdefault(_FOLDER, str(Path.home() / "casebook-rules"))
        typed = st.text_input("Folder of the draft", key=_FOLDER, persist_state="session")
    with right:
        data.ask_who()
    folder = Path(str(typed).strip()).expanduser()
    try:
        if not drafts.is_draft(folder):
            _start(folder)
            return
        _steps(folder)
    except DraftError as error:
        st.error(f"✕ {theme.literal(error)}")


def _start(folder: Path) -> None:
    from recommender.knowledge import drafts

    st.info(
        f"There is no draft in {theme.literal(folder)} yet. Starting one copies the packaged rules and weights there."
    )
    if st.button("Start a draft", type="primary", key="rules.start"):
        drafts.start(folder)
        data.done(f"A draft stands in {folder}. It may also be edited there with any text editor.")
        st.rerun()


def _steps(folder: Path) -> None:
    from recommender.screens.rules import draft_change, draft_try

    step = st.segmented_control(
        "Step", _STEPS, default=_STEPS[0], required=True, key="rules.step", persist_state="session", wrap=True
    )
    {
        _STEPS[0]: check,
        _STEPS[1]: draft_change.rule,
        _STEPS[2]: draft_change.weights,
        _STEPS[3]: draft_try.trial,
        _STEPS[4]: draft_try.adoption,
    }[str(step)](folder)


def check(folder: Path) -> None:
    """What is wrong with the draft, and how it differs from the packaged rules."""
    found = own.draft(folder)
    problems(found)
    if found.knowledge is None:
        return
    rows: list[list[object]] = [
        [
            {"error": "✕ error", "warning": "△ warning"}[one.level],
            one.subject,
            one.message,
            shorter(one.place, folder),
        ]
        for one in own.findings(folder)
        if one.level != "information"
    ]
    if rows:
        theme.table(["", "of", "what", "place"], rows[:80], caption=f"{len(rows)} findings")
    else:
        st.write("✓ Nothing is wrong with the draft.")
    show_differences(found)


def problems(found: Draft) -> None:
    """What keeps a draft from being read, with file, rule and place."""
    if found.problems:
        theme.table(
            ["place", "of", "found", "allowed"],
            [
                [shorter(one.at, found.folder), one.field, one.found, f"{one.allowed} {one.hint}".strip()]
                for one in found.problems[:60]
            ],
            caption=f"✕ {len(found.problems)} problems keep this draft from being tried or adopted",
        )


def shorter(place: str, folder: Path) -> str:
    """A place in a file of the draft, without the folder."""
    return place.replace(f"{folder}/", "")


def show_differences(found: Draft) -> None:
    """What the draft changes about the packaged rules."""
    from recommender.knowledge.drafts import differences
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
        [f"≠ weight of {labels.get(name, name)} at: {decision.replace('_', ' ')}", f"{old:g}", f"{new:g}"]
        for decision, name, old, new in changed.weights
    ]
    if changed.shifts:
        rows.append(["≠ what a case adds to the weights", "as packaged", "changed"])
    theme.table(["what", "packaged", "draft"], rows, caption="How the draft differs from the packaged rules")


def _said(rule: "Rule") -> str:
    points = f" {rule.points:+g} {rule.criterion}" if rule.points else ""
    return f"{rule.effect}{points}, when {rule.when.text}. {rule.why}"
