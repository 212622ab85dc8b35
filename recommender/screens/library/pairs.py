"""Cases that nearly repeat each other, and like situations in which designers chose differently."""

from collections import Counter
from typing import TYPE_CHECKING

import streamlit as st

from recommender.screens.library import data
from recommender.screens.library.cases import drawing, take_in_hand
from recommender.screens.session import library_in_use, state
from recommender.screens.session.whole_library import looked_through
from recommender.screens.ui import theme, words

if TYPE_CHECKING:
    from recommender.curation.conflicts import Conflict
    from recommender.curation.duplicates import Pair

_KINDS = ("retainer", "connector", "replacement", "rest")


def part() -> None:
    """Draw this part."""
    st.markdown("#### Near-duplicates")
    _duplicates()
    st.markdown("#### Same situation, other choice")
    st.write("Where designers differed in like situations: material for teaching, not mistakes.")
    _conflicts()


def _asked(what: str) -> bool:
    """Whether to look through the whole library now: at once for a small one, by a button for a large one."""
    number = len(data.heads())
    key = f"library.look.{what}"
    if number <= data.MANY or st.session_state.get(key) == library_in_use.library_version():
        return True
    if st.button(words.told("library.look_through_all", number=f"{number:,}"), key=f"{key}.button"):
        st.session_state[key] = library_in_use.library_version()
        return True
    return False


def _duplicates() -> None:
    if not _asked("duplicates"):
        return
    pairs = _pairs()
    if not pairs:
        st.write("✓ No two cases nearly repeat each other.")
        return
    chosen = st.selectbox(
        words.told("library.pairs_closest_first", pairs=len(pairs)),
        range(len(pairs)),
        format_func=lambda index: words.told(
            "library.same",
            first=pairs[index].first,
            second=pairs[index].second,
            overlap=f"{pairs[index].overlap:.0%}",
        ),
        key="library.pair",
    )
    pair = pairs[chosen]
    theme.table(
        ["field", pair.first, pair.second],
        [
            [words.field(at), words.value_at(at, one), words.value_at(at, two)]
            for at, one, two in pair.differences
        ]
        or [[words.told("library.nothing_but_number"), "", ""]],
        caption="Where the two differ",
    )
    if not data.is_database() or not data.may_write("retire"):
        return
    with st.form("library.retire_twin", border=False):
        which = st.radio("Retire one of them", [pair.first, pair.second], index=None, horizontal=True)
        why = st.text_input(
            "Reason", value=words.told("library.nearly_repeats", first=pair.first, second=pair.second)
        )
        sent = st.form_submit_button("Retire it")
    if sent and which is not None and not data.lacks_who():
        with data.told():
            from recommender.curation.review import retire

            version = retire(data.writing(), which, who=data.who(), reason=why)
            data.done(words.told("library.retired_version", which=which, revision=version.revision))
            st.rerun()


def _pairs() -> "list[Pair]":
    from recommender.curation.duplicates import near_duplicates

    return looked_through(("duplicates",), near_duplicates, "Comparing cases …")


def _conflicts() -> None:
    if not _asked("conflicts"):
        return
    found = _differing()
    if not found:
        st.write("None found.")
        return
    numbers = Counter(one.first.kind for one in found)
    kind = st.segmented_control(
        "At", list(_KINDS), default="retainer", required=True, key="library.conflict_kind", persist_state="session",
        format_func=lambda name: f"{words.term('decisions', name)} ({numbers[name]})", wrap=True,
    )  # fmt: skip
    shown = [one for one in found if one.first.kind == kind]
    if not shown:
        st.write("None at this decision.")
        return
    index = st.selectbox(
        "The most alike first",
        range(len(shown)),
        format_func=lambda n: _title(shown[n]),
        key=f"library.conflict.{kind}",
    )
    _side_by_side(shown[index])


def _title(one: "Conflict") -> str:
    sides = (one.first, one.second)
    first, second = (
        words.told("case_at", case=each.case_id, site=state.tooth(each.site) if each.site else None)
        for each in sides
    )
    choices = " / ".join(words.option(each.kind, each.choice) for each in sides)
    return words.told("library.alike", choices=choices, first=first, second=second, alike=f"{one.alike:.2f}")


def _side_by_side(one: "Conflict") -> None:
    rows: list[list[object]] = [
        ["chosen", *(words.option(each.kind, each.choice) for each in (one.first, one.second))],
        ["how it fared", *(words.fared(each.verdict) for each in (one.first, one.second))],
        ["approved", *(data.value(each.approved) for each in (one.first, one.second))],
    ]
    rows += [
        [f"≠ {line.label}", *(words.value(each, line.unit) for each in (line.here, line.there))]
        for line in one.differs
    ]
    theme.table(
        ["", one.first.case_id, one.second.case_id],
        rows,
        caption=words.told("library.alike_over_what", alike=f"{one.alike:.2f}"),
    )
    columns = st.columns(2, gap="large")
    for column, each in zip(columns, (one.first, one.second), strict=True):
        with column:
            try:
                held = library_in_use.library().get(each.case_id)
            except KeyError:
                continue
            drawing(held)
            if held.review is not None and held.review.teaching_note:
                st.text(f"Teaching note: {held.review.teaching_note}")
            if st.button(
                words.told("library.take_hand", case_id=each.case_id),
                key=f"library.conflict_take.{each.case_id}",
            ):
                take_in_hand(each.case_id)


def _differing() -> "list[Conflict]":
    from recommender.curation.conflicts import conflicts

    return looked_through(("conflicts",), conflicts, "Comparing situations …")
