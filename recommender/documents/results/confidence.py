"""What the result format says of how sure a choice is: acceptability, standing, questions that wait before metal."""

from typing import Any

from recommender.advice.confidence.answers import Confidence
from recommender.advice.confidence.values import ChoiceConfidence
from recommender.advice.model import Decision, Recommendation
from recommender.documents.results.stated import stated
from recommender.wording.words import Words


def with_confidence(
    words: Words, document: dict[str, Any], answer: Recommendation, confidence: Confidence
) -> dict[str, Any]:
    """A recommendation's document with how sure each of its choices is, and what it is worth to ask."""
    for decision, sure in confidence.decisions.items():
        place = _place(document, decision)
        ranked = place.pop("ranked")
        for option in ranked:
            option["first"] = sure.firsts.get(option["option"], 0.0)
        place |= choice_document(words, sure)
        place["ranked"] = ranked
    for place, sure in zip(document["frameworks"], confidence.frameworks(answer.frameworks), strict=True):
        place |= choice_document(words, sure) | {"unverified": list(sure.unverified)}
    asking = confidence.asking(answer.frameworks)
    for gap in document["not_recorded"]:
        gap["worth"] = asking.worths.get(gap["field"], 0.0)
    document["ask_next"] = [
        {
            "field": ask.field,
            "worth": ask.worth,
            "adds": ask.adds,
            "would_change": list(asking.hangs_on(ask.field)),
        }
        for ask in asking.next
    ]
    document["before_metal"] = [
        {"field": each.field, "why": each.why, "asked": each.asked, **stated(words, each.statement)}
        for each in confidence.before_metal
    ]
    return document


def choice_document(words: Words, sure: ChoiceConfidence) -> dict[str, Any]:
    """The keys that a decision or framework carries."""
    standing = sure.standing
    return {
        "acceptability": sure.acceptability.document(),
        "standing": standing.word,
        "firm_if": [answer.field for answer in standing.answers],
        "firm_answers": [
            {
                "field": answer.field,
                "answers": list(answer.values),
                "least": answer.least,
                "most": answer.most,
            }
            for answer in standing.answers
        ],
        "leads": standing.leads,
        "taken": [
            {
                "field": taken.field,
                "value": list(taken.value) if isinstance(taken.value, tuple) else taken.value,
                "share": taken.share,
                "own_records": taken.own,
                **stated(words, taken.statement),
            }
            for taken in sure.taken
        ],
    }


def _place(document: dict[str, Any], decision: Decision) -> dict[str, Any]:
    if decision.kind == "connector":
        found: dict[str, Any] = document["connector"]
    else:
        found = document[f"{decision.kind}s"][str(decision.tooth)]
    return found
