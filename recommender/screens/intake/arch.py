"""The arch: teeth marked by click, by key, by a typed list or by pills; the Kennedy class as it stands."""

import re
from typing import Literal

import streamlit as st

from recommender.domain.case import Case
from recommender.domain.dentition import ARCH_ORDER, between
from recommender.domain.findings import Abutment
from recommender.domain.statement import Teeth
from recommender.screens.intake.dentition_marks import following, mark_of, marked
from recommender.screens.session import keys, state, visitor
from recommender.screens.ui import theme, words
from recommender.screens.ui.chart import Click, arch_chart

_LAST = "casebook.last_tooth"
_NAMES = {
    "missing": "missing, to be replaced",
    "absent": "absent, not to be replaced",
    "abutment": "abutment",
}
_ASSUMED = ("kennedy.third_taken", "kennedy.third_unused")
_GONE = "casebook.gone_abutments"
_ROUND = "round"
_CLICKS = {_ROUND: "goes round: stands, missing, absent", "abutment": "marks an abutment"}


def arch_section() -> None:
    """Chart on the left, class and lists on the right."""
    held = state.case()
    assert held is not None
    with st.container(key="casebook_wrap_arch"):
        left, right = st.columns([6, 5], gap="large")
    with left:
        st.segmented_control(
            "A click",
            list(_CLICKS),
            default=_ROUND,
            format_func=lambda way: _CLICKS[way],
            key="take_in.click",
            required=True,
        )
        arch_chart(held, state.numbering(), _on_click, key="take_in.chart")
    with right:
        _lists(held)
        _kennedy(held)
        _messages(held)


def _on_click(click: Click) -> None:
    held = state.case()
    if held is None:
        return
    mode = st.session_state.get("take_in.click") or _ROUND
    before = mark_of(held, click.tooth)
    mark = following(before) if mode == _ROUND else ("standing" if before == "abutment" else "abutment")
    teeth = [click.tooth]
    kept = visitor.store()
    last = kept.get(_LAST)
    if click.run and last in ARCH_ORDER[held.arch]:
        mark = mark_of(held, last)
        teeth += [last, *between(held.arch, last, click.tooth)]
    state.change(marked(held, teeth, mark))
    kept[_LAST] = click.tooth


def _kennedy(held: Case) -> None:
    """The class, what it assumes of third molars, and what settles that."""
    from recommender.domain.kennedy import classify

    found = classify(held)
    st.subheader(found.label, anchor=False)
    for step in found.steps:
        if step.statement.code in _ASSUMED:
            _settle(held, words.said(step.statement), step.teeth)
    for question in found.questions:
        st.info(f"To ask: {words.said(question.statement)}")
    with st.expander("Why this class", key="take_in.why"):
        rows: list[list[object]] = [
            [
                words.told("intake.applegate", rule=step.rule) if step.rule else "convention",
                words.said(step.statement),
            ]
            for step in found.steps
        ]
        theme.table(["rule", "what it decides"], rows, caption="Why this class")


def _settle(held: Case, assumed: str, thirds: tuple[int, ...]) -> None:
    """An assumption about third molars, and one click for each answer."""
    st.html(f'<p class="casebook-caution">{theme.escape(assumed)} This is assumed:</p>')
    with st.container(horizontal=True):
        for name, mark in (("not there", "absent"), ("to be used", "abutment")):
            st.button(
                f"{words.teeth(thirds)}: {name}", key=f"take_in.thirds.{mark}", on_click=_mark,
                args=(held.id, thirds, mark),
            )  # fmt: skip


def _mark(case_id: str, teeth: tuple[int, ...], mark: str) -> None:
    with visitor.alone():
        held = state.case()
        if held is not None and held.id == case_id:
            state.change(marked(held, teeth, mark))


def problems(held: Case) -> list[str]:
    """What contradicts itself in the case, in words."""
    from recommender.domain.errors import CaseError
    from recommender.domain.reader import read_value
    from recommender.precedents.store.documents import as_data

    try:
        read_value(as_data(held), held.id)
    except CaseError as error:
        return [
            words.told(
                "screen.fault",
                field=words.field(p.field) if p.field else held.id,
                found=p.found,
                allowed=p.allowed,
                hint=p.hint or None,
            )
            for p in error.problems
        ]
    return []


def _messages(held: Case) -> None:
    found = problems(held)
    if found:
        st.error(
            "\n".join([words.told("intake.to_mend"), "", *(f"- {theme.literal(text)}" for text in found)])
        )


def _lists(held: Case) -> None:
    """The typed lists and the pills: second and third ways in, with the same effect as clicks."""
    for mark, name in _NAMES.items():
        listed = [t for t in ARCH_ORDER[held.arch] if mark_of(held, t) == mark]
        key = keys.view(f"take_in.list.{mark}", words.teeth(listed))
        st.text_input(
            words.told("intake.teeth", name=name) if mark != "abutment" else "Abutments",
            value=words.teeth(listed),
            key=key,
            on_change=_on_list,
            args=(mark, key),
            placeholder="15, 16, 24" if state.numbering() == "iso" else "3, 4, 12",
        )
        refusal = state.refused(f"take_in.list.{mark}")
        if refusal:
            theme.refusal(refusal)
    _ask_about_gone(held)
    with st.expander("By pills", key="take_in.pills"):
        for mark, name in _NAMES.items():
            picked = [t for t in ARCH_ORDER[held.arch] if mark_of(held, t) == mark]
            key = keys.view(f"take_in.pills.{mark}", picked)
            st.pills(
                words.told("intake.teeth", name=name) if mark != "abutment" else "Abutments",
                list(ARCH_ORDER[held.arch]),
                selection_mode="multi",
                default=picked,
                format_func=state.tooth,
                key=key,
                on_change=_on_pills,
                args=(mark, key),
                wrap=True,
            )


def _on_list(mark: str, key: str) -> None:
    if not keys.edited(key):
        return
    text = str(st.session_state[key])
    held = state.case()
    if held is None:
        return
    teeth, wrong = read_teeth(text, held.arch, state.numbering())
    if wrong:
        arch = "upper" if held.arch == "maxilla" else "lower"
        state.refuse(
            f"take_in.list.{mark}", words.told("intake.not_taken_over", wrong=", ".join(wrong), arch=arch)
        )
        return
    _set_marked(held, mark, teeth)


def _on_pills(mark: str, key: str) -> None:
    if not keys.edited(key):
        return
    held = state.case()
    if held is not None:
        _set_marked(held, mark, list(st.session_state[key]))


def _set_marked(held: Case, mark: str, teeth: list[int]) -> None:
    before = {tooth for tooth in ARCH_ORDER[held.arch] if mark_of(held, tooth) == mark}
    taken_off, added = before - set(teeth), set(teeth) - before
    kept = visitor.store()
    kept.pop(_GONE, None)
    gone = added & {*held.missing, *(held.absent or ())} if mark == "abutment" else set()
    if gone:
        kept[_GONE] = held.id, tuple(tooth for tooth in ARCH_ORDER[held.arch] if tooth in gone)
        added -= gone
    changed = marked(held, taken_off, "standing") if taken_off else held
    if added:
        changed = marked(changed, added, mark)
    state.change(changed)


def _ask_about_gone(held: Case) -> None:
    """Teeth that were listed as abutments though they are marked as gone: do they stand, or does a root?"""
    asked = visitor.store().get(_GONE)
    if asked is None or asked[0] != held.id:
        return
    teeth = asked[1]
    theme.refusal(words.told("screen.marked_as_gone", teeth=Teeth(tuple(teeth))))
    with st.container(horizontal=True):
        for name, answer in (
            ("The crown stands", "abutment"), ("A root stays", "root"), ("An implant is there", "implant"),
            ("It is gone", ""),
        ):  # fmt: skip
            st.button(name, key=f"take_in.gone.{answer or 'leave'}", on_click=_answered, args=(teeth, answer))


def _answered(teeth: tuple[int, ...], answer: Literal["", "abutment", "root", "implant"]) -> None:
    with visitor.alone():
        visitor.store().pop(_GONE, None)
        held = state.case()
        if held is None or not answer:
            return
        if answer == "abutment":
            state.change(marked(held, teeth, "abutment"))
            return
        # what is left of the tooth is listed, and the crown stays among the teeth to be replaced
        missing = marked(held, set(teeth) - set(held.missing), "missing")
        listed = [*(missing.abutments or ()), *(Abutment(tooth=tooth, kind=answer) for tooth in teeth)]
        state.change(missing.model_copy(update={"abutments": listed}))


def read_teeth(text: str, arch: str, numbering: str) -> tuple[list[int], list[str]]:
    """The teeth of a typed list (``15, 16-18``) as ISO numbers, and the pieces that are no tooth of the arch."""
    from recommender.domain.numbering import to_iso

    teeth: list[int] = []
    wrong: list[str] = []

    def one(piece: str) -> int | None:
        if not piece.isdigit():
            return None
        try:
            number = to_iso(int(piece)) if numbering == "universal" else int(piece)
        except ValueError:
            return None
        return number if number in ARCH_ORDER[arch] else None

    for piece in re.findall(r"[^\s,;]+", re.sub(r"\s*[-–]\s*", "-", text)):
        ends = [one(end) for end in piece.split("-")]
        if None in ends or len(ends) > 2:
            wrong.append(piece)
            continue
        first, last = ends[0], ends[-1]
        assert first is not None
        assert last is not None
        run = [first] if first == last else [first, *between(arch, first, last), last]
        teeth += [tooth for tooth in run if tooth not in teeth]
    return teeth, wrong
