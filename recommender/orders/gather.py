"""From statements to proposals and questions, before they are sorted by arch."""

from collections.abc import Callable, Sequence
from functools import cache
from typing import Any

from recommender.domain import lexicon as lx
from recommender.domain.dentition import arch_of
from recommender.orders.denials import denies_back, stands_after
from recommender.orders.found import by_arch, label
from recommender.orders.items import PART, Item, beside
from recommender.orders.links import Statement
from recommender.orders.lost import replaces
from recommender.orders.model import Words
from recommender.orders.sections import ARCHES, arch_of_connector
from recommender.orders.spaces import at_end, clasped
from recommender.orders.vocabulary import as_written
from recommender.orders.waiting import (
    CLASPED_KINDS,
    PLACES_OF_REST,
    SAID_BEFORE,
    STANDING,
    Waiting,
    is_group,
)

_LISTS = {
    "missing": "missing",
    "free_end": "missing",
    "absent": "absent",
    "extraction": "planned_extractions",
    "doubtful": "future_loss_likely",
}
# Fields of an abutment that hold a list.
_LISTED = ("rest_seats", "guiding_planes")
# Two rests that have one name, as the places of their seats.
_SIDES_OF = {"mesial_distal": ["mesial", "distal"]}
_LAST_POSITION = 8
_NEAR_LETTERS = 30
# Connectors named by their form alone, by arch (common practice, no source).
_BARE = {
    ("bar", "mandible"): "lingual_bar",
    ("plate", "mandible"): "linguoplate",
    ("bar", "maxilla"): "palatal_bar",
    ("band", "maxilla"): "palatal_strap",
}
_BY_FORM = "the connector of this form in this arch"
NOT_REPLACED = "read as: not replaced"
ENDS = "in front and behind: the two teeth beside the space"
NAMED_BEFORE = "taken for the tooth named before it"
ADDRESSED = "may be whom the order addresses"
SEATS = "taken for the rests named before"
_TORUS, _SEX = "palate.torus", "patient.sex"
_OPPOSING = "occlusion.opposing"
_WISH = "patient.aesthetic_priority"
_ARCH_OF_FIELD = {"palate": "maxilla", "floor": "mandible"}


@cache
def _denials() -> dict[tuple[str, str], Any]:
    document = lx.document("findings")["denied"]
    return {(path, str(value)): said for path, values in document.items() for value, said in values.items()}


def when_denied(path: str, value: Any) -> Any:
    """What a field holds when a value of it is denied ("no bruxism": a normal load); ``None`` if that says nothing."""
    return False if value is True else _denials().get((path, str(value)))


class Gatherer(Waiting):
    """Works through the statements of one order."""

    def __init__(self, *given: Any) -> None:
        super().__init__(*given)
        self._replacing = -1
        self._seats: list[Statement] = []
        self._rests: list[tuple[int, int, str]] = []

    def take(self, statement: Statement) -> None:
        """One statement into proposals or questions; what it does not cover stays unread."""
        self._refer(statement)
        if self._waits(statement):
            self._later.append(statement)
        else:
            self._handle(statement)

    def _handle(self, statement: Statement) -> None:
        item = statement.item
        arch = self.arch_at(item) if item.kind != "alloy" or self._placed(item) else None
        if statement.doubt and not (statement.denied and statement.doubt == "one or the other?"):
            self._ask(arch, self._span(statement), statement.doubt)
            return
        if item.kind == "bare":
            self._bare(statement, arch)
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
            nothing = statement.item.kind == "role" and statement.item.value == "nothing"
            if teeth.alternative and not (statement.denied or nothing):
                self._ask(arch, self.words(teeth.start, teeth.end), "which of them?")
                continue
            more, also = self.resolved(teeth, arch, statement.item)
            if self._spaces is not None and is_group(teeth) and statement.item.kind in CLASPED_KINDS:
                standing = self._standing_of(more)
                also = also or (STANDING if standing != more else "")
                more = standing
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
                if kind == "alloy" and any(
                    one.kind == kind and one.value in choice.split("|") for one in self._items
                ):
                    return  # "Ti frame (titanium grade 4)"
                self._ask(
                    arch, words, "which: " + " or ".join(label(kind, one) for one in choice.split("|")) + "?"
                )
        elif item.kind == "connector":
            self._cover(statement)
            own = arch_of_connector(value)
            if own is not None and arch is not None and own != arch:
                self._ask(
                    arch, words, f"{label('connector', value)} is no connector of the {_arch(arch)} arch"
                )
            elif statement.denied:
                self._propose("prescription.not.connector", [value], words, (), mark, own or arch)
            else:
                self._propose("prescription.connector", value, words, (), mark, own or arch)
        elif not statement.denied:
            self._cover(statement)
            self._propose("prescription.alloy", value, words, (), mark, arch)

    def _bare(self, statement: Statement, arch: str | None) -> None:
        """A connector by its form alone ("no bar"): which one it is lies with the arch."""
        value = _BARE.get((str(statement.item.value), arch or ""))
        if value is None:
            return
        self._cover(statement)
        words = self._span(statement)
        if statement.denied:
            self._propose("prescription.not.connector", [value], words, (), _BY_FORM, arch)
        else:
            self._propose("prescription.connector", value, words, (), _BY_FORM, arch)

    def _role(self, statement: Statement, arch: str | None) -> None:
        role = str(statement.item.value)
        if role == "rest" and statement.denied and statement.teeth:
            teeth, mark = self._teeth_of(statement, arch)
            self._cover(statement)
            self._each("prescription.rests[{}]", "none", teeth, self._span(statement), mark)
            return
        if role == "rest_seat" and statement.item.extra.get("refers") and not statement.denied:
            self._seats.append(statement)
        if role in ("visible", "indirect", "rest", "rest_seat", "planes"):
            return
        if role in ("missing", "others") and (last := self._last_place(statement)):
            for one in ARCHES if arch is None else (arch,):
                self.found.upto[one] = max(self.found.upto.get(one, 0), last)
            self._cover(statement)
            if role == "others":
                self.found.rest_missing.append((arch, self._span(statement)))
            return
        if role == "smile_end" and any(self._unsided(one, arch) for one in statement.teeth):
            return
        teeth, mark = self._teeth_of(statement, arch)
        words = self._span(statement)
        if role == "clasp":
            self._clasp(statement, arch, teeth, mark)
            return
        if role == "free_end" and not statement.teeth:
            self._cover(statement)
            self.found.free_end.append((arch, words))
            return
        if role == "others":
            self._cover(statement)
            self._up_to(statement, teeth, arch)
            self.found.rest_missing.append((arch, words))
            return
        if not statement.teeth:
            return
        self._cover(statement)
        if statement.denied and role == "missing" and replaces(statement.item):
            for group in by_arch(teeth):
                self._propose(
                    "absent", group, words, tuple(group), mark or "not to be replaced", arch_of(group[0])
                )
            return
        if statement.denied and role != "nothing":
            self._ask(arch, words, "said of these teeth, or not?")
            return
        if not teeth:
            return
        if role == "missing" and self._up_to(statement, teeth, arch):
            return
        if role in _LISTS:
            if role == "absent" and statement.item.extra.get("excepted"):
                mark = mark or NOT_REPLACED
            if replaces(statement.item):
                self._replacing = statement.sentence
                self.found.replaced.append(words)
            for group in by_arch(teeth):
                self._propose(_LISTS[role], group, words, tuple(group), mark, arch_of(group[0]))
        elif role == "unformed":  # a wisdom tooth that never formed is hardly ever replaced
            for path, wanted in (("absent", True), ("missing", False)):
                for group in by_arch([one for one in teeth if (one % 10 == _LAST_POSITION) == wanted]):
                    self._propose(path, group, words, tuple(group), mark, arch_of(group[0]))
        elif role == "last":
            for group in by_arch(teeth):
                self.found.last.append((arch_of(group[0]), group, words))
        elif role == "standing":
            for group in by_arch(teeth):
                self.found.standing.append((arch_of(group[0]), set(group), words))
        elif role == "smile_end":
            self._smile(statement, teeth, mark)
        elif role == "no_preparation":
            self._each("abutments[{}].preparable", False, teeth, words, mark)
        elif (
            role == "nothing"
            and statement.item.extra.get("guessed")
            and self._replacing == statement.sentence
        ):
            for group in by_arch(teeth):  # "35 to 37 are replaced, 38 not"
                self._propose("absent", group, words, tuple(group), NOT_REPLACED, arch_of(group[0]))
        elif role == "nothing":
            mark = mark or (
                "read as: no clasp" if statement.denied or self._denied_before(statement.item) else ""
            )
            self._each("prescription.not.retainers[{}]", ["any"], teeth, words, mark)

    def _last_place(self, statement: Statement) -> int:
        """How far back teeth are replaced, where a bare digit says it ("replace up to 6"); 0 where none does."""
        refs = [ref for one in statement.teeth if one.upto for ref in one.refs]
        if len(refs) == 1 and refs[0].by_name and len(refs[0].names) == 1 and refs[0].side != "both":
            return 0 if refs[0].side or refs[0].quadrant else refs[0].names[0]
        if len(refs) != 1 or self._settled.system == "universal" or not refs[0].is_digit:
            return 0
        return int(refs[0].number or 0)

    def _up_to(self, statement: Statement, teeth: Sequence[int], arch: str | None) -> bool:
        """Keeps how far back an arch is replaced, where a statement only says that ("replace up to the 6s")."""
        if not any(one.upto for one in statement.teeth):
            return False
        for tooth in teeth:
            known = self.found.upto.get(arch_of(tooth), 0)
            self.found.upto[arch_of(tooth)] = max(known, tooth % 10)
        return True

    def _smile(self, statement: Statement, teeth: Sequence[int], mark: str) -> None:
        """The last tooth that the smile shows; of teeth on both sides none is taken alone."""
        if len(teeth) == 1:
            self._cover(statement)
            words = self._span(statement)
            self._propose("patient.last_tooth_in_smile", teeth[0], words, (), mark, arch_of(teeth[0]))

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
            elif not statement.teeth and not self._already_ruled_out(statement):
                if teeth := self._teeth_before(statement.item):
                    self._cover(statement)
                    self._each("prescription.not.retainers[{}]", ["any"], teeth, words, NAMED_BEFORE)
                elif not clasped(self.found.proposals, arch):
                    self._ask(arch, words, "no clasp on any tooth?")
            return
        if teeth:
            self._each("abutments[{}].tooth", None, teeth, words, mark)

    def _teeth_before(self, item: Item) -> list[int]:
        """The teeth named last before an item in its sentence."""
        for at in range(self._at[id(item)] - 1, -1, -1):
            before = self._items[at]
            if before.kind in ("hard", "stop", "line"):
                break
            if before.kind == "teeth":
                return self.resolved(before.value, self.arch_at(before), item)[0]
        return []

    def _denied_before(self, item: Item) -> bool:
        """Whether a negation stands before an item in its part of the sentence ("no lo apoyen en nada")."""
        at = self._at[id(item)] - 1
        while at >= 0 and self._items[at].kind not in ("comma", "hard", "stop", "line"):
            if self._items[at].kind == "negation":
                return True
            at -= 1
        return False

    def _already_ruled_out(self, statement: Statement) -> bool:
        """Whether "no clasps" only repeats what was just ruled out ("nothing on 13, 23 - no clasps")."""
        start = self._tokens[statement.item.start].start
        return any(
            one.path.startswith("prescription.not.retainers[") and 0 <= start - one.words.end <= _NEAR_LETTERS
            for _, one in self.found.proposals
        )

    def _seen_beside(self, statement: Statement) -> bool:
        """Whether the same part of the sentence speaks of what shows ("no visible clasp")."""
        part = beside(self._items, self._at[id(statement.item)], PART)
        return any(one.kind == "role" and one.value == "visible" for one in part)

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
            elif kind == "replacement":
                self._cover(statement)
                self.found.bases.append((arch, str(item.value), words))
            else:
                self._cover(statement)
                self._ask(arch, words, f"{label(kind, str(item.value))}: on which tooth?")
            return
        if any(one.relative for one in statement.teeth) and not teeth:
            self._cover(statement)
            named = "" if kind == "rest" else f"{label(kind, str(item.value))}: "
            self._ask(arch, words, f"{named}on which tooth?")
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
                    self._each("prescription.retainers[{}]", "rest_only", [tooth], words, mark)

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

    def _only_beside(self, statement: Statement) -> bool:
        """Whether "only" stands right beside a rest ("nur Cingulumauflage", "cingulum rest only")."""
        at = self._at.get(id(statement.item))
        if at is None:
            return False
        for step in (-1, 1):
            place = at + step
            while 0 <= place < len(self._items) and self._items[place].kind in ("filler", "mark"):
                place += step
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
        self._ask(arch, self._span(statement), f"which: {which}?")

    def _abutments(self, statement: Statement, arch: str | None) -> None:
        teeth, mark = self._teeth_of(statement, arch)
        if teeth and not statement.denied:
            self._cover(statement)
            self._each("abutments[{}].tooth", None, teeth, self._span(statement), mark)

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
            if teeth:
                self._propose(
                    f"spans[{teeth[0]}].{name}", stated, words, tuple(teeth), mark, arch_of(teeth[0])
                )
            elif not statement.teeth:
                self._propose(f"spans[].{name}", stated, words, (), mark, arch)

    def _each(self, path: str, value: Any, teeth: Sequence[int], words: Words, mark: str) -> None:
        for tooth in teeth:
            self._propose(path.format(tooth), value, words, (tooth,), mark, arch_of(tooth))

    # facts of the patient and the arch

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
            denied = self._denied(index) if not item.extra.get("understood") else None
            if denied is not None:
                value = when_denied(item.path, value)
                if value is None:
                    continue
                self.found.covered |= set(range(denied.start, denied.end))
            if item.path == "patient.allergy":
                value = [] if value == "none" else value.split() if isinstance(value, str) else value
            if item.path != _WISH or not item.extra.get("understood"):  # a wish stays in the note too
                self.found.covered |= set(range(item.start, item.end))
            mark = self._marked([item])
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

    def _denied(self, index: int) -> Item | None:
        for step in (-1, 1):
            at = index + step
            while 0 <= at < len(self._items) and (
                self._items[at].kind in ("filler", "mark")
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


def _arch(arch: str) -> str:
    return "upper" if arch == "maxilla" else "lower"
