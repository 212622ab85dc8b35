"""Changing a draft: one rule as it stands in its file, and the weights of the criteria."""

from pathlib import Path

import streamlit as st

from recommender.knowledge.drafts import DraftError
from recommender.screens.library import data
from recommender.screens.rules import data as own
from recommender.screens.rules.draft_shown import problems, shorter
from recommender.screens.ui import theme, words

_NEW = """- id: my_new_rule
  stage: option
  decision: retainer
  options: [i_bar]
  when: patient.hygiene == poor
  effect: discourages
  criterion: hygiene
  points: -3
  why: One sentence that a junior and a dentist can both read.
  source: common practice, no source
  found: common_practice
"""


def rule(folder: Path) -> None:
    """Choose a rule, change its text, keep it, put it back, or add one."""
    from recommender.knowledge import drafts
    from recommender.knowledge.packaged import read_yaml
    from recommender.resources import shared

    found = own.draft(folder)
    problems(found)
    listed = own.entries(folder)
    sentences = {one.id: one.why for one in own.known().rules}
    name = st.selectbox(
        "Rule", list(listed), index=None, placeholder="type a word of its sentence or id", key="rules.edited",
        format_func=lambda rule: f"{sentences.get(rule, '')} ({rule})", persist_state="session",
    )  # fmt: skip
    if name is None:
        _add(folder)
        return
    entry = listed[name]
    place = shorter(str(entry.path), folder)
    text = st.text_area(
        words.told("rulebook.stands_line", place=place, first=entry.first + 1), entry.text, height=320,
        key=f"rules.text.{name}.{hash(entry.text)}",
        help="How a rule is written stands in shared/rules/README.md: when, effect, points, why, source.",
    )  # fmt: skip
    with st.container(horizontal=True):
        if st.button("Keep the change", type="primary", disabled=text == entry.text, key="rules.keep"):
            drafts.change_rule(folder, name, text)
            _told(folder, words.told("rulebook.changed_draft", name=name))
        if st.button("Put it back as packaged", key="rules.back"):
            for path in sorted(shared("rules").glob("*.yaml")):
                if any(each.get("id") == name for each in read_yaml(path)["rules"]):
                    packaged = next(each for each in drafts.entries(path) if each.rule_id == name)
                    drafts.change_rule(folder, name, packaged.text)
                    _told(folder, words.told("rulebook.packaged", name=name))
            raise DraftError(f"{name} is not among the packaged rules")
        if st.button("Take it out of the draft", key="rules.out"):
            drafts.change_rule(folder, name, "")
            _told(folder, words.told("rulebook.taken_out_draft", name=name))
    theme.note(
        "The rest of the file stays byte for byte. A change with problems is kept, but cannot be adopted."
    )


def _add(folder: Path) -> None:
    from recommender.knowledge import drafts

    with st.expander("Add a rule"):
        text = st.text_area("The new rule", _NEW, height=280, key="rules.new")
        name = st.text_input("In the file", "own.yaml", key="rules.new_file")
        if st.button("Add it to the draft", key="rules.add"):
            drafts.add_rule(folder, name.strip(), text)
            _told(folder, "The rule is added to the draft.")


def _told(folder: Path, text: str) -> None:

    wrong = own.draft(folder).problems
    data.done(
        words.told("rulebook.problems_mend", text=text, wrong=len(wrong))
        if wrong
        else words.told("rulebook.draft_sound", text=text)
    )
    st.rerun()


def weights(folder: Path) -> None:
    """The weights of the criteria at one decision, and what a case adds to them."""
    from recommender.knowledge import drafts

    found = own.draft(folder)
    problems(found)
    if found.knowledge is None:
        st.write("Mend the problems first.")
        return
    criteria = found.knowledge.criteria
    decision = st.segmented_control(
        "Weights at", list(criteria.base), default="retainer", required=True, format_func=own.decision_title,
        key="rules.weights_of", persist_state="session", wrap=True,
    )  # fmt: skip
    base = criteria.base[str(decision)]
    theme.note(
        "Only the proportions count: the weights of a decision are scaled to 100 % after the shifts below."
    )
    total = sum(base.values())
    with st.form(f"rules.weights.{decision}", border=False):
        columns = st.columns(4)
        given: dict[str, float] = {}
        for number, (name, weight) in enumerate(base.items()):
            with columns[number % 4]:
                given[name] = st.number_input(
                    f"{criteria.labels[name]} ({weight / total:.0%})", 0.0, 1000.0, float(weight), 1.0, format="%g",
                    help=criteria.definitions.get(name), key=f"rules.weight.{decision}.{name}.{weight:g}",
                )  # fmt: skip
        sent = st.form_submit_button("Keep these weights", type="primary")
    if sent:
        changed = {name: value for name, value in given.items() if value != base[name]}
        for name, value in changed.items():
            drafts.set_weight(folder, str(decision), name, value)
        _told(folder, words.told("rulebook.weights_changed_draft", changed=len(changed)))
    _shifts(folder)


def _shifts(folder: Path) -> None:
    from recommender.knowledge import drafts
    from recommender.knowledge.wording import in_words

    known = own.draft(folder).knowledge
    assert known is not None
    shifts = known.criteria.shifts
    st.markdown("**What a case adds to a weight**")

    def shown(index: int) -> str:
        one = shifts[index]
        return words.told(
            "rulebook.when",
            what=known.criteria.labels[one.criterion],
            add=f"{one.add:+g}",
            in_words=in_words(one.when.root, known.registry),
        )

    index = st.selectbox("Shift", range(len(shifts)), format_func=shown, key="rules.shift")
    st.text(f"{shifts[index].why} [{shifts[index].source}]")
    with st.form("rules.shift_form", border=False):
        add = st.number_input(
            "Adds",
            -100.0,
            100.0,
            shifts[index].add,
            1.0,
            format="%g",
            key=f"rules.add.{index}.{shifts[index].add:g}",
        )
        if st.form_submit_button("Keep it") and add != shifts[index].add:
            drafts.set_shift(folder, index, add)
            _told(folder, "The shift is changed in the draft.")
