"""How a choice stands, in words."""

from recommender.advice.confidence.values import ChoiceConfidence
from recommender.domain.statement import Choice, Field, Said, Statement, quantity, say, several
from recommender.wording.words import Words

_OTHERS, _LEAST_SHARE = 3, 0.01


def otherwise_words(confidence: ChoiceConfidence, kind: str, words: Words) -> str:
    """In how many worlds nothing blocks a choice, and what comes first in the others, the likeliest first."""
    held = confidence.acceptability
    others = sorted(held.otherwise.items(), key=lambda item: (-item[1], item[0]))[:_OTHERS]
    said = words.text(say("confidence.not_blocked", share=quantity(held.not_blocked, "share", 0)))
    told = [
        words.text(say("confidence.instead", option=Choice(kind, option), share=quantity(share, "share", 0)))
        for option, share in others
        if share >= _LEAST_SHARE
    ]
    if told:
        instead = words.text(say("confidence.otherwise", options=several(map(Said, told))))
        return words.joined([said, instead], "space")
    return said


def part_words(confidence: ChoiceConfidence, words: Words) -> str:
    """How a part stands, for the place beside it: a word and in how many worlds it comes first."""
    share = quantity(confidence.acceptability.first, "share", 0)
    return words.text(say(f"confidence.part_{confidence.standing.word}", share=share))


def standing_words(sure: ChoiceConfidence, kind: str, words: Words) -> str:
    """How a choice stands, with its shares of plausible worlds."""
    held = sure.acceptability
    shares = say(
        "confidence.worlds",
        first=quantity(held.first, "share", 0),
        facts=quantity(held.facts, "share", 0),
        judgement=quantity(held.judgement, "share", 0),
    )
    taken = several(each.statement for each in sure.taken)
    parts = [_standing(sure, kind), shares]
    if taken is not None:
        parts.append(say("papers.ended", what=taken))
    return words.said(several(parts, "space"))


def _standing(sure: ChoiceConfidence, kind: str) -> Statement:
    standing = sure.standing
    if standing.word == "firm_if":
        return say("confidence.firm_if", fields=several(Field(answer.field) for answer in standing.answers))
    if standing.leads and kind:
        return say("confidence.open_leads", option=Choice(kind, standing.leads))
    return say(f"confidence.{standing.word}")
