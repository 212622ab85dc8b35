"""A draft tried on the library, and adopted by an explicit step once it was tried."""

from pathlib import Path
from typing import TYPE_CHECKING

import streamlit as st

from recommender.domain.statement import Word
from recommender.screens.library import data
from recommender.screens.rules import data as own
from recommender.screens.rules.draft_shown import problems, show_differences
from recommender.screens.session import library_in_use, person
from recommender.screens.ui import theme, words

if TYPE_CHECKING:
    from recommender.curation.evaluation.rule_trial import Barred, Trial
    from recommender.knowledge.model import Knowledge

_TRIED = "rules.tried"
_MOST = 200


def trial(folder: Path) -> None:
    """What would change, and on which cases."""
    from recommender.knowledge.differences import differences

    found = own.draft(folder)
    problems(found)
    if found.knowledge is None:
        return
    changed = differences(own.known(), found.knowledge)
    st.write(words.told("rulebook.each_case_advised", shown_where=theme.literal(data.shown_where())))
    if changed.none:
        st.write("The draft says what the rules in use say: nothing would change.")
        st.session_state[_TRIED] = (own.stamp(folder), None)
        return
    precedents = st.toggle(
        "With precedents (slower; without them the rules alone decide)", key="rules.precedents"
    )
    frameworks = st.toggle("Also whole frameworks (slowest)", key="rules.frameworks")
    if st.button("Try it on the library", type="primary", key="rules.try"):
        made = _run(found.knowledge, precedents, frameworks)
        st.session_state[_TRIED] = (own.stamp(folder), made)
    kept = st.session_state.get(_TRIED)
    if kept is None or kept[0] != own.stamp(folder) or kept[1] is None:
        return
    _show(kept[1])


def _run(after: "Knowledge", precedents: bool, frameworks: bool) -> "Trial":
    from recommender.curation.evaluation.rule_trial import try_rules

    bar = st.progress(0.0, "Trying …")

    def tell(done: int, of: int) -> None:
        bar.progress(done / max(of, 1), words.told("rulebook.cases", done=done, of=of))

    library = library_in_use.recommender().engine.library if precedents else None
    try:
        return try_rules(
            list(library_in_use.library().cases()), own.known(), after, library,
            tell,
            frameworks=frameworks,
        )  # fmt: skip
    finally:
        bar.empty()


def _show(found: "Trial") -> None:
    st.markdown(
        words.told(
            "rulebook.cases_would_advised",
            touched=len(found.touched),
            cases=found.cases,
            changes=len(found.changes),
            decisions=found.decisions,
            moved=found.moved,
        )
    )
    if found.judged:
        st.write(
            words.told(
                "rulebook.library_s_own",
                agree_before=found.agree_before,
                judged=found.judged,
                agree_after=found.agree_after,
            )
        )
        told = found.verdict
        if told.better + told.worse:
            share = words.told("rulebook.better_exact", low=f"{told.low:.0%}", high=f"{told.high:.0%}")
            st.write(
                words.told(
                    "rulebook.changed_decisions_now",
                    better=told.better,
                    worse=told.worse,
                    neither=told.neither,
                    verdict=Word("draft_verdict", told.telling),
                    share=share,
                )
            )
    if data.where() == "demo":
        data.invented("Agreement with invented designs proves nothing about real work.")
    if found.changes:
        rows: list[list[object]] = [
            [
                change.case_id, _decision(change.decision),
                f"{words.in_words().said(change.leads(True))} ({change.before_score:.0f})",
                f"{words.in_words().said(change.leads(False))} ({change.after_score:.0f})",
                _option(change.decision, change.stored) if change.stored else "not recorded",
            ]
            for change in found.changes[:_MOST]
        ]  # fmt: skip
        theme.table(
            ["case", "decision", "leads now", "would lead", "the library's choice"], rows,
            caption="Where another option would lead (points, 0 to 100)",
        )  # fmt: skip
        if len(found.changes) > _MOST:
            theme.note(words.told("rulebook.first", most=_MOST, changes=len(found.changes)))
    _barred("△ Stored choices that the draft takes out or advises against", found.barred)
    _barred("✓ Stored choices that the draft no longer speaks against", found.freed)


def _barred(caption: str, lines: "tuple[Barred, ...]") -> None:
    if lines:
        theme.table(
            ["case", "decision", "chosen", "now", "then"],
            [
                [
                    line.case_id,
                    _decision(line.decision),
                    _option(line.decision, line.option),
                    words.listed("status", line.before),
                    words.listed("status", line.after),
                ]
                for line in lines[:_MOST]
            ],
            caption=caption,
        )


def _decision(key: str) -> str:
    from recommender.advice.model import Decision
    from recommender.curation.evaluation.rule_trial import FRAMEWORK

    kind, _, tooth = key.partition(":")
    return "Whole framework" if kind == FRAMEWORK else words.decision(Decision(kind, int(tooth or 0)))


def _option(key: str, name: str) -> str:
    kind = key.partition(":")[0]
    return words.option(kind, name)


def adoption(folder: Path) -> None:
    """Adopt the draft, or an earlier adoption again."""
    from recommender.knowledge import adopted

    found = own.draft(folder)
    problems(found)
    _how(folder)
    if found.knowledge is None or data.lacks_who():
        return
    show_differences(found)
    kept = st.session_state.get(_TRIED)
    tried = kept is not None and kept[0] == own.stamp(folder)
    if not tried:
        st.info("Try the draft on the library first, as it now stands: adopt what you have seen at work.")
    why = st.text_input("Why (kept with the rules)", key="rules.why")
    sure = st.checkbox("I have seen what would change, and these rules shall count", key="rules.sure")
    ready = tried and sure and bool((why or "").strip())
    if st.button("Adopt this draft", type="primary", disabled=not ready, key="rules.adopt"):
        person.require("rules")
        made = adopted.adopt(folder, who=data.who(), why=str(why))
        _count()
        data.done(words.told("rulebook.adopted_number", number=made.number, folder=made.folder))
        st.rerun()
    _earlier(folder)


def _count() -> None:
    """Everything that was worked out by the rules before is worked out anew."""
    from recommender.curation import contradictions

    contradictions._rules_only.cache_clear()
    library_in_use.reload_library()


def _how(folder: Path) -> None:
    from recommender.knowledge.packaged import RULES_ENVIRONMENT, adopted_folder

    used = adopted_folder()
    st.write(words.told("rulebook.adopted_rules_kept", folder=folder, rules_environment=RULES_ENVIRONMENT))
    st.code(
        words.told("rulebook.rpd_casebook_app", rules_environment=RULES_ENVIRONMENT, folder=folder),
        language=None,
    )
    if used is not None and used.resolve() == folder.resolve():
        st.write("✓ This program was started so: what is adopted here counts at once.")
    else:
        st.write("This program was not started so: it goes on with the rules named at the top of this page.")


def _earlier(folder: Path) -> None:
    from recommender.knowledge import adopted

    made = adopted.history(folder)
    if not made:
        return
    current = adopted.current(folder)
    theme.table(
        ["number", "who", "when (UTC)", "why", ""],
        [
            [
                one.number,
                one.who,
                one.at[:16].replace("T", " "),
                one.why,
                "✓ counts" if one == current else "",
            ]
            for one in made
        ],
        caption="Adoptions",
    )
    others = [one.number for one in made if one != current]
    if not others:
        return
    with st.form("rules.again", border=False):
        number = st.selectbox("Make an earlier one count again", others)
        why = st.text_input("Why")
        if st.form_submit_button("Adopt it again"):
            person.require("rules")
            again = adopted.adopt_again(folder, str(number), who=data.who(), why=why)
            _count()
            data.done(words.told("rulebook.number_counts_again", number=number, number_two=again.number))
            st.rerun()
