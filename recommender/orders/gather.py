"""From statements to proposals and questions, before they are sorted by arch."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

from recommender.domain import catalogue
from recommender.domain.dentition import ARCH_ORDER, arch_of
from recommender.orders.items import Item
from recommender.orders.links import Statement
from recommender.orders.model import Proposal, Question, Words, tooth_in_words
from recommender.orders.refs import Teeth
from recommender.orders.sections import arch_of_connector
from recommender.orders.settle import Meant, Settled, depends, meant
from recommender.orders.text import Token

_LISTS = {
    "missing": "missing",
    "absent": "absent",
    "extraction": "planned_extractions",
    "doubtful": "future_loss_likely",
}
# Fields of an abutment that hold a list.
_LISTED = ("rest_seats", "guiding_planes")
_ARCH_OF_FIELD = {"palate": "maxilla", "floor": "mandible"}


@dataclass
class Found:
    """Everything gathered. ``arch`` beside each is ``None`` where it holds for every arch of the order."""

    proposals: list[tuple[str | None, Proposal]] = field(default_factory=list)
    questions: list[tuple[str | None, Question]] = field(default_factory=list)
    standing: list[tuple[str, set[int], Words]] = field(default_factory=list)
    everywhere: list[tuple[str | None, str, Words]] = field(default_factory=list)
    bases: list[tuple[str | None, str, Words]] = field(default_factory=list)
    covered: set[int] = field(default_factory=set)
    misplaced: set[str] = field(default_factory=set)


class Gatherer:
    """Works through the statements of one order."""

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
        self.found = Found()

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

    def _placed(self, item: Item) -> bool:
        """Whether the sentence of an item itself names an arch, a connector or teeth."""
        at = self._at[id(item)]
        for step in (-1, 1):
            place = at + step
            while 0 <= place < len(self._items) and self._items[place].kind not in ("hard", "stop", "line"):
                if self._items[place].kind in ("arch", "teeth", "connector"):
                    return True
                place += step
        return False

    def _marked(self, items: Sequence[Item]) -> str:
        for item in items:
            for token in self._tokens[item.start : item.end]:
                if token.meant:
                    return f'"{token.text}" read as "{token.meant}"'
        return ""

    def _cover(self, statement: Statement) -> None:
        for item in (*statement.covers, *statement.heads):
            self.found.covered |= set(range(item.start, item.end))
        for teeth in statement.teeth:
            self.found.covered |= set(range(teeth.start, teeth.end))

    def _ask(self, arch: str | None, words: Words, why: str, teeth: tuple[int, ...] = ()) -> None:
        question = Question(words, why, teeth)
        if not any(known == question for _, known in self.found.questions):
            self.found.questions.append((arch, question))

    def _propose(
        self, path: str, value: Any, words: Words, teeth: tuple[int, ...], marked: str, arch: str | None
    ) -> None:
        self.found.proposals.append((arch, Proposal(path, value, words, teeth, marked)))

    # teeth

    def resolved(self, teeth: Teeth, arch: str | None, item: Item | None) -> tuple[list[int], str]:
        """The teeth of a list that are settled; the rest become questions. Also what to mark."""
        found: list[int] = []
        mark = self._marked([Item("teeth", teeth.start, teeth.end)])
        for one in meant(teeth, arch, self._settled):
            words = self.words(one.ref.start, one.ref.end)
            if one.teeth:
                found += one.teeth
                mark = mark or self._short(one)
                if one.ref.third or one.ref.way:
                    mark = mark or "third molars left out"
            elif one.both is not None:
                self._ask(arch, self.words(teeth.start, teeth.end), _two_readings(one))
                return found, mark
            elif self._settled.system == "ambiguous" and depends(one.ref):
                self._ask(arch, self.words(teeth.start, teeth.end), one.why)
                return found, mark
            else:
                self._ask(arch, words, one.why, ())
                self._note_misplaced(one, arch)
        return list(dict.fromkeys(found)), mark

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
        for group in _by_arch(teeth):
            self._propose("missing", group, words, tuple(group), mark, arch_of(group[0]))

    # statements

    def take(self, statement: Statement) -> None:
        """One statement into proposals or questions; what it does not cover stays unread."""
        item = statement.item
        arch = self.arch_at(item) if item.kind != "alloy" or self._placed(item) else None
        if statement.doubt and not (statement.denied and statement.doubt == "one or the other?"):
            self._ask(arch, self._span(statement), statement.doubt)
            return
        if item.kind in ("connector", "alloy", "unsettled") and not statement.teeth:
            self._alone(statement, arch)
            return
        if item.kind == "alloy" or item.kind == "connector":
            self._alone(statement, arch)
            return
        handlers: dict[str, Callable[[Statement, str | None], None]] = {
            "role": self._role,
            "retainer": self._option,
            "rest": self._option,
            "site": self._option,
            "replacement": self._option,
            "unsettled": self._unsettled,
            "fact": self._fact,
            "heading": self._abutments,
        }
        handlers[item.kind](statement, arch)

    def _teeth_of(self, statement: Statement, arch: str | None) -> tuple[list[int], str]:
        found: list[int] = []
        mark = self._marked(statement.covers) or statement.mark
        for teeth in statement.teeth:
            if teeth.alternative and not statement.denied:
                self._ask(arch, self.words(teeth.start, teeth.end), "which of them?")
                continue
            more, also = self.resolved(teeth, arch, statement.item)
            found, mark = [*found, *more], mark or also
        return list(dict.fromkeys(found)), mark

    def _alone(self, statement: Statement, arch: str | None) -> None:
        item, words = statement.item, self._span(statement)
        value = str(item.value)
        mark = self._marked(statement.covers)
        if item.kind == "unsettled":
            if not statement.denied:
                kind, _, choice = value.partition(":")
                self._cover(statement)
                self._ask(
                    arch, words, "which: " + " or ".join(_label(kind, one) for one in choice.split("|")) + "?"
                )
        elif item.kind == "connector":
            self._cover(statement)
            own = arch_of_connector(value)
            if own is not None and arch is not None and own != arch:
                self._ask(
                    arch, words, f"{_label('connector', value)} is no connector of the {_arch(arch)} arch"
                )
            elif statement.denied:
                self._propose("prescription.not.connector", [value], words, (), mark, own or arch)
            else:
                self._propose("prescription.connector", value, words, (), mark, own or arch)
        elif not statement.denied:
            self._cover(statement)
            self._propose("prescription.alloy", value, words, (), mark, arch)

    def _role(self, statement: Statement, arch: str | None) -> None:
        role = str(statement.item.value)
        if role in ("visible", "indirect", "rest", "rest_seat"):
            return
        teeth, mark = self._teeth_of(statement, arch)
        words = self._span(statement)
        if role == "clasp":
            self._clasp(statement, arch, teeth, mark)
            return
        if not statement.teeth:
            return
        self._cover(statement)
        if statement.denied and role != "nothing":
            self._ask(arch, words, "said of these teeth, or not?")
            return
        if not teeth:
            return
        if role in _LISTS:
            for group in _by_arch(teeth):
                self._propose(_LISTS[role], group, words, tuple(group), mark, arch_of(group[0]))
        elif role == "standing":
            for group in _by_arch(teeth):
                self.found.standing.append((arch_of(group[0]), set(group), words))
        elif role == "no_preparation":
            self._each("abutments[{}].preparable", False, teeth, words, mark)
        elif role == "nothing":
            self._each("prescription.not.retainers[{}]", ["any"], teeth, words, mark)

    def _clasp(self, statement: Statement, arch: str | None, teeth: list[int], mark: str) -> None:
        """A clasp of no stated kind: the tooth carries one (or none, where denied); the words stay for the note."""
        words = self._span(statement)
        seen = self._seen_beside(statement)
        if statement.denied:
            if seen:
                if statement.teeth:
                    self._ask(arch, words, "no clasp at all on these teeth, or none that shows?")
            elif teeth:
                self._cover(statement)
                self._each("prescription.not.retainers[{}]", ["any"], teeth, words, mark)
            elif not statement.teeth:
                self._ask(arch, words, "no clasp on any tooth?")
            return
        if teeth:
            self._each("abutments[{}].tooth", None, teeth, words, mark)

    def _seen_beside(self, statement: Statement) -> bool:
        """Whether the same part of the sentence speaks of what shows ("no visible clasp")."""
        at = self._at[id(statement.item)]
        for step in (-1, 1):
            place = at + step
            while 0 <= place < len(self._items) and self._items[place].kind not in (
                "comma",
                "hard",
                "stop",
                "line",
            ):
                if self._items[place].kind == "role" and self._items[place].value == "visible":
                    return True
                place += step
        return False

    def _option(self, statement: Statement, arch: str | None) -> None:
        item = statement.item
        kind = "rest" if item.kind == "site" else item.kind
        path = {"retainer": "retainers", "rest": "rests", "replacement": "replacements"}[kind]
        teeth, mark = self._teeth_of(statement, arch)
        words = self._span(statement)
        if statement.denied and kind == "rest":
            return
        if not statement.teeth:
            if kind == "rest":
                return
            if statement.denied:
                self._cover(statement)
                self.found.everywhere.append((arch, f"{path}:{item.value}", words))
            elif kind == "replacement":
                self._cover(statement)
                self.found.bases.append((arch, str(item.value), words))
            else:
                self._cover(statement)
                self._ask(arch, words, f"{_label(kind, str(item.value))}: on which tooth?")
            return
        self._cover(statement)
        if item.extra.get("seat"):
            if not statement.denied:
                self._each("abutments[{}].rest_seats", [str(item.value)], teeth, words, mark)
        elif statement.denied:
            self._each(f"prescription.not.{path}[{{}}]", [str(item.value)], teeth, words, mark)
        else:
            self._each(f"prescription.{path}[{{}}]", str(item.value), teeth, words, mark)

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
        which = " or ".join(_label(kind, one) for one in choice.split("|"))
        self._ask(arch, self._span(statement), f"which: {which}?")

    def _abutments(self, statement: Statement, arch: str | None) -> None:
        teeth, mark = self._teeth_of(statement, arch)
        if teeth and not statement.denied:
            self._cover(statement)
            self._each("abutments[{}].tooth", None, teeth, self._span(statement), mark)

    def _fact(self, statement: Statement, arch: str | None) -> None:
        item = statement.item
        if statement.denied:
            return
        teeth, mark = self._teeth_of(statement, arch)
        room, _, name = item.path.partition(".")
        words = self._span(statement)
        if room == "abutments" and teeth:
            self._cover(statement)
            value = [item.value] if name in _LISTED else item.value
            self._each(f"abutments[{{}}].{name}", value, teeth, words, mark)
        elif room == "spans":
            self._cover(statement)
            if teeth:
                self._propose(
                    f"spans[{teeth[0]}].{name}", item.value, words, tuple(teeth), mark, arch_of(teeth[0])
                )
            elif not statement.teeth:
                self._propose(f"spans[].{name}", item.value, words, (), mark, arch)

    def _each(self, path: str, value: Any, teeth: Sequence[int], words: Words, mark: str) -> None:
        for tooth in teeth:
            self._propose(path.format(tooth), value, words, (tooth,), mark, arch_of(tooth))

    # facts of the patient and the arch

    def take_facts(self) -> None:
        """Findings that are said of no tooth."""
        for index, item in enumerate(self._items):
            if item.kind != "fact" or item.path.startswith(("abutments.", "spans.")):
                continue
            room = item.path.split(".", 1)[0]
            arch = _ARCH_OF_FIELD.get(room) or (None if room == "patient" else self.arch_at(item))
            if item.path == "patient.smile_line":
                arch = "maxilla" if self.arch_at(item) is None else self.arch_at(item)
            value: Any = {"true": True, "false": False}.get(str(item.value), item.value)
            denied = self._denied(index)
            if denied is not None:
                if value is not True:
                    continue
                value = False
                self.found.covered |= set(range(denied.start, denied.end))
            if item.path == "patient.allergy":
                value = [] if value == "none" else [value] if isinstance(value, str) else value
            self.found.covered |= set(range(item.start, item.end))
            mark = self._marked([item])
            words = self.words(denied.start if denied else item.start, item.end)
            self._propose(item.path, value, words, (), mark, arch)

    def _denied(self, index: int) -> Item | None:
        at = index - 1
        while at >= 0 and self._items[at].kind in ("filler",):
            at -= 1
        return self._items[at] if at >= 0 and self._items[at].kind == "negation" else None


def _by_arch(teeth: Sequence[int]) -> list[list[int]]:
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


def _label(kind: str, identifier: str) -> str:
    return catalogue.load().option(kind, identifier).label


def _arch(arch: str) -> str:
    return "upper" if arch == "maxilla" else "lower"
