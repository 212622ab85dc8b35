"""How a choice stands, in words."""

from recommender.advice.confidence.values import ChoiceConfidence
from recommender.domain.statement import Choice, Field, quantity, say, several
from recommender.wording.words import Words


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
