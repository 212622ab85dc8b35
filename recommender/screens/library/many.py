"""One act on every case that a search finds: tried first, told case by case, then done."""

from typing import TYPE_CHECKING

import streamlit as st

from recommender.screens.library import data
from recommender.screens.session import library_in_use, person
from recommender.screens.ui import theme, words
from recommender.screens.ui.case_choice import ARCHES, MOST, STATES

if TYPE_CHECKING:
    from recommender.curation.bulk import Search, Told

_IN_WORDS = {
    "approve": "approve",
    "looked-at": "say that their texts identify nobody",
    "redact": "take a text out of the whole history",
    "retire": "retire",
    "reopen": "make drafts again",
    "delete": "delete with the whole history",
}
_TRIED = "library.many_tried"
_SHOWN = 300


def part() -> None:
    """Draw this part."""
    st.write(
        "Choose the cases by a search, and what is to be done to each. A trial says case by case what would happen and "
        "writes nothing; a case that is refused stops no other."
    )
    if not data.is_database():
        st.info("This library is read-only. Make your own to work on its cases.")
        return
    if not data.may_write("approve") or data.lacks_who():
        return
    with data.told():
        _work()
        _gone()


def _work() -> None:
    from recommender.curation.bulk import act_on, found_by

    search = _search()
    if not search:
        st.info("Say which cases: a state, an arch, a class, an outcome, a text or numbers.")
        return
    found = found_by(data.writing(), search)
    if not found:
        st.info("No case fits.")
        return
    listed = ", ".join(head.id for head in found[:12])
    listed += ", …" if len(found) > 12 else ""
    fit = "library.one_fits" if len(found) == 1 else "library.cases_fit"
    data.say(theme.escape(words.told(fit, found=f"{len(found):,}", listed=listed)))
    act, field, why = _what(search)
    stamp = (act, field, why, search, library_in_use.library_version())
    bar = st.empty()

    def run(*, trial: bool) -> "list[Told]":
        told: list[Told] = []
        steps = act_on(
            data.writing(),
            act,
            search,
            who=data.who(),
            why=why,
            field=field,
            trial=trial,
            words=words.in_words(),
        )
        for number, one in enumerate(steps, start=1):
            told.append(one)
            if number % 5 == 0:
                bar.progress(
                    number / len(found), words.told("library.cases_a", number=number, found=len(found))
                )
        bar.empty()
        return told

    if st.button("Try it: say what would happen to each", type="primary", key="library.many_try"):
        st.session_state[_TRIED] = (stamp, run(trial=True))
    kept = st.session_state.get(_TRIED)
    if kept is None or kept[0] != stamp:
        return
    would = [one for one in kept[1] if one.done]
    _table(kept[1], words.told("library.trial_would_done", would=len(would), n=len(kept[1]) - len(would)))
    sure = act not in ("delete", "redact") or st.checkbox(
        "I have looked at the list; this cannot be undone", key="library.many_sure"
    )
    meant = "1 case" if len(would) == 1 else words.told("library.cases_b", would=len(would))
    if st.button(f"Do it to {meant}", disabled=not would or not sure, key="library.many_do"):
        told = run(trial=False)
        done = sum(bool(one.done) for one in told)
        st.session_state[_TRIED] = None
        data.done(words.told("library.done_refused", done=done, told=len(told) - done))
        st.rerun()


def _search() -> "Search":
    from recommender.curation.bulk import Search

    heads = data.heads()
    columns = st.columns([2, 2, 3, 2])
    with columns[0]:
        status = _any("State", list(STATES), "library.many_status", "case_state")
    with columns[1]:
        arch = _any("Arch", list(ARCHES), "library.many_arch", "upper_lower")
    with columns[2]:
        kennedys = sorted({head.kennedy for head in heads if head.kennedy})
        kennedy = _any("Class", kennedys, "library.many_kennedy", None)
    with columns[3]:
        outcome = _any("Outcome", ["known", "not known"], "library.many_outcome", None)
    left, right = st.columns([2, 3])
    with left:
        text = st.text_input("Number or title holds", key="library.many_text")
    with right:
        offered = [head.id for head in heads[:MOST]] if len(heads) <= MOST else []
        ids = st.multiselect("Only these numbers", offered, key="library.many_ids") if offered else []
    known = None if outcome is None else outcome == "known"
    return Search(status, arch, kennedy, known, text.strip(), tuple(ids))


def _any(label: str, options: list[str], key: str, terms: str | None) -> str | None:
    return st.selectbox(
        label,
        options,
        index=None,
        format_func=lambda name: words.term(terms, name) if terms else name,
        key=key,
        placeholder="any",
    )


def _what(search: "Search") -> tuple[str, str, str]:
    """The act, the field that is taken out, and the reason."""
    from recommender.curation.bulk import ACTS
    from recommender.precedents.store.gate import checked_reason

    acts = [name for name, right in ACTS.items() if person.may(right)]
    left, right = st.columns([2, 3])
    with left:
        act = str(st.selectbox("What is done to each", acts, format_func=_IN_WORDS.__getitem__,
                               key="library.many_act"))  # fmt: skip
    with right:
        reason = "library.reason_against_rule" if act == "approve" else "library.reason_needed"
        why = st.text_input(words.told(reason), key="library.many_why")
    field = ""
    if act == "redact":
        fields = _fields(search)
        field = st.selectbox(
            "The text that is taken out", fields, index=None, format_func=words.field, key="library.many_field",
            placeholder="choose a field",
            help="Those in which something looks as if it could identify a patient, in any version, come first.",
        ) or ""  # fmt: skip
        theme.note("Backups and exports made before still hold the text; look after them too.")
    elif act == "delete":
        theme.note(
            "What is deleted is gone with its history; who took it out, when and why stays. Backups made before still "
            "hold it. To take a case out of use only, retire it."
        )
    return act, field, checked_reason(why)


def _fields(search: "Search") -> list[str]:
    """Fields with free text in the cases that are meant, those that may identify somebody first."""
    from recommender.curation.bulk import found_by
    from recommender.precedents.store.documents import as_data
    from recommender.privacy.gate import hits, texts

    suspect: dict[str, None] = {}
    others: dict[str, None] = {}
    for head in found_by(data.writing(), search)[:_SHOWN]:
        for version in data.writing().history(head.id):
            suspect |= dict.fromkeys(hit.field for hit in hits(version.case))
            others |= dict.fromkeys(path for path, _ in texts(as_data(version.case)))
    return [name for name in dict.fromkeys([*suspect, *others]) if name != "id"]


def _table(told: "list[Told]", caption: str) -> None:
    rows: list[list[object]] = [
        [one.case_id, "✕ refused" if one.refused else "✓", data.on_page(one.done or one.refused)]
        for one in told[:_SHOWN]
    ]
    theme.table(["case", "", "what would happen, or why not"], rows, caption=caption)
    if len(told) > _SHOWN:
        st.write(words.told("library.more_cases", told=len(told) - _SHOWN))


def _gone() -> None:
    from recommender.curation.bulk import traces

    found = traces(data.writing())
    if found:
        with st.expander(f"Deleted so far: {len(found)}"):
            theme.table(
                ["case", "who", "when (UTC)", "why"],
                [[one.case_id, one.who, one.at[:16].replace("T", " "), one.why] for one in found[:_SHOWN]],
                caption="What was deleted; a number that could identify somebody is not kept",
            )
