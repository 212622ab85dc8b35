"""Statements that wait until the missing teeth are known: teeth said by their place, clasps and rests without teeth."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from recommender.domain.dentition import arch_of, quadrant
from recommender.orders.bars import ATTACHMENT, anchors, joined
from recommender.orders.gap_places import GapPlaces
from recommender.orders.items import PART, Item, beside, past
from recommender.orders.links import Statement
from recommender.orders.referring import CLASPED_KINDS
from recommender.orders.refs import QUADRANTS_OF, UNSIDED, Ref, Teeth, is_group
from recommender.orders.sections import ARCHES
from recommender.orders.settle import meant
from recommender.orders.spaces import OTHER_SIDE, Spaces, clasped
from recommender.orders.unnamed_missing import UnnamedMissing
from recommender.orders.vocabulary import listed

PLACES_OF_REST = ("toward", "away")
_OF_LOSS = ("missing", "absent", "standing", "extraction", "free_end", "last", "others")
# With so many clasped teeth a tooth without metal leaves nothing open.
_CLASPS_ENOUGH = 2
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
    "steg",
    "stege",
    "simple",
    "bar",
    "barre",
    "barra",
)
STANDING = "those of them that stand, and that the order names"
SAID_BEFORE = "said before with its teeth"


class Waiting(GapPlaces, UnnamedMissing):
    """Takes the statements that wait when everything else is taken."""

    def __init__(self, *given: Any) -> None:
        super().__init__(*given)
        self._later: list[Statement] = []

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
        if self._is_of_a_space(statement):
            return True
        homeless = item.kind in CLASPED_KINDS and not statement.teeth and not statement.denied
        return homeless or (item.kind in ("rest", "site") and item.value in PLACES_OF_REST)

    @staticmethod
    def _is_of_a_space(statement: Statement) -> bool:
        """Whether a finding of a space, or a replacement, names no tooth."""
        of_space = statement.item.path.startswith("spans.") or statement.item.kind == "replacement"
        return of_space and not statement.teeth and not statement.denied

    def _unsided(self, teeth: Teeth, arch: str | None) -> bool:
        return any(one.why == UNSIDED for one in meant(teeth, arch, self._settled))

    def ask_about_earlier(self) -> None:
        """Asks what an earlier order said where this one only refers to it."""
        for item in self._items:
            if item.kind == "earlier":
                self._ask(
                    self.arch_at(item),
                    self.words(item.start, item.end),
                    "an earlier order is meant: which words of it?",
                )

    def finish(self) -> None:
        """Missing teeth that are stated without being named; then the statements that waited for them."""
        for arch in ARCHES:
            self._replaces_all(arch)
            self._measured_spaces(arch)
            self._understand(arch)
            self._over_roots(arch)
        missing = {arch: frozenset(self._listed("missing", arch)) for arch in ARCHES}
        self._spaces = Spaces(
            {arch: teeth for arch, teeth in missing.items() if teeth},
            frozenset(tooth for arch in ARCHES for tooth in self._listed("absent", arch)),
            frozenset(one.teeth[0] for _, one in self.found.proposals if one.path.endswith("].tooth")),
        )
        of_spaces = [one for one in self._later if self._is_of_a_space(one)]
        bases = {one.item.value for one in of_spaces if one.item.kind == "replacement"}
        self._place_in_spaces(
            [one for one in of_spaces if len(bases) > 1 or one.item.kind == "fact"], self._spaces.missing
        )
        for statement in self._later:
            self._handle(statement)
        self._sides_agree()
        self._without_metal()

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
            if item.kind != "side" or item.value not in QUADRANTS_OF or not self._speaks_of_loss(at):
                continue
            for arch in ARCHES:
                missing = self._listed("missing", arch)
                if missing and not {quadrant(tooth) for tooth in missing} & set(
                    QUADRANTS_OF[str(item.value)]
                ):
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

    def _teeth_of(self, statement: Statement, arch: str | None) -> tuple[list[int], str]:
        found: list[int] = []
        mark = self._marked(statement.covers) or statement.mark
        for teeth in statement.teeth:
            nothing = statement.item.kind == "role" and statement.item.value == "nothing"
            if teeth.alternative and not (statement.denied or nothing):
                self._ask(arch, self.words(teeth.start, teeth.end), "which of them?")
                continue
            if statement.item.value == ATTACHMENT:
                start = min(statement.item.start, teeth.start)
                teeth = anchors(teeth, joined(self._tokens, start, teeth.end))
            more, also = self.resolved(teeth, arch, statement.item)
            if self._spaces is not None and is_group(teeth) and statement.item.kind in CLASPED_KINDS:
                standing = self._standing_of(more)
                also = also or (STANDING if standing != more else "")
                more = standing
            found, mark = [*found, *more], mark or also
        return list(dict.fromkeys(found)), mark

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
        written = " ".join(token.folded for token in self._tokens[statement.item.start : statement.item.end])
        if phrase in _MEANS_OTHERS_TOO or written in _MEANS_OTHERS_TOO:
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
        at = past(self._items, at, 1, ("filler", "on"))
        side = at < len(self._items) and self._items[at].kind == "side"
        return str(self._items[at].value) if side else None

    def _side_of_rest(self, tooth: int, place: str) -> str | None:
        return self._spaces.side_of_rest(tooth, place == "toward") if self._spaces is not None else None
