"""The advice for the case in hand, worked out once and kept while nothing that it rests on changes.

How sure it is takes longer than the choice, so it is worked out only when a page asks for it (``standings``,
``with_standing``): a page that shows the choice asks in a fragment, once the choice stands.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import streamlit as st

from recommender.advice.recommend import recommendation
from recommender.screens.session import library_in_use, state

if TYPE_CHECKING:
    from recommender.advice.analysis import CaseAnalysis
    from recommender.advice.confidence.answers import Confidence
    from recommender.advice.confidence.values import BeforeMetal, ChoiceConfidence
    from recommender.advice.model import Decision, DecisionResult, Framework, Recommendation
    from recommender.documents.proposal import Flag
from recommender.advice.recommend import Recommender

_ANSWER, _WEIGHTS, _AROUND = "casebook.answer", "casebook.weights", "casebook.around"
_CONFIDENCE, _STANDING = "casebook.confidence", "casebook.standing"
_FAULTS = "casebook.faults"
_KINDS = ("retainer", "rest", "replacement", "connector")
Moved = Mapping[tuple[str, str], float]


@dataclass(frozen=True, slots=True)
class Answer:
    """One case worked out: the parts for explanation, and the whole recommendation."""

    key: tuple[object, ...]
    analysis: "CaseAnalysis"
    whole: "Recommendation"

    def result(self, decision: "Decision") -> "DecisionResult":
        """One decision with all its options, ranked."""
        return self.analysis.decide(decision)


def moved_weights() -> dict[tuple[str, str], float]:
    """Criterion weights that were moved for a trial: (decision kind, criterion) to raw weight."""
    return dict(st.session_state.get(_WEIGHTS) or {})


def move_weight(kind: str, criterion: str, weight: float | None) -> None:
    """Try another weight of a criterion; ``None`` puts it back."""
    moved = moved_weights()
    if weight is None:
        moved.pop((kind, criterion), None)
    else:
        moved[kind, criterion] = weight
    st.session_state[_WEIGHTS] = moved


def weights_back() -> None:
    """Put every weight back to what the project's table says."""
    st.session_state[_WEIGHTS] = {}


def _key() -> tuple[object, ...]:
    held = state.case()
    assert held is not None
    moved = tuple(sorted(moved_weights().items()))
    library = library_in_use.library_name(), library_in_use.library_version(), library_in_use.profile_stamp()
    return held.model_dump_json(exclude_none=True), *library, moved


def kept() -> Answer | None:
    """The advice if it is worked out already and still true, else ``None``."""
    found: Answer | None = st.session_state.get(_ANSWER)
    return found if found is not None and state.case() is not None and found.key == _key() else None


def answer() -> Answer:
    """The advice for the case in hand. Raises ``NoAdviceError`` where nothing is to be replaced."""
    found = kept()
    if found is not None:
        return found
    held = state.case()
    assert held is not None
    key = _key()
    analysis = _weighed(library_in_use.recommender()).work(held)
    made = Answer(key, analysis, recommendation(analysis))
    st.session_state[_ANSWER] = made
    return made


def confidence(found: Answer) -> "Confidence":
    """How sure the answer in hand is, each part of it worked out when it is asked for; kept while the answer is."""
    from recommender.advice.confidence.answers import Confidence

    held = st.session_state.get(_CONFIDENCE)
    if held is None or held[0] is not found.analysis:
        held = found.analysis, Confidence(found.analysis)
        st.session_state[_CONFIDENCE] = held
    made: Confidence = held[1]
    return made


def standings(found: Answer, framework: "Framework") -> "dict[Decision, ChoiceConfidence]":
    """How sure each part of a framework is: ``standing.word``, ``acceptability.first``, ``acceptability.otherwise``."""
    return confidence(found).parts(framework)


def faults(found: Answer, framework: "Framework") -> "tuple[Flag, ...]":
    """What cannot be made, of the framework, of what was prescribed and of the stored design; kept while they stay."""
    from recommender.documents.proposal import faults_in

    held = st.session_state.get(_FAULTS)
    if held is None or held[0] is not found.analysis or held[1] != framework.design:
        held = found.analysis, framework.design, faults_in(found.analysis, framework.design, asked_too=True)
        st.session_state[_FAULTS] = held
    made: tuple[Flag, ...] = held[2]
    return made


def before_metal(found: Answer) -> "tuple[BeforeMetal, ...]":
    """The dangerous questions that wait for an answer before metal is cast; at once, without any worlds."""
    return confidence(found).before_metal


def with_standing(found: Answer) -> Answer:
    """The answer whose frameworks and leading options carry their standing: provisional means not firm there."""
    from recommender.advice.confidence.attach import with_standing as marked

    held = st.session_state.get(_STANDING)
    if held is None or held[0] is not found.analysis or held[1] != found.whole.frameworks:
        held = found.analysis, found.whole.frameworks, marked(found.whole, confidence(found))
        st.session_state[_STANDING] = held
    return replace(found, whole=held[2])


def _weighed(recommender: "Recommender") -> "Recommender":
    """The recommender with the weights that are being tried."""
    moved = moved_weights()
    if not moved:
        return recommender
    from recommender.advice.model import Decision
    from recommender.advice.recommend import Recommender
    from recommender.advice.scoring.weights import raw_weights, with_weight

    held = state.case()
    assert held is not None
    plain = recommender.work(held)
    base = recommender.engine.knowledge
    for (kind, criterion), weight in moved.items():
        decision = next((d for d in plain.decisions() if d.kind == kind), Decision("connector"))
        now = raw_weights(plain.examine(decision)).get(criterion)
        if now is not None:
            base = with_weight(base, kind, now, criterion, weight)
    return Recommender(recommender.engine.library, base, records=recommender.engine.records)


def chosen() -> dict["Decision", str]:
    """The designer's choices that are still decisions of this case."""
    from recommender.advice.model import Decision

    found = {}
    for key, choice in state.choices().items():
        kind, _, number = key.partition(":")
        if kind not in _KINDS:
            continue
        found[Decision(kind, int(number) if number else 0)] = str(choice["option"])
    return found


def framework(found: Answer) -> tuple["Framework | None", str]:
    """The framework around the designer's choices (the recommended one without any), and what stands in its way."""
    from recommender.advice.frameworks.choices import ChoiceError, framework_around
    from recommender.wording.words import words_in

    made = chosen()
    if not made:
        return (found.whole.frameworks[0] if found.whole.frameworks else None), ""
    key = (found.key, tuple(sorted(made.items())))
    held = st.session_state.get(_AROUND)
    if held is not None and held[0] == key:
        return held[1], ""
    known = set(found.analysis.decisions())
    try:
        around = framework_around(found.analysis, {d: o for d, o in made.items() if d in known})
    except ChoiceError as error:
        first = found.whole.frameworks[0] if found.whole.frameworks else None
        return first, words_in(state.numbering()).text(error.statement)
    st.session_state[_AROUND] = (key, around)
    return around, ""


def choose(decision: "Decision", option: str | None, reason: str = "") -> None:
    """Choose an option at a decision (``None``: leave it to the ranking); can be undone like any change."""
    held = state.case()
    if held is None:
        return
    made = state.choices()
    if option is None:
        made.pop(decision.key, None)
    else:
        made[decision.key] = {"option": option, "reason": reason}
    state.change(held, made)


def choose_all(framework: "Framework") -> None:
    """Make a whole framework the designer's choice."""
    from recommender.advice.model import Decision

    held = state.case()
    if held is None:
        return
    made = {Decision("connector").key: framework.connector}
    kept = {key: choice for key, choice in state.choices().items() if key.partition(":")[0] not in _KINDS}
    made |= {Decision("retainer", tooth).key: part for tooth, part in framework.retainers.items()}
    made |= {Decision("replacement", tooth).key: part for tooth, part in framework.replacements.items()}
    state.change(held, {**kept, **{key: {"option": part, "reason": ""} for key, part in made.items()}})


def choices_away() -> None:
    """Leave every decision to the ranking again."""
    held = state.case()
    if held is not None:
        kept = {key: choice for key, choice in state.choices().items() if key.partition(":")[0] not in _KINDS}
        state.change(held, kept)
