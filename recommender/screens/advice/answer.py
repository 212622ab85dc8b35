"""The answer in one minute: the decision in two sentences, the drawing, and beside it one line a part."""

import re
from typing import TYPE_CHECKING

import streamlit as st

from recommender.domain.statement import count, quantity, say, several
from recommender.screens.session import current_advice, drawings, library_in_use
from recommender.screens.session.visitor import store
from recommender.screens.ui import links, theme, words
from recommender.wording.words import capital, ended

if TYPE_CHECKING:
    from recommender.advice.confidence.values import ChoiceConfidence
    from recommender.advice.model import Decision, Framework
    from recommender.advice.summary import PartLine
    from recommender.domain.statement import Statement

_IDLE_SECONDS = 0.6
_SURE = "casebook.how_sure"
_IN_SIGHT = 2
_WORDS = {"firm": "firm", "firm_if": "firm if", "open": "open"}
_CLOSER = ("The other frameworks", "Every option, and why", "Room, hold and show", "Rules between parts")


def answer_section(found: current_advice.Answer, framework: "Framework") -> None:
    """Everything that has to be seen first."""
    from recommender.advice.summary import decision_in_two, part_lines
    from recommender.screens.advice.choose import change_a_part

    first, second = decision_in_two(found.analysis, found.whole, framework)
    with st.container(gap="xxsmall"):
        st.html(
            f'<p class="casebook-decision"><b>{theme.escape(words.said(first))}</b> '
            f"{theme.escape(words.said(second))}</p>"
        )
        cautions_section(found, framework)
    lines = part_lines(found.analysis, framework)
    with st.container(key="casebook_wrap_framework"):
        left, right = st.columns([4, 5], gap="medium")
    with left:
        drawings.show(
            found.analysis.case,
            framework.design,
            provisional=framework.provisional,
            legend=bool(st.session_state.get("advice.key")),
            reasons=_reasons(lines),
            faults=current_advice.faults(found, framework),
        )
        st.toggle("Signs explained", key="advice.key", persist_state="session")
        change_a_part(found, framework)
    with right:
        waiting = _how_sure(found, framework) is None
        st.fragment(_parts, run_every=_IDLE_SECONDS if waiting else None)(found, framework, lines)
        _alternatives(found, framework)


def _reasons(lines: "tuple[PartLine, ...]") -> dict[str, str]:
    """What each part of the drawing says to the pointer."""
    return {
        decision.key: words.said(line.why)
        for line in lines
        if line.why is not None
        for decision in line.decisions
    }


def _how_sure(
    found: current_advice.Answer, framework: "Framework"
) -> "dict[Decision, ChoiceConfidence] | None":
    """How sure each part is, if it was worked out for this framework already."""
    kept = store().get(_SURE)
    same = kept is not None and kept[0] is found.analysis and kept[1] == framework.design
    made: dict[Decision, ChoiceConfidence] | None = kept[2] if kept is not None and same else None
    return made


def _parts(found: current_advice.Answer, framework: "Framework", lines: "tuple[PartLine, ...]") -> None:
    """The lines; how sure each is comes in its place when the page has been quiet for a moment."""
    sure = _how_sure(found, framework)
    rows: list[list[object]] = []
    before = ""
    for line in lines:
        why = _why(line)
        asks = "; ".join(words.said(one) for one in line.asks) or "–"
        because = words.told("screen.as_above") if why == before else why
        rows.append([_what(line), words.runs(line.teeth) or "–", because, _word(line, sure), asks])
        before = why
    heads = ["part", "on", "because", "how sure", "dentist prepares"]
    theme.table(heads, rows, name="Part by part", css="casebook-parts")
    if sure is not None:
        return
    kept = store()
    if kept.get("advice.waited") is not framework:
        kept["advice.waited"] = (
            framework  # the first run draws; the next one, when all is quiet, works it out
        )
        return
    kept[_SURE] = found.analysis, framework.design, current_advice.standings(found, framework)
    st.rerun(scope="app")


def _what(line: "PartLine") -> str:
    rest = words.option("rest", line.rest) if line.rest else ""
    if line.option is None or (rest and line.option == "rest_only"):
        return rest
    name = words.option(line.kind, line.option)
    return f"{name}, {rest}" if rest else name


def _why(line: "PartLine") -> str:
    """The reason up to its first colon or semicolon: the details have the rest."""
    said = words.said(line.why) if line.why is not None else words.told("screen.leads_by_start")
    said = re.split(r"[;:] ", said, maxsplit=1)[0].removesuffix(".")
    return capital(said)


def _word(line: "PartLine", sure: "dict[Decision, ChoiceConfidence] | None") -> str:
    """The least sure of the parts on a line, in a word."""
    if sure is None:
        return "…"
    found = [sure[decision].standing.word for decision in line.decisions if decision in sure]
    return _WORDS[max(found, key=list(_WORDS).index)] if found else "–"


def cautions_section(found: current_advice.Answer, framework: "Framework | None") -> None:
    """PROVISIONAL, then what to mind in this case; questions and what holds for every case on demand."""
    from recommender.advice.summary import cautions, speaking_against

    whole = found.whole
    if (framework is not None and framework.provisional) or whole.provisional:
        st.html(f"<p>{theme.flag('PROVISIONAL')} {theme.escape(_waits_for(found))}</p>")
    if current_advice.moved_weights():
        st.html(f"<p>{theme.flag('WEIGHTS MOVED')} {theme.escape(words.told('screen.weights_moved'))}</p>")
        st.button("Put the weights back", on_click=current_advice.weights_back, key="advice.weights_back")
    told = cautions(found.analysis, whole, framework)
    own = [_sentence(words.said(text)) for text in told.own]
    seen = min(len(own), _IN_SIGHT) - (1 if told.own and told.own[-1].code == "waits_for_survey" else 0)
    against = None if framework is None else speaking_against(found.analysis, framework)
    if against is not None:
        own.insert(0, _against(*against))
        seen = min(seen + 1, _IN_SIGHT)
    shown = "".join(f"<li>{theme.escape(text)}</li>" for text in own[: max(seen, 0)])
    if shown:
        st.html(
            f'<section class="casebook-cautions" aria-label="Cautions of this case"><ul>{shown}</ul></section>'
        )
    rest, asked, general = own[max(seen, 0) :], told.questions, told.general
    counted = [words.told("screen.more_to_mind", n=len(rest))] if rest else []
    counted += [words.told("screen.questions_to_ask", n=len(asked))] if asked else []
    waits = current_advice.before_metal(found)
    counted += [words.told("screen.before_metal", n=len(waits))] if waits else []
    box = theme.fold(" · ".join([*counted, words.told("screen.for_every_case")]), "advice.fold.cautions")
    if box.open:
        with box:
            _listed(words.told("screen.mind"), rest)
            _listed("To answer before metal is made", [_sentence(words.said(one.statement)) for one in waits])
            _listed("To ask", [words.said(text) for text in asked])
            _listed("For every case", [words.said(text) for text in general])


def _listed(title: str, lines: list[str]) -> None:
    if lines:
        inside = "".join(f"<li>{theme.escape(line)}</li>" for line in lines)
        st.html(f'<section class="casebook-cautions"><b>{theme.escape(title)}</b><ul>{inside}</ul></section>')


def _sentence(text: str) -> str:
    return capital(ended(text))


def _against(decision: "Decision", said: "Statement") -> str:
    """The precedent that speaks against a part, with the reason that was recorded with it."""
    from recommender.domain.statement import Name, Said, say

    case = said.arg("case")
    reason = _recorded_reason(case.text, decision.kind) if isinstance(case, Name) else ""
    return _sentence(
        words.said(say("answer.against", item=decision, what=said, reason=Said(reason) if reason else None))
    )


def _recorded_reason(case_id: str, kind: str) -> str:
    try:
        stored = library_in_use.library().get(case_id)
    except KeyError:
        return ""
    for answer in stored.dentist_answer or ():
        if answer.reason and answer.item.partition(":")[0] == kind:
            return re.split(r"(?<=[.!?]) ", answer.reason.strip(), maxsplit=1)[0]
    return ""


def _waits_for(found: current_advice.Answer) -> str:
    """What a provisional design rests on, in one line."""
    leading = len({gap.field for gap in found.whole.not_recorded if gap.could_lead and not gap.asked})
    if not leading:
        return words.told("screen.no_fact_leads")
    return words.told("screen.facts_lead", n=leading)


def _alternatives(found: current_advice.Answer, framework: "Framework") -> None:
    """The runners-up in a line each: what they are, whether they are equal, what they give up."""
    from recommender.advice.summary import otherwise

    near = found.analysis.engine.knowledge.scoring.near_tie
    told = []
    first = found.whole.frameworks[0] if found.whole.frameworks else None
    named = 3 if framework is first else 2  # the decision has named the second already
    for place, other in enumerate(found.whole.frameworks[named - 1 :], named):
        behind = found.whole.frameworks[0].score - other.score
        word = (
            say("screen.equal") if behind <= near else say("screen.behind", points=quantity(behind, "points"))
        )
        told.append(say("screen.instead_one", place=count(place), what=otherwise(other), how=word))
    if told:
        theme.note(words.told("screen.instead", others=several(told)))
    if current_advice.chosen():
        changed_section(found, framework)


def changed_section(found: current_advice.Answer, framework: "Framework") -> None:
    """Before and after: what the designer's choices made of the framework that was proposed."""
    from recommender.advice.summary import before_and_after

    proposed = found.whole.frameworks[0] if found.whole.frameworks else None
    if proposed is not None and proposed is not framework:
        told = before_and_after(found.analysis, proposed, framework)
        lines = [
            words.told(
                "screen.score_changed", before=quantity(proposed.score), after=quantity(framework.score)
            ),
            *(words.said(x) for x in told),
        ]
        _listed("What your choices change", lines)
    st.button(
        "Leave everything to the ranking again",
        on_click=current_advice.choices_away,
        key="advice.choices_away",
    )


def closer_section(found: current_advice.Answer, framework: "Framework | None") -> None:
    """Details, drawn only when they are asked for."""
    from recommender.screens.advice import frame
    from recommender.screens.advice.decision import decision_section
    from recommender.screens.advice.room import room_section

    views = _CLOSER if framework is not None else (_CLOSER[1],)
    with st.container(horizontal=True, vertical_alignment="center", gap="small"):
        view = st.segmented_control(
            "Look closer", views, key="advice.closer", persist_state="session", label_visibility="collapsed",
            default=None if framework is not None else _CLOSER[1], wrap=True,
        )  # fmt: skip
        if view is None and framework is not None:
            links.link("talk", "Talk it over →")
    if view == _CLOSER[1]:
        decision_section(found, framework)
    elif framework is None:
        return
    elif view == _CLOSER[0]:
        frame.runners_up(found)
    elif view == _CLOSER[2]:
        room_section(found, framework)
    elif view == _CLOSER[3]:
        frame.checks(framework)
