"""What an order states of fields: a phrase that says it ("bruxism"), or a field's name with a value beside it.

"Oral hygiene: poor", "5 mm clearance", "allergic to nickel and cobalt", "0.25 mm undercut MB".
"""

from collections.abc import Sequence
from itertools import pairwise

from recommender.domain import lexicon as lx
from recommender.orders.ages import with_ages
from recommender.orders.allergies import ALLERGY, allergies_beside, with_more_allergens
from recommender.orders.alloys import with_alloys
from recommender.orders.charted import with_charted
from recommender.orders.clauses import with_clauses
from recommender.orders.degrees import with_degrees, zone_of
from recommender.orders.field_values import SEATS, fact_apart, fact_of, past_teeth, place_of_value, value_of
from recommender.orders.free_findings import with_free_findings
from recommender.orders.gap_measures import with_gap_measures
from recommender.orders.in_words import with_wordings
from recommender.orders.items import Item
from recommender.orders.measured import is_measured, measured_beside
from recommender.orders.person_words import titled, with_persons
from recommender.orders.persons import addressed, of_whom, pronouns, without_conditions
from recommender.orders.scanning import scanned
from recommender.orders.text import Token
from recommender.orders.undercuts import bare_depth, undercut_beside

_PLANES = "abutments.guiding_planes"


def items_of(tokens: Sequence[Token], languages: Sequence[str]) -> list[Item]:
    """All items of an order, in the order of the text."""
    scan = _with_zones(scanned(tokens, languages), tokens)
    aged = with_persons(with_ages(titled(scan, tokens, languages), tokens, languages), tokens)
    items = with_charted(with_clauses(aged, tokens, languages), tokens)
    items = with_free_findings(_facts(with_degrees(items, tokens), tokens), tokens)
    items = with_alloys(with_wordings(items, tokens), tokens)
    items = with_gap_measures(items, tokens)
    for item in items:
        if item.kind == "heading" and item.value == SEATS:
            item.kind, item.value = "role", "rest_seat"
    for rest, after in pairwise(items):
        if rest.kind == "role" and rest.value == "standing" and after.kind == "measure":
            rest.kind = rest.value = "filler"  # "has only 4 mm"
        if rest.path == "abutments.restoration" and after.value == "double_crown" and rest.end == after.start:
            rest.kind, rest.path = "filler", ""  # "coronas telescópicas": the crowns are the retainers
        if rest.kind in ("rest", "site") and after.kind == "seat":
            rest.extra["seat"], rest.end, after.kind = True, after.end, "filler"
    return without_conditions(of_whom(pronouns(addressed(items, tokens), tokens), tokens, languages))


def _with_zones(items: Sequence[Item], tokens: Sequence[Token]) -> list[Item]:
    """The items with a place on a tooth that is written with a hyphen ("mesio-buccal") as one."""
    made: list[Item] = []
    at = 0
    while at < len(items):
        run = items[at : at + 3]
        if len(run) == 3 and tokens[run[1].start].text == "-" and tokens[run[2].start].glued:
            whole = Item("word", run[0].start, run[2].end)
            if zone_of(whole, tokens):
                made.append(whole)
                at += 3
                continue
        made.append(items[at])
        at += 1
    return made


def _facts(items: list[Item], tokens: Sequence[Token]) -> list[Item]:
    made = list(items)
    at = 0
    while at < len(made):
        item = made[at]
        with_more_allergens(made, at, tokens)
        heading = item.match.of("heading") if item.match is not None else None
        if (
            item.kind in ("heading", "opposing", "fact", "role", "word")
            and item.match is not None
            and heading is not None
        ):
            paths = [one.identifier for one in item.match.meanings if one.kind == "heading"]
            for path in dict.fromkeys(paths):
                # a guide plane in an order is one that is wanted, the field one that is prepared
                if "." not in path or path.startswith(("prescription.", "design.", "outcome.", _PLANES)):
                    continue
                found = _beside(made, at, tokens, path)
                if found is not None:
                    first, last, fact = found
                    if item.kind == "fact" and item.path != fact.path and first == at < last:
                        fact.start, first = item.end, at + 1  # "deep bite, 5 mm" says both
                    made[first : last + 1] = [fact]
                    if fact.extra.get("far"):
                        item.kind = "filler"
                    else:
                        at = first
                    break
        if item.kind == "measure" and (found := bare_depth(made, at, tokens)) is not None:
            first, last, fact = found
            made[first : last + 1] = [fact]
            at = first
        at += 1
    return made


def _beside(items: list[Item], at: int, tokens: Sequence[Token], path: str) -> tuple[int, int, Item] | None:
    """The first and last item that a field and its value cover, and the fact that they make."""
    kind = lx.kind_of(path)
    if path == ALLERGY:
        return allergies_beside(items, at, tokens)
    if path == "abutments.undercuts_mm":
        return undercut_beside(items, at, tokens)
    if not kind and is_measured(path):
        return measured_beside(items, at, tokens, path)
    if not kind:
        return None
    after = place_of_value(items, at)
    skipped = [
        place
        for place in range(at + 1, after)
        if items[place].kind in ("filler", "arch") or items[place - 1].kind == "colon"  # "frein haut"
    ]
    for first in (after, *skipped):  # "Lachlinie: mittel", where "mittel" may also say nothing
        for length in (3, 2, 1):
            run = items[first : first + length]
            value = value_of(kind, run, tokens, length)
            if value is not None and (kind != "flag" or items[at + 1].kind == "colon"):
                return at, first + length - 1, fact_of(path, value, items[at : first + length])
    if (place := past_teeth(items, after, path)) is not None:
        for length in (3, 2, 1):
            value = value_of(kind, items[place : place + length], tokens, length)
            if value is not None:
                return fact_apart(path, value, items, place, length)
    for length in (3, 2, 1):
        first = at - length
        while first >= 0 and items[first].kind == "filler":
            break
        value = value_of(kind, items[max(first, 0) : at], tokens, length) if first >= 0 else None
        if value is not None and kind != "flag":
            return first, at, fact_of(path, value, items[first : at + 1])
    return None
