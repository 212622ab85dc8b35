"""Findings of teeth, spaces, the arch and the patient, stated or denied."""

from functools import cache
from itertools import takewhile
from typing import Any

from recommender.domain import lexicon as lx
from recommender.domain.dentition import arch_of
from recommender.orders.denials import denies_back, stands_after
from recommender.orders.figures import DASHES
from recommender.orders.gap_places import LAST_NAMED
from recommender.orders.items import PART, SENTENCE, Item, beside, past, words_in
from recommender.orders.links import Statement
from recommender.orders.refs import Teeth
from recommender.orders.vocabulary import as_written, listed
from recommender.orders.waiting import Waiting

# Fields of an abutment that hold a list.
_LISTED = ("rest_seats", "guiding_planes")
ADDRESSED = "may be whom the order addresses"
NONE_SAID = "no allergy is said to be known: taken for none"
SUSPECTED = "said with doubt"
SOFTENED = "a word of degree takes the edge off it"
_TORUS, _SEX = "palate.torus", "patient.sex"
_OPPOSING = "occlusion.opposing"
_WISH = "patient.aesthetic_priority"
# What may go before the teeth of a space that begin their sentence.
_BEFORE_GAP = ("filler", "open", "close", "mark", "on", "side", "quadrant", "word", "colon", "number")
_DESIGN = ("retainer", "rest", "connector", "negation")
_ARCH_OF_FIELD = {"palate": "maxilla", "floor": "mandible"}


@cache
def _denials() -> dict[tuple[str, str], Any]:
    document = lx.document("findings")["denied"]
    return {(path, str(value)): said for path, values in document.items() for value, said in values.items()}


def when_denied(path: str, value: Any) -> Any:
    """What a field holds when a value of it is denied ("no bruxism": a normal load); ``None`` if that says nothing."""
    return False if value is True else _denials().get((path, str(value)))


def _softened(path: str, value: Any) -> Any:
    """What is left of a value that is only not very much so ("not very dexterous"); ``None`` if that says nothing."""
    return lx.document("findings")["softened"].get(path, {}).get(str(value))


class Findings(Waiting):
    """Takes findings: those of teeth and spaces as statements, all others where they stand."""

    def _fact(self, statement: Statement, arch: str | None) -> None:
        item = statement.item
        stated = when_denied(item.path, item.value) if statement.denied else item.value
        if stated is None:
            return
        teeth, mark = self._teeth_of(statement, arch)
        room, _, name = item.path.partition(".")
        words = self._span(statement)
        if room == "abutments" and teeth:
            self._cover(statement)
            value = [stated] if name in _LISTED else stated
            self._each(f"abutments[{{}}].{name}", value, teeth, words, mark)
            if name == "crown_material" and not statement.denied:
                self._each("abutments[{}].restoration", "crowned", teeth, words, mark)
        elif room == "spans":
            self._cover(statement)
            if (placed := self._space_of.get(id(statement))) is not None:
                teeth, mark = list(placed), mark or LAST_NAMED
            if teeth:
                if statement.teeth:
                    self.found.gaps.append((teeth, self._leads(statement.teeth[0]), words))
                self._propose(
                    f"spans[{teeth[0]}].{name}", stated, words, tuple(teeth), mark, arch_of(teeth[0])
                )
            elif not statement.teeth:
                self._propose(f"spans[].{name}", stated, words, (), mark, arch)

    def _leads(self, teeth: Teeth) -> bool:
        """Whether teeth begin their sentence, or point of a list ("b) 27: clearance 3 mm"), or one of spaces."""
        at = next(index for index, item in enumerate(self._items) if item.start <= teeth.start < item.end) - 1
        at = past(self._items, at, -1, _BEFORE_GAP)
        begun = list(takewhile(lambda one: one.kind not in SENTENCE, reversed(self._items[: at + 1])))
        said = {one.value for one in begun if one.kind == "role"}
        return not begun or (said == {"missing"} and not any(one.kind in _DESIGN for one in begun))

    def take_facts(self) -> None:
        """Findings that are said of no tooth."""
        facts = [
            (index, item)
            for index, item in enumerate(self._items)
            if item.kind == "fact" and not item.path.startswith(("abutments.", "spans."))
        ]
        stated = {item.path for _, item in facts if not item.extra.get("understood")}
        hinted: dict[str, set[Any]] = {}
        for _, item in facts:
            hinted.setdefault(item.path, set()).add(str(item.value))
        for index, item in facts:
            if item.extra.get("understood"):
                if item.path in stated or len(hinted[item.path]) > 1:
                    continue
                stated.add(item.path)
            room = item.path.split(".", 1)[0]
            path = item.path
            if path == _TORUS and (self.arch_at(item) or self._only_arch()) == "mandible":
                path, room = "floor.torus", "floor"  # "large torus" in an order for the lower arch
            shared = room == "patient" or (room == "occlusion" and not path.startswith(_OPPOSING))
            arch = _ARCH_OF_FIELD.get(room) or (None if shared else self.arch_at(item))
            if item.path == "patient.smile_line":
                arch = "maxilla" if self.arch_at(item) is None else self.arch_at(item)
            value: Any = {"true": True, "false": False}.get(str(item.value), item.value)  # a flag in a cell
            understood = bool(item.extra.get("understood"))
            measured = isinstance(value, (int, float)) and not isinstance(value, bool)  # "barely 5 mm"
            softening = None if understood or measured else self._softened(index)
            denied = softening or (None if understood else self._denied(index))
            if denied is not None:
                softened = softening is not None
                value = _softened(item.path, value) if softened else when_denied(item.path, value)
                if value is None:
                    continue
                self.found.covered |= set(range(denied.start, denied.end))
            if item.path == "patient.allergy":
                value = [] if value == "none" else value.split() if isinstance(value, str) else value
            if item.path != _WISH or not item.extra.get("understood"):  # a wish stays in the note too
                self.found.covered |= set(range(item.start, item.end))
            mark = self._marked([item])
            mark = mark or (SOFTENED if softening is not None else NONE_SAID if value == [] else "")
            if item.path != _SEX and not mark and self._is_suspected(index):
                mark = SUSPECTED
            if (
                item.path == _SEX
                and item.start == 0
                and item.match is not None
                and not self._aged_after(index)
            ):
                mark = mark or ADDRESSED
            start, end = (
                (item.start, item.end)
                if denied is None
                else (min(item.start, denied.start), max(item.end, denied.end))
            )
            words = self.words(start, end)
            self._propose(path, value, words, (), mark, arch)

    def _aged_after(self, index: int) -> bool:
        """Whether an age stands near after an item."""
        return any(one.path == "patient.age" for one in self._items[index : index + 5])

    def _only_arch(self) -> str | None:
        named = {arch for arch in self._place.values() if arch is not None}
        return next(iter(named)) if len(named) == 1 else None

    @staticmethod
    def _lacks(item: Item) -> bool:
        """Whether a word says that somebody does not have what was named before ("no los tiene")."""
        meanings = item.match.meanings if item.kind == "role" and item.match is not None else ()
        return any(one.phrase in as_written("lacking") for one in meanings)

    def _softened(self, index: int) -> Item | None:
        """The word of degree right before a finding ("not very", "hardly any")."""
        at = index - 1
        while at >= 0 and self._items[at].kind in ("filler", "mark") and not self._is_hardly(self._items[at]):
            at -= 1
        item = self._items[at] if at >= 0 else None
        return item if item is not None and (item.value == "degree" or self._is_hardly(item)) else None

    def _is_hardly(self, item: Item) -> bool:
        words = [token.folded for token in self._tokens[item.start : item.end]]
        return len(words) == 1 and words[0] in listed("hardly")

    def _is_trouble(self, item: Item) -> bool:
        """Whether an item only says that there is trouble, or a sign, of something ("no problem with gagging")."""
        words = words_in(item, self._tokens)
        return item.kind in ("word", "on", "from", "filler") and (
            item.kind != "word" or bool(words & listed("troubles"))
        )

    def _is_suspected(self, index: int) -> bool:
        """Whether a word of doubt stands in the part of a finding ("Nickelallergie fraglich", "query bruxer")."""
        return any(
            one.kind == "unsure"
            or words_in(one, self._tokens) & listed("suspected")
            for one in beside(self._items, index, PART)
        )

    def _answered_no(self, index: int) -> Item | None:
        """The letter or sign right after a finding that answers no ("GAG N", "bruxism: neg", "Allergie (-)")."""
        at = past(self._items, index + 1, 1, ("colon", "open", "mark"))
        if at >= len(self._items):
            return None
        item, word = self._items[at], self._tokens[self._items[at].start].text
        bracketed = self._items[at - 1].kind == "open"
        ends = at + 1 == len(self._items) or self._items[at + 1].kind in (*PART, "close")
        short = item.end - item.start == 1
        no = word in as_written("letters_no") or (bracketed and word in DASHES)
        return item if no and short and ends else None

    def _denied(self, index: int) -> Item | None:
        answered = self._answered_no(index)
        if answered is not None:
            return answered
        for step in (-1, 1):
            at = index + step
            while 0 <= at < len(self._items) and (
                self._items[at].kind in ("filler", "mark")
                or (step < 0 and self._is_trouble(self._items[at]))
                or (step > 0 and at == index + 1 and self._items[at].kind == "colon")
                or (step > 0 and (self._items[at].kind == "word" or self._items[at].path == _SEX))
            ):  # "Würgereiz hat er nicht"
                at += step
            if 0 <= at < len(self._items) and step > 0 and self._lacks(self._items[at]):
                return self._items[at]
            if not (0 <= at < len(self._items) and self._items[at].kind in ("negation", "except")):
                continue
            following = self._items[at + 1].kind if at + 1 < len(self._items) else "stop"
            if step < 0 and not stands_after(self._items[at]):
                return self._items[at]
            if (
                step > 0
                and following in ("stop", "hard", "line", "comma")
                and denies_back(self._items[at], plain=True)
            ):
                return self._items[at]
        return None
