"""What words that were not understood may change: proposals beside them are marked.

Harmless talk (shade, delivery, impressions) marks nothing. Unknown words mark what stands in the same part of their
sentence; a negation, a condition, an exception, a doubt or another clasp among them also the parts beside it; teeth
among them whatever is said of these teeth. A question on the arch, the numbering, teeth or a contradiction marks the
whole order.
"""

from collections.abc import Sequence
from dataclasses import replace
from functools import cache

from recommender.domain import lexicon as lx
from recommender.orders.items import PART, SENTENCE, Item, past
from recommender.orders.model import ArchOrder, Proposal, Question, Words
from recommender.orders.settle import Settled, meant
from recommender.orders.text import Token
from recommender.orders.vocabulary import listed

_BESIDE = "words beside it were not understood"
# Connectors that cross the middle of the palate, and words for a middle that may stay free under others.
_CROSSING = ("palatal_strap", "complete_plate", "palatal_bar", "metal_resin_plate")
_MIDDLE = ("middle", "mitte", "milieu", "centre", "centro", "medio")
_ASKED = "something is asked about words beside it"
_OPEN = "a question on this order is open"
_NONE_MISSING = "no teeth to be replaced were found in this order"
_ELSEWHERE = "other words about it were not understood"
_LISTS = ("missing", "absent", "extraction", "standing", "last", "others", "unformed")
_OF_ITS_TEETH = "something else is said of this tooth that was not understood"
# Findings that a phrase states by itself: only what touches them, or turns the sentence, may change them.
_BY_THEMSELVES = ("patient.", "occlusion.", "palate.", "floor.", "records.", "prescription.alloy")
_TURNS = frozenset(
    {"negation", "nor", "except", "instead", "condition", "unsure", "or", "formerly", "retainer", "rest", "connector",
     "unsettled", "replacement"}
)  # fmt: skip
_STRANGE = frozenset(
    {"word", "heading", "number", "measure", "name", "group", "another", "relative", "behind", "onward"}
)


class _Parts:
    """Where the parts and sentences of an order lie, by the characters at which tokens begin."""

    def __init__(self, tokens: Sequence[Token], items: Sequence[Item]) -> None:
        self.part: dict[int, int] = {}
        self.sentence: dict[int, int] = {}
        part = sentence = 0
        for item in items:
            part += item.kind in PART
            sentence += item.kind in SENTENCE
            for place in range(item.start, item.end):
                self.part[tokens[place].start], self.sentence[tokens[place].start] = part, sentence

    def of(self, words: Words) -> set[int]:
        """The parts that a piece of text touches."""
        return {part for at, part in self.part.items() if words.start <= at < words.end}


def beside_unread(
    proposals: Sequence[Proposal],
    tokens: Sequence[Token],
    items: Sequence[Item],
    unread: Sequence[Words],
    place: Sequence[str | None],
    settled: Settled,
) -> list[Proposal]:
    """The proposals, marked where words that were not understood may change them."""
    parts = _Parts(tokens, items)
    strange: set[int] = set()
    turned: set[int] = set()
    touching: set[int] = set()
    teeth: set[int] = set()
    for words in unread:
        inside = [i for i, item in enumerate(items) if words.start <= tokens[item.start].start < words.end]
        kinds = {items[i].kind for i in inside}
        turns = bool(kinds & _TURNS)
        if not turns and "teeth" not in kinds and _harmless([items[i] for i in inside]):
            continue
        here = parts.of(words)
        strange |= here
        if turns:
            turned |= here | _neighbours(here, parts)
        touching |= {i for i in inside if items[i].kind in _STRANGE}
        for i in inside:
            if items[i].kind == "teeth":
                teeth |= {tooth for one in meant(items[i].value, place[i], settled) for tooth in one.teeth}
    beside = _beside(items, touching, tokens)
    left = [items[i] for words in unread for i in range(len(items)) if _is_in(items[i], words, tokens)]
    fields = _fields_of(left, tokens)
    return [
        replace(one, marked=_ELSEWHERE) if not one.marked and one.path in fields
        else _marked(one, parts.of(one.words), strange, turned, beside, teeth)
        for one in proposals
    ]  # fmt: skip


def beside_question(
    proposals: Sequence[Proposal], tokens: Sequence[Token], items: Sequence[Item], asked: Sequence[Question]
) -> list[Proposal]:
    """The proposals, marked where a question is asked about words in the same part of their sentence."""
    parts = _Parts(tokens, items)
    doubtful = {part for one in asked if one.words.text for part in parts.of(one.words)}
    return [
        replace(one, marked=_ASKED)
        if not one.marked and not one.path.startswith(_BY_THEMSELVES) and parts.of(one.words) & doubtful
        else one
        for one in proposals
    ]


def beside_open(made: Sequence[ArchOrder]) -> list[ArchOrder]:
    """The arches of an order, all that they hold marked where its arch, numbering or teeth are open, or it contradicts
    itself: the answer may change whatever was read."""
    if all(one.choice for order in made for one in order.ask):
        return list(made)
    return [
        replace(order, proposals=tuple(replace(one, marked=one.marked or _OPEN) for one in order.proposals))
        for order in made
    ]


def without_missing(
    proposals: Sequence[Proposal], tokens: Sequence[Token], items: Sequence[Item], unread: Sequence[Words]
) -> tuple[list[Proposal], list[Question]]:
    """Where no tooth to be replaced was found: all marked if teeth stand among words that were not understood, else
    the question which they are."""
    if any(one.path == "missing" for one in proposals):
        return list(proposals), []
    if any(item.kind == "teeth" and _is_in(item, words, tokens) for words in unread for item in items):
        return [replace(one, marked=one.marked or _NONE_MISSING) for one in proposals], []
    return list(proposals), [Question(Words("", 0, 0), "which teeth are to be replaced?")]


def numbering_doubted(tokens: Sequence[Token], unread: Sequence[Words], settled: Settled) -> list[Question]:
    """A question where the numbering is taken from the language only and words not understood speak of it."""
    if settled.sure:
        return []
    return [
        Question(words, "in which numbering are the teeth told?")
        for words in unread
        if any(words.start <= one.start < words.end and one.folded in listed("of_numbering") for one in tokens)
    ]


def palate_free(
    proposals: Sequence[Proposal], tokens: Sequence[Token], unread: Sequence[Words]
) -> list[Question]:
    """A question where the palate is to stay free and a connector that crosses it is ordered."""
    crossing = [one for one in proposals if one.path == "prescription.connector" and one.value in _CROSSING]
    if not crossing:
        return []
    palate, free = _palate(), listed("kept_free")
    return [
        Question(words, "the palate is to stay free: does the connector cross it?")
        for words in unread
        if (here := {t.folded for t in tokens if words.start <= t.start < words.end}) & palate
        and here & free
        and not here & set(_MIDDLE)
    ]


@cache
def _palate() -> frozenset[str]:
    """Words for the palate, folded."""
    entry = lx.document("headings")["headings"]["palate.vault"]
    return frozenset(lx.fold(phrase) for _, phrase in lx.spoken(entry))


def _is_in(item: Item, words: Words, tokens: Sequence[Token]) -> bool:
    return words.start <= tokens[item.start].start < words.end


def _fields_of(left: Sequence[Item], tokens: Sequence[Token]) -> set[str]:
    """Fields of which something else in the order speaks that was not understood."""
    fields: set[str] = set()
    for item in left:
        if item.kind == "role" and item.value in _LISTS:
            fields |= {"missing", "absent", "planned_extractions"}
        if item.match is not None and any(one.identifier == "palate.vault" for one in item.match.meanings):
            fields.add("prescription.connector")
        words = " ".join(token.text for token in tokens[item.start : item.end])
        if len(words) > 2 and lx.lookup("allergen", words):
            fields.add("patient.allergy")
    return fields


def _harmless(items: Sequence[Item]) -> bool:
    return any(item.kind == "talk" or item.extra.get("understood") for item in items) or all(
        item.value == "date" or item.kind not in _STRANGE for item in items
    )


def _neighbours(here: set[int], parts: _Parts) -> set[int]:
    """The parts before and after, inside the same sentence."""
    sentence = {part: parts.sentence[at] for at, part in parts.part.items()}
    around = {part + step for part in here for step in (-1, 1)}
    return {
        part for part in around if sentence.get(part) in {sentence[one] for one in here if one in sentence}
    }


def _beside(items: Sequence[Item], touching: set[int], tokens: Sequence[Token]) -> set[int]:
    """Characters at which items begin that stand right beside one that was not understood."""
    found: set[int] = set()
    for index in touching:
        for step in (-1, 1):
            at = past(items, index + step, step, ("filler", "mark"))
            if 0 <= at < len(items) and items[at].kind not in PART:
                found |= {tokens[place].start for place in range(items[at].start, items[at].end)}
    return found


def _marked(
    one: Proposal, here: set[int], strange: set[int], turned: set[int], beside: set[int], teeth: set[int]
) -> Proposal:
    if one.marked:
        return one
    if one.path.startswith(_BY_THEMSELVES):
        touched = bool(here & turned & strange) or any(one.words.start <= at < one.words.end for at in beside)
    else:
        touched = bool(here & (strange | turned))
    if touched:
        return replace(one, marked=_BESIDE)
    return replace(one, marked=_OF_ITS_TEETH) if set(one.teeth) & teeth else one
