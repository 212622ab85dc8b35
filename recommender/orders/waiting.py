"""Statements that wait until the missing teeth are known: teeth said by their place, clasps and rests without teeth."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any

from recommender.domain import lexicon as lx
from recommender.domain.dentition import arch_of, position, quadrant
from recommender.orders.found import Notes
from recommender.orders.items import PART, SENTENCE, Item, beside
from recommender.orders.links import Statement
from recommender.orders.lost import replaces
from recommender.orders.model import Proposal, Words
from recommender.orders.refs import UNSIDED, Ref, Teeth
from recommender.orders.sections import ARCHES
from recommender.orders.settle import meant
from recommender.orders.spaces import (
    BEHIND_LAST,
    FREE_END,
    OTHER_SIDE,
    REMAINDER,
    SOME_REPLACED,
    UNNAMED,
    Spaces,
    behind,
    clasped,
    left_over,
)
from recommender.orders.vocabulary import listed

_IN_SADDLE, _ON_ROOTS = ("implant", "root"), ("stud", "double_crown", "attachment")
PLACES_OF_REST = ("toward", "away")
_OF_LOSS = ("missing", "absent", "standing", "extraction", "free_end", "last", "others")
_NAMED = "the teeth named before"
# More teeth than so many that are named nowhere were not meant to be gone.
_FEW, _LAST = 4, 8
# With so many clasped teeth a tooth without metal leaves nothing open.
_CLASPS_ENOUGH = 2
_QUADRANTS = {"right": (1, 4), "left": (2, 3)}
# Words for a clasp that mean other things as well, where no tooth stands beside them ("will ring").
_MEANS_OTHERS_TOO = (
    "ring",
    "anneau",
    "anillo",
    "stud",
    "bola",
    "facing",
    "wire",
    "draht",
    "fil",
    "alambre",
    "carillas",
)
NOT_BEYOND = "the order says how far back teeth are replaced"
ALL_REPLACED = "all teeth named are to be replaced"
STANDING = "those of them that stand, and that the order names"
SAID_BEFORE = "said before with its teeth"
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


def is_group(teeth: Teeth) -> bool:
    """Whether teeth are named by what they are, several at once, on no side ("the molars")."""
    return any(
        ref.by_name and len(ref.names) > 1 and not (ref.upto or ref.quadrant or ref.side in ("right", "left"))
        for ref in teeth.refs
    )


class Waiting(Notes):
    """Gives statements the teeth that they refer to, and takes those that wait when everything else is taken."""

    def __init__(self, *given: Any) -> None:
        super().__init__(*given)
        self._later: list[Statement] = []
        self._sentence = -1
        self._named_before: list[Teeth] = []
        self._named_here: list[Teeth] = []
        self._older: list[Teeth] = []
        self._last: Statement | None = None
        self._held: Statement | None = None
        self._finding: Statement | None = None
        self._of_space: Statement | None = None
        self._before_rest: dict[int, Statement] = {}

    def _handle(self, statement: Statement) -> None:
        raise NotImplementedError

    def _waits(self, statement: Statement) -> bool:
        item = statement.item
        if any(teeth.relative for teeth in statement.teeth):
            gone = item.kind == "role" and item.value == "missing"
            places = {ref.relative for one in statement.teeth for ref in one.refs if ref.relative}
            return not (gone and places <= {"all"})
        if (
            item.kind in CLASPED_KINDS
            and not statement.denied
            and any(is_group(one) for one in statement.teeth)
        ):
            return True
        gone = item.kind == "role" and item.value in (*_OF_LOSS, "smile_end")
        if not gone and any(self._unsided(teeth, self.arch_at(item)) for teeth in statement.teeth):
            return True
        homeless = item.kind in CLASPED_KINDS and not statement.teeth and not statement.denied
        return homeless or (item.kind in ("rest", "site") and item.value in PLACES_OF_REST)

    def _unsided(self, teeth: Teeth, arch: str | None) -> bool:
        return any(one.why == UNSIDED for one in meant(teeth, arch, self._settled))

    def _refer(self, statement: Statement) -> None:
        """Gives a statement without teeth those that were named before it ("clasps on all four")."""
        item = statement.item
        if statement.sentence != self._sentence:
            fresh = statement.sentence != self._sentence + 1
            self._sentence = statement.sentence
            self._older = [] if fresh else list(self._named_before)
            self._named_before, self._named_here = self._older, []
        kept = item.kind in CLASPED_KINDS or item.path.startswith("abutments.")
        kept = kept or (item.kind == "role" and item.value in ("clasp", "rest"))
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
        if item.path == "abutments.kind" and item.value in _IN_SADDLE:
            self._held = statement
        held = self._held
        on_root = item.kind == "retainer" and item.value in _ON_ROOTS and not statement.denied
        if held is not None and held.sentence == statement.sentence and on_root and not statement.teeth:
            statement.teeth, statement.mark = list(held.teeth), _NAMED
        if item.kind in ("retainer", "role", "unsettled"):
            self._last = statement
        self._finding = statement if item.path.startswith("abutments.") else None

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
        denied = statement.denied and statement.item.kind == "role"
        all_of_them = self._them_after(statement.item) or self._begins_with_all(statement.item)
        one_before = not self._named_here and len(self._older) == 1 and len(self._older[0].refs) == 1
        found = statement.item.path.startswith("abutments.")
        of_found = statement.item.kind == "retainer" and not statement.denied and self._of_finding(statement)
        if one_before and (found or of_found) and not self._parted(statement):
            statement.teeth = list(self._older)
        one_of_them = self._one_before(statement.item) if all_of_them else None
        if corrected and before is not None:
            statement.teeth = list(before.teeth)
        elif one_of_them is not None:
            statement.teeth = [one_of_them]
        elif all_of_them or (denied and len(self._named_here) == 1):
            statement.teeth = list(self._named_here or self._older)
        elif denied and one_before and not self._parted(statement):
            statement.teeth = list(self._older)
        if statement.teeth:
            statement.mark = statement.mark or _NAMED

    def _of_finding(self, statement: Statement) -> bool:
        """Whether the statement before says how one tooth is ("35 is root filled; RPI")."""
        before = self._finding
        return (
            before is not None and before.teeth == self._older and before.sentence == statement.sentence - 1
        )

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
            at = place + step
            while 0 <= at < len(self._items) and self._items[at].kind in ("filler", "on", "negation"):
                at += step
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

    def ask_about_earlier(self) -> None:
        """Asks what an earlier order said where this one only refers to it."""
        for item in self._items:
            if item.kind == "earlier":
                self._ask(
                    self.arch_at(item),
                    self.words(item.start, item.end),
                    "an earlier order is meant: which words of it?",
                )

    # when everything else is taken

    def finish(self) -> None:
        """Missing teeth that are stated without being named; then the statements that waited for them."""
        for arch in ARCHES:
            self._replaces_all(arch)
            self._understand(arch)
        missing = {arch: frozenset(self._listed("missing", arch)) for arch in ARCHES}
        self._spaces = Spaces(
            {arch: teeth for arch, teeth in missing.items() if teeth},
            frozenset(tooth for arch in ARCHES for tooth in self._listed("absent", arch)),
            frozenset(one.teeth[0] for _, one in self.found.proposals if one.path.endswith("].tooth")),
        )
        for statement in self._later:
            self._handle(statement)
        self._sides_agree()
        self._without_metal()

    def _replaces_all(self, arch: str) -> None:
        """Teeth yet to be extracted, where an order says that all teeth named are replaced."""
        said = next((item for item in self._items if item.extra.get("all_replaced")), None)
        left = (
            self._listed("planned_extractions", arch)
            - self._listed("missing", arch)
            - self._listed("absent", arch)
        )
        if said is not None and left:
            self.found.covered |= set(range(said.start, said.end))
            self._state(arch, sorted(left), self.words(said.start, said.end), ALL_REPLACED)

    def _without_metal(self) -> None:
        """Asks about teeth beside a space that are to bear no metal, where the order names fewer than two clasps."""
        if self._spaces is None or len(set(clasped(self.found.proposals, None))) >= _CLASPS_ENOUGH:
            return
        for item in self._items:
            if item.kind != "teeth" or not item.extra.get("without_metal"):
                continue
            arch = self.arch_at(item)
            teeth, _ = self.resolved(item.value, arch, item)
            if set(teeth) & set(self._spaces.places(Ref(0, 0, relative="beside", arch=arch), arch)):
                words = self.words(item.start, item.end)
                self._ask(
                    arch,
                    words,
                    "no metal on these teeth: no clasp, or one of another material?",
                    tuple(teeth),
                )

    def _sides_agree(self) -> None:
        """Asks where a side is named by itself on which nothing is said to be missing ("left side free ending")."""
        for at, item in enumerate(self._items):
            if item.kind != "side" or item.value not in _QUADRANTS or not self._speaks_of_loss(at):
                continue
            for arch in ARCHES:
                missing = self._listed("missing", arch)
                if missing and not {quadrant(tooth) for tooth in missing} & set(_QUADRANTS[str(item.value)]):
                    words = self.words(item.start, item.end)
                    self._ask(
                        arch, words, f"nothing is said to be missing on the {item.value}: which side is it?"
                    )
                    self.found.proposals = [
                        (place, replace(one, marked=one.marked or OTHER_SIDE)) if one.teeth else (place, one)
                        for place, one in self.found.proposals
                    ]

    def _speaks_of_loss(self, at: int) -> bool:
        """Whether the part of the sentence in which a side stands speaks of a space and denies nothing."""
        part = list(beside(self._items, at, PART))
        kinds = {one.kind for one in part}
        again = {self._tokens[place].folded for one in part for place in range(one.start, one.end)}
        if any(set(phrase.split()) <= again for phrase in listed("this_time")):
            return True
        lost = any(one.kind == "role" and one.value in ("missing", "free_end") for one in part)
        nothing = any(one.kind == "role" and one.value == "nothing" for one in part)
        return lost and not nothing and not kinds & {"negation", "teeth", "retainer", "connector"}

    def _listed(self, path: str, arch: str) -> set[int]:
        return {
            tooth
            for place, one in self.found.proposals
            if one.path == path and place == arch
            for tooth in one.value
        }

    def _understand(self, arch: str) -> None:
        found, missing = self.found, self._listed("missing", arch)
        standing = [(teeth, words) for place, teeth, words in found.standing if place == arch]
        rest = any(place in (None, arch) for place, _ in found.rest_missing)
        if standing and (not missing or rest):
            named = set().union(*(teeth for teeth, _ in standing))
            left, last = left_over(arch, named, self._listed("absent", arch)), found.upto.get(arch, _LAST)
            self._state(arch, [tooth for tooth in left if position(tooth) <= last], standing[0][1], REMAINDER)
            return
        if arch in found.upto:
            self._not_beyond(arch, found.upto[arch])
        if missing and standing:
            self._leave(arch, standing, missing)
        self._replaced_only(arch)
        for place, teeth, words in found.last:
            if place == arch:
                self._state(arch, behind(teeth, missing), words, BEHIND_LAST)
        for where, words in found.free_end:
            if where in (None, arch) and not self._listed("missing", arch):
                held = clasped(found.proposals, arch)
                self._state(arch, behind([held[0], held[-1]] if held else [], missing), words, FREE_END)

    def _not_beyond(self, arch: str, last: int) -> None:
        """``17 to 20 missing, set teeth to the second molars``: what lies further back is not replaced."""
        for at, (place, one) in enumerate(self.found.proposals):
            if one.path != "missing" or place != arch or all(position(tooth) <= last for tooth in one.value):
                continue
            kept = [tooth for tooth in one.value if position(tooth) <= last]
            left = [tooth for tooth in one.value if position(tooth) > last]
            now = replace(one, value=kept, teeth=tuple(kept), marked=one.marked or NOT_BEYOND)
            self.found.proposals[at] = (place, now)
            self.found.proposals.append((place, Proposal("absent", left, one.words, tuple(left), NOT_BEYOND)))

    def _leave(self, arch: str, standing: Sequence[tuple[set[int], Words]], missing: set[int]) -> None:
        """Where the standing teeth and the replaced ones are both listed, the others are gone and not replaced."""
        named = set().union(*(teeth for teeth, _ in standing)) | missing
        left = left_over(arch, named, self._listed("absent", arch))
        last = {
            side: max((position(tooth) for tooth in named if quadrant(tooth) == side), default=0)
            for side in {quadrant(tooth) for tooth in left}
        }
        if 0 < len(left) <= _FEW and all(position(tooth) > last[quadrant(tooth)] > 0 for tooth in left):
            words = standing[0][1]
            self.found.proposals.append((arch, Proposal("absent", left, words, tuple(left), UNNAMED)))

    def _replaced_only(self, arch: str) -> None:
        """``missing 17-20, replace 18-20``: of the teeth that are gone only those are missing that are replaced."""
        listed = list(enumerate(self.found.proposals))
        held = [(at, one) for at, (place, one) in listed if one.path == "missing" and place == arch]
        replaced = {tooth for _, one in held if one.words in self.found.replaced for tooth in one.value}
        gone = {tooth for _, one in held if one.words not in self.found.replaced for tooth in one.value}
        if replaced <= self._listed("planned_extractions", arch):
            return  # that a tooth yet to be extracted is replaced has to be said: it says nothing of the others
        if not replaced or not replaced < gone:
            return
        for at, one in held:
            left = [tooth for tooth in one.value if tooth not in replaced]
            mark = one.marked or SOME_REPLACED
            if one.words not in self.found.replaced:
                one = Proposal("absent", left, one.words, tuple(left))
            self.found.proposals[at] = (arch, replace(one, marked=mark))
        self.found.proposals = [
            (where, one) for where, one in self.found.proposals if one.value != [] or one.path != "absent"
        ]

    def _standing_of(self, teeth: Sequence[int]) -> list[int]:
        """Of a group of teeth that bears something those that stand, and of these those that the order names."""
        assert self._spaces is not None
        gone = set(self._spaces.absent).union(*self._spaces.missing.values())
        standing = [tooth for tooth in teeth if tooth not in gone]
        named = {
            tooth
            for item in self._items
            if item.kind == "teeth" and not is_group(item.value)
            for one in meant(item.value, self.arch_at(item), self._settled)
            for tooth in one.teeth
        }
        return [tooth for tooth in standing if tooth in named] or standing or list(teeth)

    def _state(self, arch: str, teeth: Sequence[int], words: Words, mark: str) -> None:
        if teeth:
            listed = list(dict.fromkeys(teeth))
            self.found.proposals.append((arch, Proposal("missing", listed, words, tuple(listed), mark)))

    def _of_the_clasped(self, statement: Statement, arch: str | None) -> tuple[list[int], str]:
        """The teeth of a clasp or rest that names none: those of a side, abutments without a clasp, clasped teeth."""
        before = self._before_rest.get(id(statement.item))
        if before is not None:
            found = [tooth for teeth in before.teeth for tooth in self.resolved(teeth, arch, before.item)[0]]
            return found, "taken for the teeth named before"
        if statement.item.kind != "retainer":
            if statement.item.value in ("mesial", "distal", *PLACES_OF_REST) and not statement.item.extra.get(
                "seat"
            ):
                return list(dict.fromkeys(clasped(self.found.proposals, arch))), "taken for the clasped teeth"
            return [], ""
        side = self._side_after(statement.item)
        if side is not None and self._spaces is not None:
            return self._spaces.places(Ref(0, 0, relative="beside", side=side, arch=arch), arch), (
                "the teeth beside the spaces"
            )
        phrase = statement.item.match.meanings[0].phrase.lower() if statement.item.match is not None else ""
        if phrase in _MEANS_OTHERS_TOO:
            return [], SAID_BEFORE
        placed = {
            one.value for _, one in self.found.proposals if one.path.startswith("prescription.retainers[")
        }
        if statement.item.value in placed and self._spaces is not None and not self._spaces.abutments:
            return [], SAID_BEFORE
        others = [
            one
            for one in self._later
            if one.item.kind == "retainer" and not one.teeth and one is not statement
        ]
        if others or self._spaces is None:
            return [], ""
        taken = set(clasped(self.found.proposals, None))
        free = [
            tooth for tooth in sorted(self._spaces.abutments) if tooth not in taken and self._in(tooth, arch)
        ]
        return free, "taken for the teeth said to carry a clasp"

    @staticmethod
    def _in(tooth: int, arch: str | None) -> bool:
        return arch is None or arch_of(tooth) == arch

    def _side_after(self, item: Item) -> str | None:
        at = self._at.get(id(item), len(self._items)) + 1
        while at < len(self._items) and self._items[at].kind in ("filler", "on"):
            at += 1
        side = at < len(self._items) and self._items[at].kind == "side"
        return str(self._items[at].value) if side else None

    def _side_of_rest(self, tooth: int, place: str) -> str | None:
        return self._spaces.side_of_rest(tooth, place == "toward") if self._spaces is not None else None
