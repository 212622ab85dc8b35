"""How a choice stands, in words."""

from recommender.advice.confidence.values import ChoiceConfidence
from recommender.domain.statement import Choice, Field, Said, quantity, say, several
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
    return said + (
        " " + words.text(say("confidence.otherwise", options=several(map(Said, told)))) if told else ""
    )


def part_words(confidence: ChoiceConfidence, words: Words) -> str:
    """How a part stands, for the place beside it: a word and in how many worlds it comes first."""
    share = quantity(confidence.acceptability.first, "share", 0)
    return words.text(say(f"confidence.part_{confidence.standing.word}", share=share))


def standing_words(sure: ChoiceConfidence, kind: str, words: Words) -> str:
    """How a choice stands, with its shares of plausible worlds."""
    standing, held = sure.standing, sure.acceptability
    if standing.word == "firm_if":
        fields = several(Field(answer.field) for answer in standing.answers)
        said = words.text(say("confidence.firm_if", fields=fields))
    elif standing.leads and kind:
        said = words.text(say("confidence.open_leads", option=Choice(kind, standing.leads)))
    else:
        said = words.text(say(f"confidence.{standing.word}"))
    shares = say(
        "confidence.worlds",
        first=quantity(held.first, "share", 0),
        facts=quantity(held.facts, "share", 0),
        judgement=quantity(held.judgement, "share", 0),
    )
    taken = "; ".join(words.text(each.statement) for each in sure.taken)
    return f"{said} {words.text(shares)}" + (f" {taken[:1].upper()}{taken[1:]}." if taken else "")
