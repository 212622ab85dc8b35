"""What the case is called, what the dentist asked for, and notes: the parts of a case that are words."""

from collections.abc import Sequence

import streamlit as st

from recommender.domain.case import Case
from recommender.domain.decision import Decision
from recommender.domain.vocabulary import connectors
from recommender.screens.intake.survey import considered
from recommender.screens.session import keys, state
from recommender.screens.ui import theme, words


def name_section(case: Case) -> None:
    """Title and prescription."""
    st.subheader("Prescription and title", anchor=False)
    _text("title", "Title", case.title)
    theme.note(words.NO_IDENTITY)
    for title, draw, key in (
        ("What the dentist asked for", _prescription, "asked_for"),
        ("What the dentist ruled out", _ruled_out, "ruled_out"),
    ):
        box = theme.fold(title, f"name.fold.{key}")
        if box.open:
            with box:
                draw(case)


def _text(path: str, label: str, now: str | None, *, long: bool = False) -> None:
    key = keys.view(f"name.{path}", now or "")
    if long:
        st.text_area(label, value=now or "", key=key, on_change=_write_text, args=(path, key))
    else:
        st.text_input(label, value=now or "", key=key, on_change=_write_text, args=(path, key))


def _write_text(path: str, key: str) -> None:
    if not keys.edited(key):
        return
    state.change_field(path, str(st.session_state[key]).strip() or None)


def _prescription(case: Case) -> None:
    asked = case.prescription
    retainers = (asked.retainers if asked else None) or {}
    replacements = (asked.replacements if asked else None) or {}
    boxes: list[tuple[str, str, list[str], str | None, str]] = [
        (
            "connector",
            "connector",
            list(connectors(case.arch)),
            asked.connector if asked else None,
            "Connector",
        ),
        ("alloy", "alloy", _known("alloy"), asked.alloy if asked else None, "Alloy of the frame"),
    ]
    for tooth in considered(case):
        name = words.decision(Decision("retainer", tooth))
        boxes.append(("retainer", f"retainers[{tooth}]", _known("retainer"), retainers.get(tooth), name))
    for tooth in case.missing:
        name = words.decision(Decision("replacement", tooth))
        boxes.append(
            ("replacement", f"replacements[{tooth}]", _known("replacement"), replacements.get(tooth), name)
        )
    columns = st.columns(3)
    for index, (kind, path, options, now, name) in enumerate(boxes):
        with columns[index % 3]:
            _pick(kind, f"prescription.{path}", options, now, name)
    _text("prescription.note", "Note of the dentist", asked.note if asked else None, long=True)


def _ruled_out(case: Case) -> None:
    unwanted = case.prescription.ruled_out if case.prescription else None
    retainers = (unwanted.retainers if unwanted else None) or {}
    replacements = (unwanted.replacements if unwanted else None) or {}
    connector = (unwanted.connector if unwanted else None) or []
    _several("connector", "prescription.not.connector", list(connectors(case.arch)), connector, "Connector")
    columns = st.columns(3)
    boxes: list[tuple[str, str, list[str], Sequence[str], str]] = [
        (
            "retainer",
            f"retainers[{t}]",
            ["any", *_known("retainer")],
            retainers.get(t, ()),
            words.told("screen.on", tooth=state.tooth(t)),
        )
        for t in considered(case)
    ]
    boxes += [
        ("replacement", f"replacements[{t}]", _known("replacement"), replacements.get(t, ()),
         words.decision(Decision("replacement", t)))
        for t in case.missing
    ]  # fmt: skip
    for index, (kind, path, options, now, name) in enumerate(boxes):
        with columns[index % 3]:
            _several(kind, f"prescription.not.{path}", options, now, name)


def _several(kind: str, path: str, options: list[str], now: Sequence[str], label: str) -> None:
    key = keys.view(f"name.{path}", list(now))
    st.multiselect(
        label,
        options,
        default=list(now),
        format_func=lambda o: "any clasp" if o == "any" else words.option(kind, o),
        key=key,
        on_change=_write_several,
        args=(path, key),
        placeholder="nothing ruled out",
    )


def _write_several(path: str, key: str) -> None:
    if not keys.edited(key):
        return
    state.change_field(path, list(st.session_state[key]) or None)


def _known(kind: str) -> list[str]:
    from recommender.domain.catalogue import load

    return list(load().options[kind])


def _pick(kind: str, path: str, options: list[str], now: str | None, label: str) -> None:
    key = keys.view(f"name.{path}", now if now in options else None)
    st.selectbox(
        label,
        [None, *options],
        index=options.index(now) + 1 if now in options else 0,
        format_func=lambda o: "not asked for" if o is None else words.option(kind, o),
        key=key,
        on_change=_write_choice,
        args=(path, key),
        placeholder="not asked for",
    )


def _write_choice(path: str, key: str) -> None:
    if not keys.edited(key):
        return
    state.change_field(path, st.session_state[key])
