"""The house's own hand: the profile that counts, one learned from the library, adopted and taken back."""

from pathlib import Path
from typing import TYPE_CHECKING

import streamlit as st

from recommender.screens.library import data
from recommender.screens.session import library_in_use, person
from recommender.screens.ui import theme, words

if TYPE_CHECKING:
    from recommender.curation.house.learning import Learned
    from recommender.knowledge.house import Profile
    from recommender.precedents.store.library import Library

_KEPT = "casebook.house_learned"


def part() -> None:
    """Draw this part."""
    st.write(
        "From its own approved cases a library learns small departures from the published figures: what the house "
        "favours where, how it weighs, how much precedents count. Nothing about blocks, safety or what can be made is "
        "learned. Nothing counts until it is adopted, and every reason that it adds is named as the house's own."
    )
    where = library_in_use.kept_in()  # a team's profile is one for everybody
    st.markdown("#### What counts now")
    with data.told():
        _what_counts(where)
        st.markdown("#### What the library says")
        _learning(where)


def _what_counts(where: "str | Library") -> None:
    from recommender.curation.house import keeping

    counts = keeping.adopted(where)
    if counts is None:
        st.write("No profile counts: every answer is the textbook's.")
    else:
        _lines(counts)
        if _may() and st.button("Take it back", key="library.house.back"):
            keeping.take_back(_writing(where), _who())
            st.rerun()
    earlier = [one for one in keeping.kept(where) if not one.counts]
    if earlier and _may():
        with st.expander("Adopted before", expanded=False):
            for one in earlier:
                said = words.told(
                    "house.let_count_again", number=one.number, at=one.profile.at, cases=one.profile.cases
                )
                if st.button(said, key=f"library.house.again.{one.number}"):
                    keeping.adopt_again(_writing(where), one.number, _who())
                    st.rerun()


def _may() -> bool:
    """Whether a profile may be adopted here, wherever the cases are kept: it changes weights for everybody."""
    return person.may("rules")


def _writing(where: "str | Library") -> "str | Library":
    """Where a profile is adopted: in the database, over the connection of whoever is at work; else in the folder."""
    return where if isinstance(where, str) else data.writing()


def _who() -> str:
    from recommender.curation.house.keeping import SOMEBODY

    return data.who() or SOMEBODY


def _learning(where: "str | Library") -> None:
    from recommender.curation.house import keeping

    key = (person.meant(), library_in_use.library_version())
    kept: dict[object, Learned] = st.session_state.setdefault(_KEPT, {})
    if key not in kept:
        if not st.button("Learn from the approved cases (up to some minutes)", key="library.house.learn"):
            return
        kept.clear()
        kept[key] = _learned()
    found = kept[key]
    rows: list[list[object]] = []
    for trial in found.trials:
        m = trial.measured
        gain = words.told(
            "house.to",
            figure=f"{100 * m.gain:+.0f}",
            figure_two=f"{100 * m.low:.0f}",
            figure_three=f"{100 * m.high:.0f}",
        )
        verdict = "✓ yes" if trial.adopted else "no"
        rows.append(
            [
                words.term("decisions", trial.kind).capitalize(),
                m.decisions,
                f"{m.before:.0%}",
                f"{m.after:.0%}",
                gain,
                verdict,
            ]
        )
    theme.table(
        ["decisions", "number", "own choice first, published", "with the profile", "gain, points (95 %)", "no chance"],
        rows, numbers=(1,), caption=words.told("house.approved_cases_measured", cases=found.cases),
    )  # fmt: skip
    if found.profile is None:
        st.info("Nothing was learned that could not be chance: there is no profile to adopt.")
        return
    _lines(found.profile)
    if _may() and st.button("Adopt it", key="library.house.adopt", type="primary"):
        keeping.adopt(_writing(where), found.profile, _who())
        st.rerun()
    name = f"{Path(person.meant()).stem or 'house'}-profile.yaml"
    st.download_button(
        "Keep it as a file", keeping.text_of(found.profile), file_name=name,
        mime="application/yaml", key="library.house.file",
    )  # fmt: skip


def _learned() -> "Learned":
    from recommender.curation.house.learning import learn
    from recommender.knowledge.in_force import knowledge

    bar = st.progress(0.0, "Learning …")

    def told(what: str, done: int, of: int) -> None:
        start, share = (0.0, 0.5) if what == "cases" else (0.5, 0.5)
        bar.progress(
            start + share * done / of if of else 0.0,
            words.told("house.learning", what=what, done=done, of=of),
        )

    found = learn(
        list(library_in_use.library().cases()), knowledge(), library=data.shown_where(), progress=told
    )
    bar.empty()
    return found


def _lines(profile: "Profile") -> None:
    from recommender.curation.house.telling import told
    from recommender.knowledge.in_force import knowledge

    for kind, lines in told(profile, knowledge()).items():
        st.markdown(f"**{words.term('decisions', kind).capitalize()}**")
        st.markdown("\n".join(f"- {theme.literal(line)}" for line in words.in_words().lines(lines)))
