"""Statements that name no teeth and mean those named before them ("clasps on all four", "35 is root filled; RPI")."""

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from recommender.domain import lexicon as lx
from recommender.orders.found import Notes
from recommender.orders.items import SENTENCE, Item, beside, is_role, past, words_in
from recommender.orders.links import Statement
from recommender.orders.lost import replaces
from recommender.orders.model import IN_SADDLE, ON_ROOTS
from recommender.orders.neighbours import next_to
from recommender.orders.refs import Ref, Teeth
from recommender.orders.vocabulary import listed

_NAMED = "the teeth named before"
CLASPED_KINDS = ("retainer", "rest", "site")


def _bounds(teeth: Teeth) -> Teeth:
    """The teeth beside which others are said to be gone ("behind 34 and 44", "between 33 and 37")."""
    refs: list[Ref] = []
    for ref in teeth.refs:
        if ref.way == "behind" or ref.way_too == "behind":
            refs.append(replace(ref, way="", way_too=""))
        elif ref.inner and ref.upto is not None:
            refs += [replace(ref, inner=False, upto=None), ref.upto]
    return Teeth(refs, [frozenset()] * len(refs))


class Referring(Notes):
    """Gives statements the teeth that they refer to."""

    def __init__(self, *given: Any) -> None:
        super().__init__(*given)
        self._sentence = -1
        self._named_before: list[Teeth] = []
        self._named_here: list[Teeth] = []
        self._older: list[Teeth] = []
        self._oldest: list[Teeth] = []
        self._last: Statement | None = None
        self._held: Statement | None = None
        self._all_held: list[Teeth] = []
        self._finding: Statement | None = None
        self._of_space: Statement | None = None
        self._before_rest: dict[int, Statement] = {}

    def _refer(self, statement: Statement) -> None:
        """Gives a statement without teeth those that were named before it ("clasps on all four")."""
        item = statement.item
        if statement.sentence != self._sentence:
            fresh = statement.sentence != self._sentence + 1
            self._sentence = statement.sentence
            self._oldest = [] if fresh else self._older
            self._older = [] if fresh else list(self._named_before)
            self._named_before, self._named_here = self._older, []
        kept = item.kind in CLASPED_KINDS or item.path.startswith("abutments.")
        kept = kept or is_role(item, "clasp", "rest") or (is_role(item, "nothing") and self._them_after(item))
        space = self._of_space
        of_space = item.kind == "replacement" or item.path.startswith("spans.")
        homeless = of_space and not statement.teeth and not statement.denied
        if homeless and space is not None and space.sentence == statement.sentence and space.teeth:
            statement.teeth, statement.mark = list(space.teeth), _NAMED
        if item.path.startswith("spans."):
            self._of_space = statement
        if not statement.teeth and kept:
            self._lend(statement)
        elif statement.teeth and kept:
            self._named_here += [one for one in statement.teeth if one not in self._named_here]
            self._named_before = self._named_here
        elif item.kind == "role" and item.value in ("last", "standing") and statement.teeth:
            self._named_here += statement.teeth
            self._named_before = self._named_here
        elif item.kind == "role" and item.value in ("missing", "standing"):
            self._named_here += [_bounds(one) for one in statement.teeth if _bounds(one).refs]
            self._named_before = self._named_here or self._named_before
        last = self._last
        near = last is not None and last.sentence >= statement.sentence - (
            not statement.teeth or self._together(statement)
        )
        if last is not None and near and replaces(item) and last.item.value == "extraction":
            if not statement.teeth:
                statement.teeth, statement.mark = list(last.teeth), _NAMED
            elif self._only_between(last.item, item) or self._together(statement):
                statement.teeth = [*last.teeth, *statement.teeth]
                statement.mark = _NAMED
        rest = item.kind in ("rest", "site") or item.value == "rest_only"
        if rest and not statement.teeth and last is not None:
            clasp = last.item.kind == "retainer" or last.item.value == "clasp"
            near = last.sentence == statement.sentence or (
                item.value == "rest_only" and last.denied and last.sentence == statement.sentence - 1
            )
            if near and last.teeth and clasp:
                self._before_rest[id(item)] = last
        self._on_roots(statement)
        if item.kind in ("retainer", "role", "unsettled"):
            self._last = statement
        self._finding = statement if item.path.startswith("abutments.") else None

    def _on_roots(self, statement: Statement) -> None:
        """Keeps the teeth said to be implants or roots, and gives them to what is said over them without a tooth."""
        item, held = statement.item, self._held
        if item.path == "abutments.kind" and item.value in IN_SADDLE:
            if statement.teeth and held is not None and held.sentence == statement.sentence:
                statement = replace(statement, teeth=[*held.teeth, *statement.teeth])
            self._held = statement if statement.teeth or held is None else held
            self._all_held += [one for one in statement.teeth if one not in self._all_held]
            return
        if held is None or statement.teeth or statement.denied or not held.teeth:
            return
        on_root = item.kind == "retainer" and item.value in ON_ROOTS
        words = words_in(item, self._tokens)
        over = is_role(item, "missing") and (replaces(item) or bool(words & listed("over_roots")))
        here = held.sentence == statement.sentence
        if on_root or (over and here):
            statement.teeth, statement.mark = list(held.teeth if here else self._all_held), _NAMED

    def _only_between(self, first: Item, last: Item) -> bool:
        """Whether nothing but "and" and words that say nothing stand between two items."""
        start, end = self._at[id(first)], self._at[id(last)]
        between = [item.kind for item in self._items[start + 1 : end]]
        return set(between) <= {"and", "filler", "mark"}

    def _together(self, statement: Statement) -> bool:
        """Whether "together with" stands between a word of replacing and its teeth ("replace it along with 11")."""
        if not statement.teeth:
            return False
        start, end = statement.item.end, statement.teeth[0].start
        return any(token.folded in listed("together") for token in self._tokens[start : max(start, end + 1)])

    def _lend(self, statement: Statement) -> None:
        before = self._last
        corrected = (
            before is not None
            and before.sentence == statement.sentence
            and before.denied
            and not statement.denied
            and statement.item.kind == "retainer"
            and before.teeth
        )
        against = (
            before is not None
            and before.sentence == statement.sentence
            and statement.denied
            and not before.denied
            and statement.item.kind == before.item.kind == "retainer"
            and statement.item.value != before.item.value
            and self._right_after(statement.item, before.item)
        )
        amended = (
            before is not None
            and before.sentence >= statement.sentence - 1
            and bool(before.teeth)
            and statement.item.kind == before.item.kind == "retainer"
            and not statement.denied
            and self._after_correction(statement.item)
        )
        denied = statement.denied and statement.item.kind == "role"
        all_of_them = self._them_after(statement.item) or self._begins_with_all(statement.item)
        one_before = not self._named_here and len(self._older) == 1 and len(self._older[0].refs) == 1
        found = statement.item.path.startswith("abutments.")
        clasp = statement.item.kind == "retainer" and not statement.denied
        of_found = one_before and clasp and self._of_finding(statement)
        if one_before and (found or of_found) and not self._parted(statement):
            statement.teeth = list(self._older)
        if all_of_them and self._means_denture(statement.item):
            return
        one_of_them = self._one_before(statement.item) if all_of_them else None
        if amended and before is not None:
            start, end = statement.item.start, statement.item.end
            statement.teeth = [
                replace(one, refs=[replace(ref, start=start, end=end) for ref in one.refs])
                for one in before.teeth
            ]
        elif (corrected or against) and before is not None:
            statement.teeth = list(before.teeth)
        elif one_of_them is not None:
            statement.teeth = [one_of_them]
        elif all_of_them or (denied and len(self._named_here) == 1):
            statement.teeth = self._both(statement.item) or list(self._named_here or self._older)
        elif denied and one_before and not self._parted(statement):
            statement.teeth = list(self._older)
        if statement.teeth:
            statement.mark = statement.mark or _NAMED

    def _right_after(self, item: Item, before: Item) -> bool:
        """Whether only teeth, marks and a negation stand between two kinds of clasp ("34 and 44 I-bars, not Akers")."""
        start, end = sorted((self._at[id(before)], self._at[id(item)]))
        quiet = {"teeth", "on", "and", "comma", "mark", "filler", "negation"}
        return {one.kind for one in self._items[start + 1 : end]} <= quiet

    def _after_correction(self, item: Item) -> bool:
        """Whether a correction leads to an item ("Akers on 24: make that an I-bar")."""
        at = self._at[id(item)] - 1
        at = past(self._items, at, -1, ("filler", "on", "to", "comma", "colon"))
        return at >= 0 and bool(self._items[at].extra.get("correction"))

    def _both(self, item: Item) -> list[Teeth]:
        """``RPA on 34; 45 wire; rests on both``: the two teeth named last, each in a part of its own."""
        pronoun = next(self._pronouns(item), None)
        phrase = lx.fold(pronoun.match.meanings[0].phrase).split() if pronoun is not None and pronoun.match else []
        if self._named_here or not set(phrase) & listed("two_of_them") or len(self._older) != 1:
            return []
        two = [*self._oldest, *self._older]
        return two if len(two) == 2 and all(len(one.refs) == 1 and one.refs[0].upto is None for one in two) else []

    def _of_finding(self, statement: Statement) -> bool:
        """Whether the statement before says how one tooth is ("35 is root filled; RPI"), or the sentence before has
        the tooth for its heading ("UR3: crowned, mobile. I-bar.")."""
        before = self._finding
        found = before is not None and before.teeth == self._older
        return (found and before is not None and before.sentence == statement.sentence - 1) or self._headed()

    def _headed(self) -> bool:
        """Whether the teeth named before begin their sentence, a colon after them."""
        at = next((i for i, one in enumerate(self._items) if one.start == self._older[0].start), -1)
        begins = at == 0 or (at > 0 and self._items[at - 1].kind in SENTENCE)
        return begins and self._items[at + 1 : at + 2] != [] and self._items[at + 1].kind == "colon"

    def _parted(self, statement: Statement) -> bool:
        """Whether a line break stands between a statement and the teeth named before it."""
        start = self._older[0].end
        return any(
            item.kind == "line" and start <= item.start <= statement.item.start for item in self._items
        )

    def _them_after(self, item: Item) -> bool:
        """Whether "on all of them" stands beside an item."""
        return any(self._pronouns(item))

    def _pronouns(self, item: Item) -> Iterator[Item]:
        """Words for teeth named before that stand right beside an item."""
        place = self._at.get(id(item))
        for step in (1, -1) if place is not None else ():
            assert place is not None
            at = past(self._items, place + step, step, ("filler", "on", "negation"))
            if 0 <= at < len(self._items) and self._items[at].kind == "them":
                yield self._items[at]

    def _one_before(self, item: Item) -> Teeth | None:
        """The tooth, or the list, named last before an item, where these are meant ("on that one", "there")."""
        pronoun = next((one for one in self._pronouns(item)), None)
        phrase = lx.fold(pronoun.match.meanings[0].phrase) if pronoun is not None and pronoun.match else ""
        if phrase not in listed("one_tooth") | listed("last_named"):
            return None
        for earlier in reversed(self._items[: self._at[id(item)]]):
            if earlier.kind == "teeth" and phrase in listed("last_named"):
                return None if earlier.value.relative else Teeth(earlier.value.refs, earlier.value.joints)
            if earlier.kind == "teeth":
                ref = earlier.value.refs[-1]
                alone = ref.upto is None and not ref.many and not ref.relative
                return Teeth([ref], [frozenset()]) if alone else None
        return None

    def _means_denture(self, item: Item) -> bool:
        """``11, 21 lost. The rotational path on this one``: behind teeth that are gone, the denture is meant."""
        pronoun = next(self._pronouns(item), None)
        phrase = lx.fold(pronoun.match.meanings[0].phrase) if pronoun is not None and pronoun.match else ""
        if phrase not in listed("one_tooth") or item.value in ON_ROOTS:
            return False
        before = next((one for one in reversed(self._items[: self._at[id(item)]]) if one.kind == "teeth"), None)
        quiet = ("filler", "colon", "on", "mark", "comma", "all")
        around = [next_to(self._items, self._at[id(before)], step, quiet) for step in (-1, 1)] if before else []
        return any(one is not None and is_role(one, "missing", "absent") for one in around)

    def _begins_with_all(self, item: Item) -> bool:
        """Whether "both" or "all" begins the sentence of an item that names no teeth ("Both are crowned")."""
        at = self._at.get(id(item), 0)
        part = list(beside(self._items, at, SENTENCE))
        if any(one.kind == "teeth" for one in part) or self._named_here:
            return False
        start = at
        while start and self._items[start - 1].kind not in SENTENCE:
            start -= 1
        first = self._items[start]
        return (first.kind == "side" and first.value == "both") or first.kind in ("all", "them")
