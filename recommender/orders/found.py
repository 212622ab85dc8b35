"""What is gathered from one order before it is sorted by arch: proposals, questions, the words they came from."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from recommender.domain import catalogue
from recommender.domain.dentition import ARCH_ORDER, arch_of, quadrant
from recommender.orders.items import SENTENCE, Item, beside
from recommender.orders.links import Statement
from recommender.orders.model import Proposal, Question, Words, tooth_in_words
from recommender.orders.refs import UNSIDED, Ref, Teeth, teeth_of
from recommender.orders.settle import Meant, Settled, depends, meant
from recommender.orders.spaces import Spaces
from recommender.orders.text import Token

_NO_SPACES = Spaces({}, frozenset(), frozenset())
NAMED_APART = "of a group only the teeth that are named by number"
LIKELY = "what a cast clasp of no stated kind nearly always is"
AGAIN = "the same as the clasp named before"
# What to mark where teeth are said by their place.
PLACED = {
    "beside": "the teeth beside the spaces",
    "abutments": "the abutments: those named so, else the teeth beside the spaces",
    "last": "the last tooth on each side",
    "front": "the front tooth beside the spaces of each side",
    "all": "third molars left out",
}
# What to mark beside words that a pass has put a sign on; the first sign counts.
_MARKED = {
    "taken_back": "the order takes a tooth back",
    "remarked": "a remark beside it denies something",
    "again": AGAIN,
    "far": "the only measure of its sentence",
    "understood": "understood from what is said, not stated",
    "restless": "no word for a rest stands beside it",
    "wished": "said under a condition",
    "guessed": "read as: no clasp",
    "refused": "read as ruled out",
    "letter": "a letter for a kind of clasp",
    "unnamed": "a depth and its place, without the word for an undercut",
    "likely": LIKELY,
    "concluded": "another metal is named before it",
}


@dataclass
class Found:
    """Everything gathered. ``arch`` beside each is ``None`` where it holds for every arch of the order."""

    proposals: list[tuple[str | None, Proposal]] = field(default_factory=list)
    questions: list[tuple[str | None, Question]] = field(default_factory=list)
    standing: list[tuple[str, set[int], Words]] = field(default_factory=list)
    everywhere: list[tuple[str | None, str, Words]] = field(default_factory=list)
    bases: list[tuple[str | None, str, Words]] = field(default_factory=list)
    of_bases: dict[int, frozenset[int]] = field(default_factory=dict)
    last: list[tuple[str, list[int], Words]] = field(default_factory=list)
    upto: dict[str, int] = field(default_factory=dict)
    gaps: list[tuple[list[int], bool, Words]] = field(default_factory=list)
    replaced: list[Words] = field(default_factory=list)
    free_end: list[tuple[str | None, Words]] = field(default_factory=list)
    talked_of: set[int] = field(default_factory=set)
    rest_missing: list[tuple[str | None, Words]] = field(default_factory=list)
    covered: set[int] = field(default_factory=set)
    misplaced: set[str] = field(default_factory=set)
    corrections: list[int] = field(default_factory=list)
    not_these: list[tuple[int, frozenset[int]]] = field(default_factory=list)


class Notes:
    """What is gathered from one order, with the words and places that go with it."""

    def __init__(
        self,
        text: str,
        tokens: Sequence[Token],
        items: Sequence[Item],
        place: Sequence[str | None],
        settled: Settled,
    ) -> None:
        self._text, self._tokens, self._items, self._settled = text, tokens, items, settled
        self._place = {id(item): arch for item, arch in zip(items, place, strict=True)}
        self._at = {id(item): index for index, item in enumerate(items)}
        self._begins = {item.start: index for index, item in enumerate(items)}
        self.found = Found()
        self.found.corrections = [tokens[item.start].start for item in items if item.extra.get("correction")]
        self._spaces: Spaces | None = None

    # words and places

    def words(self, start: int, end: int) -> Words:
        """The piece of text that tokens ``start`` to ``end`` cover."""
        first, last = self._tokens[start].start, self._tokens[end - 1].end
        return Words(self._text[first:last], first, last)

    def _span(self, statement: Statement) -> Words:
        starts = [item.start for item in statement.covers] + [teeth.start for teeth in statement.teeth]
        ends = [item.end for item in statement.covers] + [teeth.end for teeth in statement.teeth]
        return self.words(min(starts), max(ends))

    def arch_at(self, item: Item) -> str | None:
        """The arch of the section in which an item stands."""
        return self._place.get(id(item))

    def _stand_in(self, item: Item) -> None:
        """Gives an item that was understood from the words of another the place of that one."""
        at = self._begins.get(item.start)
        if id(item) not in self._at and at is not None:
            self._at[id(item)] = at
            self._place[id(item)] = self._place[id(self._items[at])]

    def _placed(self, item: Item) -> bool:
        """Whether the sentence of an item itself names an arch, a connector or teeth."""
        around = beside(self._items, self._at[id(item)], SENTENCE)
        return any(one.kind in ("arch", "teeth", "connector") for one in around)

    def _marked(self, items: Sequence[Item]) -> str:
        for item in items:
            for sign, why in _MARKED.items():
                if item.extra.get(sign):
                    return why
            for token in self._tokens[item.start : item.end]:
                if token.meant:
                    return f'"{token.text}" read as "{token.meant}"'
        return ""

    def _cover(self, statement: Statement) -> None:
        for item in (*statement.covers, *statement.heads):
            self.found.covered |= set(range(item.start, item.end))
        for teeth in statement.teeth:
            self.found.covered |= set(range(teeth.start, teeth.end))

    def _ask(
        self, arch: str | None, words: Words, why: str, teeth: tuple[int, ...] = (), choice: bool = False
    ) -> None:
        question = Question(words, why, teeth, choice)
        if not any(known == question for _, known in self.found.questions):
            self.found.questions.append((arch, question))

    def _propose(
        self, path: str, value: Any, words: Words, teeth: tuple[int, ...], marked: str, arch: str | None
    ) -> None:
        self.found.proposals.append((arch, Proposal(path, value, words, teeth, marked)))

    def _each(self, path: str, value: Any, teeth: Sequence[int], words: Words, mark: str) -> None:
        for tooth in teeth:
            self._propose(path.format(tooth), value, words, (tooth,), mark, arch_of(tooth))

    # teeth

    def resolved(self, teeth: Teeth, arch: str | None, item: Item | None) -> tuple[list[int], str]:
        """The teeth of a list that are settled; the rest become questions. Also what to mark."""
        found: list[int] = []
        whole: set[int] = set()
        apart: set[int] = set()
        mark = self._marked([Item("teeth", teeth.start, teeth.end)])
        spared = self.resolved(teeth.minus, arch, None)[0] if teeth.minus is not None else []
        for one in meant(teeth, arch, self._settled):
            words = self.words(one.ref.start, one.ref.end)
            if one.ref.relative == "around" and one.teeth and self._spaces is not None:
                found, mark = (
                    [*found, *self._spaces.around(one.teeth)],
                    mark or "the teeth before and behind it",
                )
            elif one.ref.relative and one.ref.relative != "around":
                # "all" without an "except", or beside teeth that stand, is said of the teeth that are gone
                literal = teeth.minus is not None and not self.found.standing
                spaces = self._spaces or (_NO_SPACES if literal else None)
                placed = spaces.places(one.ref, arch) if spaces is not None else []
                found, mark = [*found, *placed], mark or PLACED.get(one.ref.relative, "")
            elif one.teeth:
                found += one.teeth
                (whole if one.ref.by_name and len(one.teeth) > 1 else apart).update(one.teeth)
                mark = mark or self._short(one)
                if not self._settled.sure and depends(one.ref):
                    mark = mark or "the numbering is taken from the language"
                if one.ref.guessed and len(one.teeth) > 1:
                    mark = mark or "no side is named: taken for both"
                if one.ref.third or one.ref.way or one.ref.way_too:
                    mark = mark or "third molars left out"
            elif one.both is not None:
                self._ask(arch, self.words(teeth.start, teeth.end), _two_readings(one))
                return found, mark
            elif self._settled.system == "ambiguous" and depends(one.ref):
                self._ask(arch, self.words(teeth.start, teeth.end), one.why)
                return found, mark
            elif one.why == UNSIDED and (own := self._named_already(one.ref, arch)):
                found, mark = [*found, *own], mark or "the only one of its name that the order speaks of"
            elif one.why == UNSIDED and (own := self._beside_a_space(one.ref, arch)):
                found, mark = [*found, *own], mark or "the one tooth of this name beside a space"
            elif one.why == UNSIDED and (own := self._on_the_side(one.ref, arch)):
                found, mark = [*found, *own], mark or "taken for the side of the spaces"
            elif one.why == UNSIDED and (own := self._on_side_before(one.ref, arch)):
                found, mark = [*found, *own], mark or "taken for the side named before"
            else:
                self._ask(arch, words, one.why, ())
                self._note_misplaced(one, arch)
        if apart and apart < whole == set(found):  # "the incisors (31, 41)"
            found, mark = [tooth for tooth in found if tooth in apart], mark or NAMED_APART
        return [tooth for tooth in dict.fromkeys(found) if tooth not in spared], mark

    def _beside_a_space(self, ref: Ref, arch: str | None) -> list[int]:
        """A tooth named without a side, where one of this name stands beside a space."""
        wanted = ref.arch or arch
        if wanted is None or self._spaces is None or len(ref.names) != 1:
            return []
        beside = self._spaces.places(Ref(0, 0, relative="beside", arch=wanted, names=ref.names), wanted)
        return beside if len(beside) == 1 else []

    def _on_the_side(self, ref: Ref, arch: str | None) -> list[int]:
        """A tooth named without a side, where all missing teeth of its arch lie on one side."""
        if self._spaces is None or (ref.arch or arch) is None:
            return []
        missing = self._spaces.missing.get(str(ref.arch or arch), frozenset())
        quadrants = {quadrant(tooth) for tooth in missing}
        if len(quadrants) != 1:
            return []
        return [10 * next(iter(quadrants)) + name for name in ref.names]

    def _named_already(self, ref: Ref, arch: str | None) -> list[int]:
        """The one standing tooth of a name that the order names with its side before."""
        gone = (
            frozenset[int]().union(*self._spaces.missing.values())
            if self._spaces is not None
            else frozenset()
        )
        named = {
            tooth
            for item in self._items
            if item.kind == "teeth" and item.end <= ref.start
            for one in meant(item.value, self.arch_at(item), self._settled)
            for tooth in one.teeth
            if tooth % 10 in ref.names and arch_of(tooth) == (ref.arch or arch) and tooth not in gone
        }
        return sorted(named) if len(named) == 1 and len(ref.names) == 1 else []

    def _on_side_before(self, ref: Ref, arch: str | None) -> list[int]:
        """A tooth named without a side, on the side that its sentence, or the one before, named last."""
        wanted = ref.arch or arch
        ends = 0
        for item in reversed([one for one in self._items if one.end <= ref.start]):
            ends += item.kind in SENTENCE
            if ends > 1 or wanted is None:
                break
            if item.kind == "side" and item.value in ("right", "left"):
                return list(teeth_of(replace(ref, arch=wanted, side=item.value).within(wanted), "iso"))
            if item.kind == "teeth":
                teeth = [
                    tooth
                    for one in meant(item.value, self.arch_at(item), self._settled)
                    for tooth in one.teeth
                ]
                halves = {quadrant(tooth) in (1, 4) for tooth in teeth}
                if len(halves) == 1:
                    side = "right" if halves.pop() else "left"
                    return list(teeth_of(replace(ref, arch=wanted, side=side).within(wanted), "iso"))
        return []

    @staticmethod
    def _short(one: Meant) -> str:
        short = one.ref.short or (one.ref.upto is not None and one.ref.upto.short)
        return f"read as {', '.join(map(str, one.teeth))}" if short else ""

    def _note_misplaced(self, one: Meant, arch: str | None) -> None:
        """A number that would fit if the order did not name the other arch: the arch itself is in question."""
        if arch is None or "arch" not in one.why:
            return
        fits = meant(Teeth([one.ref], [frozenset()]), None, self._settled)[0]
        if fits.teeth:
            self.found.misplaced.add(arch_of(fits.teeth[0]))

    def propose_missing(self, teeth: Sequence[int], words: Words, mark: str) -> None:
        """Teeth to be replaced, from a list of which no word says it."""
        self.found.covered |= {
            index for index, token in enumerate(self._tokens) if words.start <= token.start < words.end
        }
        for group in by_arch(teeth):
            self._propose("missing", group, words, tuple(group), mark, arch_of(group[0]))


def by_arch(teeth: Sequence[int]) -> list[list[int]]:
    """Teeth by arch, each in the order of its arch."""
    groups = [[tooth for tooth in order if tooth in teeth] for order in ARCH_ORDER.values()]
    return [group for group in groups if group]


def _two_readings(one: Meant) -> str:
    assert one.both is not None
    iso, universal = one.both
    return (
        f"ISO 3950: {_said(iso)}; universal system: {_said(universal)}. Which numbering is it?"
        if len(iso) + len(universal) <= 4
        else "the numbers can be read as ISO 3950 or as the universal system. Which is it?"
    )


def _said(teeth: Sequence[int]) -> str:
    return ", ".join(tooth_in_words(tooth) for tooth in teeth)


def label(kind: str, identifier: str) -> str:
    """What the catalogue calls an option."""
    return catalogue.load().option(kind, identifier).label
