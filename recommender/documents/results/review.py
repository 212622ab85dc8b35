"""A review as JSON values."""

from typing import Any

from recommender.advice.explanation.counterfactuals.preparation import Price
from recommender.advice.review import ReviewItem
from recommender.documents.results.stated import listed
from recommender.domain.statement import statement_document
from recommender.wording.words import Words


def review_document(words: Words, items: tuple[ReviewItem, ...]) -> list[dict[str, Any]]:
    """The items of a review."""
    return [
        {
            "for": item.decision.key, "given": item.given, "verdict": item.verdict, "asked": item.asked,
            "status": item.status, "lead": item.lead, "points_behind": item.points, "near_tie": item.near_tie,
            **listed(words, "reasons", item.reasons),
            **listed(words, "price_of_following", item.price_of_following),
            **listed(words, "price_of_departing", item.price_of_departing),
            "follow": _price(item.follow), "depart": _price(item.depart),
            **listed(words, "precedents_for_asked", item.precedents_for_asked),
            **listed(words, "precedents_for_lead", item.precedents_for_lead),
            "wording": words.text(item.wording), "wording_statement": statement_document(item.wording),
            "provisional": item.provisional,
            "school": None if item.school is None else {"name": item.school.name, "source": item.school.source},
            **({"ruled_out": list(item.ruled_out)} if item.ruled_out else {}),
        }
        for item in items
    ]  # fmt: skip


def _price(price: Price | None) -> dict[str, Any] | None:
    return None if price is None else {"enamel_mm": price.enamel_mm, "visits": price.visits}
