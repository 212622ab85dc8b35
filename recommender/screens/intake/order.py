"""A dentist's order, pasted: what the reader proposes, word by word, for a person to take over.

Each proposal is said back in words with its teeth; the words that it came from are numbered in the text. Nothing is
taken over by itself: one by one, or all that stand on the page. What has to be looked at twice (a misspelling, a short
form) is taken over by its own button only.
"""

from collections.abc import Sequence
from typing import Any

import streamlit as st

from recommender.domain.case import Case
from recommender.orders.model import ArchOrder, Proposal, Words, said
from recommender.orders.read import MOST_LETTERS, read_order
from recommender.orders.taking_over import stands_in, with_proposals
from recommender.screens.intake.start import free_id
from recommender.screens.session import state, visitor
from recommender.screens.ui import theme, words

_TEXT, _SYSTEM = "casebook.order.text", "casebook.order.system"
_SYSTEMS = {"": "found from the text", "iso": "ISO 3950", "universal": "universal (1-32)"}
_ARCHES = ("maxilla", "mandible")
_HINT = "Paste the order as it came: upper RPD, missing 14, 15; I-bar 13; no clasp on 23 …"
_CAUTION = (
    "The order is read by rule from its words, on this machine. It proposes and never decides: check each line against "
    "the order. What it does not understand stays in the note."
)
_STYLE = """<style>
.casebook-order {white-space: pre-wrap; line-height: 1.9;
  border: 1px solid color-mix(in srgb, currentColor 25%, transparent);
  border-radius: .35rem; padding: .5rem .7rem; overflow-wrap: anywhere;}
.casebook-order mark {background: none; color: inherit; border-bottom: 2px solid currentColor; padding: 0 .05rem;}
.casebook-order mark.asked {border-bottom-style: dotted;}
.casebook-order mark.unread {border-bottom: none; font-style: italic; opacity: .85;}
.casebook-order sup {font-weight: 600; font-size: .72rem; padding-left: .1rem;}
</style>"""


def order_section() -> None:
    """The order and what is proposed from it; folded away until there is one."""
    text = str(visitor.store().get(_TEXT, ""))
    with st.expander("Read an order …", expanded=bool(text)):
        theme.note(f"{_CAUTION} {words.NO_IDENTITY}")
        st.text_area(
            "The order", value=text, key="order.text", on_change=_on_text, height=120, max_chars=MOST_LETTERS,
            placeholder=_HINT,
        )  # fmt: skip
        with st.container(horizontal=True, vertical_alignment="bottom"):
            system = st.segmented_control(
                "Tooth numbers of the order", list(_SYSTEMS), default=str(visitor.store().get(_SYSTEM, "")),
                format_func=lambda one: _SYSTEMS[one], key="order.system", on_change=_on_system, required=True,
            )  # fmt: skip
            st.button("Read it", key="order.read", disabled=False, on_click=_on_text)
        if text.strip():
            _answer(text, str(system or ""))


def _on_text() -> None:
    visitor.store()[_TEXT] = str(st.session_state.get("order.text", ""))


def _on_system() -> None:
    visitor.store()[_SYSTEM] = str(st.session_state.get("order.system") or "")


def _answer(text: str, system: str) -> None:
    found = read_order(text, system or None)
    if not found:
        return
    one = found[0]
    if len(found) > 1:
        arches = [str(order.arch) for order in found]
        chosen = st.segmented_control(
            "This order is for two arches; a case is one", arches, default=arches[0], key="order.arch",
            format_func=_arch, required=True,
        )  # fmt: skip
        one = found[arches.index(str(chosen))]
    with st.container(key="casebook_wrap_order"):
        left, right = st.columns([5, 6], gap="large")
    with left:
        _marked_text(text, one)
        _open_ends(one)
    with right:
        _proposals(one)


# the text with its words marked


def _marked_text(text: str, one: ArchOrder) -> None:
    pieces: list[tuple[Words, str, str]] = []
    for number, group in enumerate(_groups(one), start=1):
        pieces.append((group[0].words, "", str(number)))
    pieces += [(question.words, "asked", "?") for question in one.ask if question.words.text]
    pieces += [(piece, "unread", "") for piece in (*one.unread, *one.withheld)]
    shown: list[str] = []
    at = 0
    for piece, kind, mark in sorted(pieces, key=lambda piece: (piece[0].start, -piece[0].end)):
        if piece.start < at:
            if mark:
                shown.append(f"<sup>{theme.escape(mark)}</sup>")
            continue
        raised = f"<sup>{theme.escape(mark)}</sup>" if mark else ""
        css = f' class="{kind}"' if kind else ""
        shown.append(theme.escape(text[at : piece.start]))
        shown.append(f"<mark{css}>{theme.escape(text[piece.start : piece.end])}</mark>{raised}")
        at = piece.end
    shown.append(theme.escape(text[at:]))
    inside = "".join(shown)
    label = words.told("intake.order_marked")
    st.html(f'{_STYLE}<div class="casebook-order" role="region" aria-label="{label}">{inside}</div>')
    theme.note(
        "Underlined: proposed, with the number of its line. Dotted with ?: asked. Slanted: not understood."
    )


def _open_ends(one: ArchOrder) -> None:
    for question in one.ask:
        quoted = f"“{theme.literal(question.words.text)}”: " if question.words.text else ""
        st.warning(f"To ask the dentist: {quoted}{theme.literal(question.why)}")
    if one.unread:
        listed = "; ".join(theme.literal(piece.text) for piece in one.unread)
        st.info(words.told("intake.not_understood_kept", listed=listed))
    if one.withheld:
        listed = "; ".join(theme.literal(piece.text) for piece in one.withheld)
        st.info(words.told("intake.left_out_case", listed=listed))


# the proposals


def _groups(one: ArchOrder) -> list[list[Proposal]]:
    """Proposals of one kind from the same words stand on one line."""
    groups: dict[tuple[int, int, str, str], list[Proposal]] = {}
    for proposal in one.proposals:
        kind = proposal.path.split("[", 1)[0] + proposal.path.partition("]")[2]
        key = (proposal.words.start, proposal.words.end, kind, str(proposal.value))
        groups.setdefault(key, []).append(proposal)
    return list(groups.values())


def _arch(arch: str | None) -> str:
    return words.term("arch_named", str(arch or "none")).capitalize()


def _proposals(one: ArchOrder) -> None:
    held = state.case()
    system = {"iso": "ISO 3950", "universal": "the universal system", "ambiguous": "not settled"}[
        one.numbering
    ]
    st.html(
        words.told(
            "intake.tooth_numbers", arch=_arch(one.arch), system=system, because=theme.escape(one.because)
        )
    )
    groups = _groups(one)
    fits = held is not None and held.arch == one.arch
    begins = held is None and one.arch is not None
    data = held.model_dump(exclude_none=True) if held is not None and fits else None
    pending: list[Proposal] = []
    for number, group in enumerate(groups, start=1):
        stands = data is not None and all(stands_in(data, proposal) for proposal in group)
        twice = next((proposal.marked for proposal in group if proposal.marked), "")
        if not stands and not twice:
            pending += group
        line, button = st.columns([7, 2], vertical_alignment="center")
        line.markdown(_line(number, group, twice))
        button.button(
            "taken over" if stands else "Take over",
            key=f"order.take.{number}",
            disabled=stands or not (fits or begins),
            on_click=_take if fits else _begin,
            args=(group, "") if fits else (str(one.arch), group, ""),
            help="Look at these words twice." if twice else None,
            width="stretch",
        )
    if not groups:
        st.write("Nothing can be proposed from this text.")
    _all(one, pending, fits, data)


def _line(number: int, group: Sequence[Proposal], twice: str) -> str:
    """One line: number, what is proposed with each tooth in words, and what to look at twice."""
    if len(group) == 1:
        text = words.said(said(group[0]))
    else:
        named = [words.said(said(proposal)) for proposal in group]
        what = named[0].split(": ", 1)[-1] if ": " in named[0] else named[0]
        same = all(line.endswith(what) for line in named)
        text = (
            "; ".join(line[: -len(what)].rstrip(": ") for line in named) + ": " + what
            if same
            else "; ".join(named)
        )
    mark = f" — *look twice: {theme.literal(twice)}*" if twice else ""
    return f"**{number}** {theme.literal(text)}{mark}"


def _all(one: ArchOrder, pending: list[Proposal], fits: bool, data: dict[str, Any] | None) -> None:
    note = "; ".join(piece.text for piece in one.unread)
    held = state.case()
    noted = bool(data) and (not note or note in str((data or {}).get("prescription", {}).get("note", "")))
    with st.container(horizontal=True):
        if fits:
            take = "intake.take_lines" if pending else "intake.take_note"
            st.button(
                words.told(take), key="order.take_all", type="primary",
                disabled=not pending and noted, on_click=_take, args=(pending, note),
            )  # fmt: skip
            st.button("Undo", key="order.undo", disabled=not state.can_undo(), on_click=state.undo)
        else:
            _begin_buttons(one, pending, note)
    if held is not None and not fits and one.arch is not None:
        theme.note(words.told("intake.case_hand_other", id=held.id))


def _begin_buttons(one: ArchOrder, pending: list[Proposal], note: str) -> None:
    """A new case of the order's arch; where the order leaves the arch open, the person says which."""
    for arch in [one.arch] if one.arch is not None else list(_ARCHES):
        label = words.told("intake.begin" if one.arch else "intake.begin_case", arch=_arch(arch).lower())
        st.button(
            label, key=f"order.begin.{arch}", type="primary" if one.arch else "secondary", on_click=_begin,
            args=(str(arch), pending, note),
        )  # fmt: skip


def _take(proposals: Sequence[Proposal], note: str) -> None:
    with visitor.alone():
        held = state.case()
        if held is not None:
            _change(held.model_dump(exclude_none=True), proposals, note)


def _begin(arch: str, proposals: Sequence[Proposal], note: str) -> None:
    with visitor.alone():
        new: dict[str, Any] = {"format": 1, "id": free_id("order"), "arch": arch, "missing": []}
        blank = Case.model_validate(new)
        state.open_case(blank)
        state.change(blank)
        _change(new, proposals, note)


def _change(data: dict[str, Any], proposals: Sequence[Proposal], note: str) -> None:
    """Change the case in hand as one step of undo; what would contradict the case is said and not taken over."""
    from recommender.domain.errors import CaseError
    from recommender.domain.reader import read_value

    try:
        state.change(read_value(with_proposals(data, proposals, note), str(data["id"])))
    except CaseError as error:
        faults = (
            words.told("screen.fault_found", field=words.field(p.field) if p.field else None, found=p.found)
            for p in error.problems
        )
        state.say(words.told("screen.not_taken_over", why="; ".join(faults)))
