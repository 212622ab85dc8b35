"""A whole framework as an exercise: parts chosen on the arch, held against the checks of the program's own
proposals."""

from collections.abc import Mapping
from dataclasses import dataclass

from recommender.advice.frameworks.choices import ChoiceError, framework_around
from recommender.advice.model import WORTH_SAYING, Check, Decision, Framework
from recommender.advice.recommend import recommendation
from recommender.curation.teaching.exercises import Examiner, UnknownAnswerError
from recommender.domain.designs import Design, DesignRetainer
from recommender.domain.statement import Statement, quantity, say


@dataclass(frozen=True, slots=True)
class Told:
    """What there is to say of a framework that was drawn: its checks, how far it is behind the program's proposal
    (points of the framework's score; ``None`` where one of the two cannot be built), and why it cannot be built at
    all."""

    framework: Framework | None
    checks: tuple[Check, ...]
    behind: float | None
    refused: Statement | None

    @property
    def standing(self) -> Statement | None:
        """How it scores beside the program's own proposal, where both can be built."""
        if self.behind is None:
            return None
        if self.behind <= WORTH_SAYING:
            return say("practice.scores_as_own")
        return say("practice.points_below", points=quantity(self.behind))

    @property
    def why_not(self) -> Statement:
        """Why it cannot be built at all."""
        return self.refused or say("practice.nothing_holds")


def drawn(answers: Mapping[str, str]) -> Design:
    """The design that choices by decision key make, for the drawing."""
    by_kind: dict[str, dict[int, str]] = {"retainer": {}, "rest": {}, "replacement": {}}
    connector = None
    for key, option in answers.items():
        kind, _, tooth = key.partition(":")
        if kind == "connector":
            connector = option
        elif kind in by_kind:
            by_kind[kind][int(tooth)] = option
    retainers = [
        DesignRetainer(tooth=tooth, assembly=option)
        for tooth, option in sorted(by_kind["retainer"].items())
        if option != "none"
    ]
    seats = {tooth: option for tooth, option in by_kind["rest"].items() if option != "none"}
    return Design(
        connector=connector,
        retainers=retainers,
        rests=seats,
        replacements=by_kind["replacement"],
    )


def checked_answers(examiner: Examiner, answers: Mapping[str, str]) -> None:
    """Raises ``UnknownAnswerError`` for a decision that is not asked or an option that it does not know."""
    known = {decision.key: decision for decision in examiner.analysis.decisions()}
    for key, option in answers.items():
        if key not in known:
            raise UnknownAnswerError(f"{key}: not asked here; asked are {', '.join(known)}")
        options = sorted(one.option for one in examiner.analysis.decide(known[key]).ranked)
        if option not in options:
            raise UnknownAnswerError(f"{key}: {option} is not an option; choose from {', '.join(options)}")


def told(examiner: Examiner, answers: Mapping[str, str]) -> Told:
    """Builds the framework around all the choices and checks it as the program checks its own."""
    analysis = examiner.analysis
    known = {decision.key: decision for decision in analysis.decisions()}
    chosen: dict[Decision, str] = {known[key]: option for key, option in answers.items() if key in known}
    proposals = recommendation(analysis, frameworks=1).frameworks
    try:
        made = framework_around(analysis, chosen)
    except ChoiceError as error:
        return Told(None, (), None, error.statement)
    if made is None:
        return Told(None, (), None, None)
    behind = proposals[0].score - made.score if proposals else None
    return Told(made, made.checks, behind, None)
