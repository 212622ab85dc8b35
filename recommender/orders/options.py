"""What an order asks for on teeth: retainers, rests and seats, replacements, and those that it leaves open."""

from collections.abc import Sequence
from typing import Any

from recommender.domain import lexicon as lx
from recommender.domain.dentition import arch_of
from recommender.orders.found import by_arch, label
from recommender.orders.items import SENTENCE, Item, beside, is_role, past
from recommender.orders.links import Statement
from recommender.orders.model import Words
from recommender.orders.settle import meant
from recommender.orders.spaces import at_end, clasped
from recommender.orders.vocabulary import listed
from recommender.orders.waiting import PLACES_OF_REST, SAID_BEFORE, Waiting

# Two rests that have one name, as the places of their seats.
_SIDES_OF = {"mesial_distal": ["mesial", "distal"]}
_METAL_BASE = "resin_tooth_metal_base"
ENDS = "in front and behind: the two teeth beside the space"
REPLACED = "said what it is replaced by"
_BESIDE_WHICH = ("teeth", "filler", "mark", "colon", "comma", "and", "on", "arch", "counted")
ON_SEATS = "a rest in the seat that is cut"
ONLY_A_REST = "a rest and no clasp"
SEATS = "taken for the rests named before"


class Options(Waiting):
    """Takes statements that ask for a kind of retainer, rest or replacement, or rule it out."""

    def __init__(self, *given: Any) -> None:
        super().__init__(*given)
        self._seats: list[Statement] = []
        self._rests: list[tuple[int, int, str]] = []
        self._on_seats: list[Statement] = []

    def _option(self, statement: Statement, arch: str | None) -> None:
        item = statement.item
        kind = "rest" if item.kind == "site" else item.kind
        path = {"retainer": "retainers", "rest": "rests", "replacement": "replacements"}[kind]
        teeth, mark = self._teeth_of(statement, arch)
        words = self._span(statement)
        if statement.denied and kind == "rest":
            if teeth and not item.extra.get("seat"):
                self._cover(statement)
                self._each("prescription.rests[{}]", "none", teeth, words, mark)
            return
        if not statement.teeth and not statement.denied and kind in ("retainer", "rest"):
            teeth, mark = self._of_the_clasped(statement, arch)
            if teeth:
                self._each_option(statement, path, teeth, words, mark)
                return
            if mark == SAID_BEFORE:
                return  # a remark about a clasp whose teeth are known: it stays in the note
        if not statement.teeth:
            if kind == "rest":
                return
            if statement.denied:
                self._cover(statement)
                self.found.everywhere.append((arch, f"{path}:{item.value}", words))
            elif item.extra.get("likely") and clasped(self.found.proposals, arch):
                return  # "cast clasps": the kinds are named with their teeth
            elif kind == "replacement" and item.value == _METAL_BASE and self._kind_of_denture(item):
                self._cover(statement)  # "metal base, Cr-Co" says what the denture is made of
            elif kind == "replacement" and self._names_any_tooth(item):
                return  # "denture teeth over them": not how they are made
            elif kind == "replacement":
                self._cover(statement)
                self.found.bases.append((arch, str(item.value), words))
                if spoken_of := self._spoken_of(item):
                    self.found.of_bases[words.start] = frozenset(spoken_of)
            else:
                self._cover(statement)
                self._ask(arch, words, f"{label(kind, str(item.value))}: on which tooth?")
            return
        if any(one.relative for one in statement.teeth) and not teeth:
            self._cover(statement)
            named = "" if kind == "rest" else f"{label(kind, str(item.value))}: "
            self._ask(arch, words, f"{named}on which tooth?")
            return
        if kind == "replacement" and not statement.denied and self._tells_which(item):
            self._cover(statement)
            for group in by_arch(teeth):
                self._propose("missing", group, words, tuple(group), mark or REPLACED, arch_of(group[0]))
            return
        self._each_option(statement, path, teeth, words, mark)

    def _each_option(
        self, statement: Statement, path: str, teeth: Sequence[int], words: Words, mark: str
    ) -> None:
        self._cover(statement)
        item = statement.item
        value = str(item.value)
        nth, of = item.extra.get("nth", (0, 0))
        if of > 1 and len(teeth) == of:
            teeth = [teeth[nth]]
        if (end := item.extra.get("end")) is not None:
            teeth, mark = at_end(teeth, end), mark or ENDS
            if not teeth:
                self._ask(self.arch_at(item), words, "which tooth is in front, which behind?")
        for tooth in teeth:
            if value in PLACES_OF_REST:
                side = self._side_of_rest(tooth, value)
                if side is None:
                    self._ask(arch_of(tooth), words, "on which side of the tooth?", (tooth,))
                    continue
                mark = mark or "read from the spaces"
            else:
                side = value
            sides = _SIDES_OF.get(str(side), [side])
            if item.extra.get("plane"):
                self._each("abutments[{}].guiding_planes", sides, [tooth], words, mark)
            elif item.extra.get("seat"):
                if not statement.denied:
                    self._each("abutments[{}].rest_seats", sides, [tooth], words, mark)
            elif statement.denied:
                ruled_out = str(item.extra.get("likely", side)).split("|")
                self._each(f"prescription.not.{path}[{{}}]", ruled_out, [tooth], words, mark)
            else:
                self._each(f"prescription.{path}[{{}}]", side, [tooth], words, mark)
                if path == "rests":
                    self._rests.append((statement.sentence, tooth, side))
                if path == "rests" and self._only_beside(statement):
                    self._each("prescription.retainers[{}]", "rest_only", [tooth], words, mark or ONLY_A_REST)

    def _names_any_tooth(self, item: Item) -> bool:
        """Whether only what a denture's tooth is made of is said, in passing: on its own it says how all are made."""
        plain = lx.fold(item.phrase) in listed("denture_teeth")
        around = list(beside(self._items, self._at[id(item)], SENTENCE))
        return plain and any(one.kind not in ("filler", "mark", "all", "heading", "on", "colon") for one in around)

    def _tells_which(self, item: Item) -> bool:
        """Whether teeth of a denture stand with nothing but numbers, where no word says which teeth it replaces."""
        plain = lx.fold(item.phrase) in listed("any_denture_teeth")
        around = [*beside(self._items, self._at[id(item)], SENTENCE)]
        lost = any(is_role(one, "missing", "others", "free_end", "extraction") for one in self._items)
        return plain and not lost and all(one.kind in _BESIDE_WHICH for one in around)

    def _spoken_of(self, item: Item) -> list[int]:
        """The teeth of which the sentence of a replacement without teeth speaks before it, by number or name."""
        at, found = self._at[id(item)] - 1, []
        while at >= 0 and self._items[at].kind not in SENTENCE:
            one = self._items[at]
            if one.kind == "teeth" and not one.value.relative:
                found += [tooth for m in meant(one.value, self.arch_at(one), self._settled) for tooth in m.teeth]
            at -= 1
        return found

    def _kind_of_denture(self, item: Item) -> bool:
        """Whether an item stands in a sentence that only names the denture, its arch or its alloy."""
        around = list(beside(self._items, self._at[id(item)], SENTENCE))
        named = any(one.kind in ("dentition", "alloy", "arch") for one in around)
        return named and not any(one.kind in ("teeth", "retainer", "rest") for one in around)

    def take_seats(self) -> None:
        """Seats said of rests named before ("the seats are cut"): of those of its sentence, else of the one before."""
        for statement in self._seats:
            for back in (0, 1):
                meant = [one for one in self._rests if one[0] == statement.sentence - back]
                if meant:
                    self._cover(statement)
                    for _, tooth, side in meant:
                        self._each("abutments[{}].rest_seats", [side], [tooth], self._span(statement), SEATS)
                    break

        self._take_rests_on_seats()

    def _take_rests_on_seats(self) -> None:
        """``seats cut in the cingula of both 3s, use them for rests``: rests where the seats are."""
        seats = {one.teeth[0]: one for _, one in self.found.proposals if one.path.endswith("].rest_seats")}
        for statement in self._on_seats:
            teeth, _ = self._teeth_of(statement, self.arch_at(statement.item))
            cut = [tooth for tooth in teeth if tooth in seats and len(seats[tooth].value) == 1]
            if cut:
                self._cover(statement)
            for tooth in cut:
                words = self._span(statement)
                self._each("prescription.rests[{}]", seats[tooth].value[0], [tooth], words, ON_SEATS)

    def _only_beside(self, statement: Statement) -> bool:
        """Whether "only" stands right beside a rest ("nur Cingulumauflage", "cingulum rest only")."""
        at = self._at.get(id(statement.item))
        if at is None:
            return False
        for step in (-1, 1):
            place = past(self._items, at + step, step, ("filler", "mark"))
            if 0 <= place < len(self._items) and self._items[place].kind == "only":
                return True
        return False

    def _unsettled(self, statement: Statement, arch: str | None) -> None:
        kind, _, choice = str(statement.item.value).partition(":")
        if statement.denied:
            teeth, mark = self._teeth_of(statement, arch)
            self._cover(statement)
            self._each(
                "prescription.not.retainers[{}]", choice.split("|"), teeth, self._span(statement), mark
            )
            return
        self._cover(statement)
        which = " or ".join(label(kind, one) for one in choice.split("|"))
        self._ask(arch, self._span(statement), f"which: {which}?", choice=True)
