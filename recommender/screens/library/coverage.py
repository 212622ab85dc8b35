"""What the library covers and what it lacks, weighed by how often such arches reach a laboratory."""

from typing import TYPE_CHECKING

import streamlit as st

from recommender.screens.library import data, pictures
from recommender.screens.session.whole_library import looked_through
from recommender.screens.ui import theme, words

if TYPE_CHECKING:
    from collections.abc import Iterator

    from recommender.curation.coverage import Coverage, Suggestion
    from recommender.domain.case import Case

_MOST = 20


def part() -> None:
    """Draw this part."""
    found = _covered()
    if not found.cases:
        st.info("The library is empty: bring cases in first.")
        return
    if found.most_helpful is not None:
        data.say(_helpful(found.most_helpful))
    theme.table(
        ["cases", "followed", "followed without trouble", "with trouble", "declined or changed by a dentist"],
        [[found.cases, found.followed, found.clean, found.adverse, found.refused]],
        caption="In numbers",
    )
    st.markdown("#### Kinds of arch")
    st.altair_chart(
        pictures.coverage([(_arch(cell.label), cell) for cell in found.cells]), width="stretch",
        alt="Cases held against cases expected, by kind of arch; the table below says the same",
    )  # fmt: skip
    with st.expander("The same as a table", expanded=False):
        theme.table(
            ["kind of arch", "held", "expected", "share of the work"],
            [
                [_arch(cell.label), cell.held, f"{cell.expected:.1f}", f"{cell.share:.1%}"]
                for cell in found.cells
            ],
            numbers=(1, 2, 3),
            caption="The most wanted first",
        )
    theme.note(words.told("library.how_often_each", source=found.source, assumed=found.assumed))
    _options(found)
    _fields(found)


def _helpful(one: "Suggestion") -> str:
    wanted = ", ".join(
        f"{words.plain(kind)} {words.option(kind, name)}" for kind, name in one.options.items()
    )
    return words.told(
        "library.case_would_help_followed" if one.with_outcome else "library.case_would_help",
        arch=theme.escape(_arch(one.cell.label)),
        held=one.cell.held,
        expected=f"{one.cell.expected:.1f}",
        wanted=theme.escape(wanted),
    )


def _arch(label: str) -> str:
    """A kind of arch as people say it."""
    return label.replace("mandible", "lower").replace("maxilla", "upper")


def _options(found: "Coverage") -> None:
    from recommender.curation.load import LEAD, load

    st.markdown("#### Options")
    kinds = {
        "retainer": "Retainers",
        "connector.maxilla": "Upper connectors",
        "connector.mandible": "Lower connectors",
        "replacement": "Replacement teeth",
        "rest": "Rests",
    }
    chosen = st.segmented_control(
        "Options of", list(kinds), default="retainer", required=True, key="library.options",
        format_func=kinds.__getitem__,
        persist_state="session", wrap=True,
    )  # fmt: skip
    decision = str(chosen)
    kind = decision.split(".")[0]
    counts = found.options[decision]
    ordered = sorted(counts.items(), key=lambda item: -item[1])
    used = [(decision, words.option(kind, name), number) for name, number in ordered if number]
    if used:
        st.altair_chart(
            pictures.options(used), width="stretch",
            alt="; ".join(words.told(
                "library.cases",
                name=name,
                number=number,
            ) for _, name, number in used),
        )  # fmt: skip
    rests = load(counts)
    if rests.uses:
        theme.note(
            words.told(
                "library.commonest_make_all",
                lead=LEAD,
                lead_share=f"{rests.lead_share:.0%}",
                uses=rests.uses,
                lone=len(rests.lone),
            )
        )
    never = [words.option(kind, name) for name, number in ordered if not number]
    thin = [
        f"{words.option(kind, name)} ({number})" for name, number in ordered if (decision, name) in found.thin
    ]
    data.say(words.told("library.never_used", n=len(never), never=theme.escape(", ".join(never) or "none")))
    data.say(words.told("library.thin", n=len(thin), thin=theme.escape(", ".join(thin) or "none")))
    lacking = [line for line in found.absent if line.decision == decision][:_MOST]
    if lacking:
        theme.table(
            ["arch", "class", "option that no such case uses"],
            [
                [
                    {"maxilla": "upper", "mandible": "lower"}[one.arch],
                    one.kennedy,
                    words.option(kind, one.option),
                ]
                for one in lacking
            ],
            caption="The commonest arches first. A gap, or good sense: the reader decides",
        )


def _fields(found: "Coverage") -> None:
    st.markdown("#### What is recorded")
    st.write(
        words.told(
            "library.fields_never_recorded",
            never_recorded=len(found.never_recorded),
            seldom_recorded=len(found.seldom_recorded),
        )
    )
    with st.expander("Fields, the least recorded first"):
        ordered = sorted(found.fields.items(), key=lambda item: item[1].share)
        theme.table(
            ["field", "recorded", "of chances", "share"],
            [[words.field(path), one.recorded, one.chances, f"{one.share:.0%}"] for path, one in ordered],
            numbers=(1, 2, 3),
            caption="Recorded means written down, also as zero, none or no",
        )


def _covered() -> "Coverage":
    from recommender.curation.coverage import coverage
    from recommender.precedents.store.documents import status

    def work(cases: "Iterator[Case]") -> "Coverage":
        return coverage(case for case in cases if status(case) == "approved")

    return looked_through(("coverage",), work, "Looking through the library …")
