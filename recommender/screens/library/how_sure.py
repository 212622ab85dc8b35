"""Whether what is said of how sure the advice is has held in this library, and its prediction sets."""

from collections.abc import Iterator
from typing import TYPE_CHECKING

import streamlit as st

from recommender.screens.library import data, pictures
from recommender.screens.session import library_in_use
from recommender.screens.session.whole_library import looked_through
from recommender.screens.ui import theme, words

if TYPE_CHECKING:
    from recommender.curation.evaluation.calibration import Calibration
    from recommender.curation.evaluation.prediction_sets import PredictionSets
    from recommender.domain.case import Case

MOST_CASES, MASKS = 24, 2
_MOST_SETS = 400


def part() -> None:
    """Draw this part."""
    st.markdown("#### Has it held?")
    st.write(words.told("library.up_cases_library", most_cases=MOST_CASES))
    if st.toggle("Mask and uncover now (about a minute)", key="library.calibrate"):
        _curve(
            looked_through(
                ("calibration", MOST_CASES), _calibrated, "Masking recorded facts and uncovering them …"
            )
        )
    st.markdown("#### Within which options the accepted choice lies")
    if len(data.heads()) > _MOST_SETS:
        theme.note("A library of this size is looked through in a terminal, by whoever keeps it.")
    elif st.toggle("Advise each approved case without itself now", key="library.sets"):
        _sets(
            looked_through(("prediction sets",), _with_sets, "Each approved case, advised without itself …")
        )


def _calibrated(cases: "Iterator[Case]") -> "Calibration":
    from recommender.curation.evaluation.calibration import calibrate

    every = list(cases)
    step = max(1, len(every) // MOST_CASES)
    return calibrate(library_in_use.recommender(), every[::step][:MOST_CASES], MASKS)


def _with_sets(cases: "Iterator[Case]") -> "PredictionSets":
    from recommender.curation.evaluation.prediction_sets import prediction_sets

    return prediction_sets(library_in_use.recommender(), cases)


def _curve(found: "Calibration") -> None:
    if not found.tenths:
        st.info("No recorded fact of these cases bears on a choice.")
        return
    st.altair_chart(
        pictures.reliability(found.tenths), width="stretch",
        alt="Share of choices that stood against the share that was stated, by tenth; the table below says the same",
    )  # fmt: skip
    theme.table(
        ["stated", "choices", "stated, mean", "stood", "95 % of bootstraps by case"],
        [
            [
                words.told("verb.from_to", low=f"{t.low_edge:.0%}", high=f"{t.high_edge:.0%}"),
                t.number,
                f"{t.stated:.0%}",
                f"{t.stood:.0%}",
                words.told("verb.from_to", low=f"{t.low:.0%}", high=f"{t.high:.0%}"),
            ]
            for t in found.tenths
        ],
        numbers=(1, 2, 3),
        caption=words.told("library.choices_cases", judgements=len(found.judgements), cases=found.cases),
    )
    theme.note(
        words.told(
            "library.brier_score_always", brier=f"{found.brier:.3f}", brier_always=f"{found.brier_always:.3f}"
        )
    )


def _sets(found: "PredictionSets") -> None:
    from recommender.curation.evaluation.prediction_sets import LEAST_CASES

    if not found.kinds:
        st.info(words.told("library.approved_cases_design", cases=found.cases, least_cases=LEAST_CASES))
        return
    data.say("In 9 of 10 of this library's cases the accepted choice lies in its set.")
    theme.table(
        [
            "decision",
            "cases",
            "found on cases apart",
            "95 %",
            "options in the set",
            "of",
            "points behind the first",
        ],
        [
            [
                words.plain(each.kind),
                each.cases,
                f"{each.covered:.0%}",
                words.told("verb.from_to", low=f"{each.low:.0%}", high=f"{each.high:.0%}"),
                f"{each.size:.1f}",
                each.options,
                f"{each.within:.1f}" if each.within < float("inf") else "any",
            ]
            for each in found.kinds
        ],
        numbers=(1, 2, 4, 5, 6),
        caption="Each approved case advised without itself and its near duplicates",
    )
    theme.note(
        "This holds over the cases of a library like this, not for a given tooth, and says nothing of success."
    )
