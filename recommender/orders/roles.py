"""What an order says of teeth in plain words: gone, standing, not replaced, clasped, free of clasps."""

from collections.abc import Sequence
from typing import Any

from recommender.domain.dentition import arch_of
from recommender.orders.denials import stands_after
from recommender.orders.found import by_arch
from recommender.orders.items import PART, SENTENCE, Item, beside, words_in
from recommender.orders.links import Statement
from recommender.orders.lost import replaces
from recommender.orders.options import Options
from recommender.orders.refs import LAST_POSITION
from recommender.orders.sections import ARCHES
from recommender.orders.spaces import clasped
from recommender.orders.vocabulary import listed

_LISTS = {
    "missing": "missing",
    "free_end": "missing",
    "absent": "absent",
    "extraction": "planned_extractions",
    "doubtful": "future_loss_likely",
}
_NEAR_LETTERS = 30
NOT_REPLACED = "read as: not replaced"
NO_CLASP = "read as: no clasp"
NOT_TOUCHED = "read as: not to be prepared"
NAMED_BEFORE = "taken for the tooth named before it"


class Roles(Options):
    """Takes statements that say what becomes of teeth; seats said of rests named before are kept for ``take_seats``."""

    def __init__(self, *given: Any) -> None:
        super().__init__(*given)
        self._replacing = -1

    def _role(self, statement: Statement, arch: str | None) -> None:
        role = str(statement.item.value)
        if role == "rest" and statement.denied and statement.teeth:
            teeth, mark = self._teeth_of(statement, arch)
            self._cover(statement)
            self._each("prescription.rests[{}]", "none", teeth, self._span(statement), mark)
            return
        if role == "rest_seat" and statement.item.extra.get("refers") and not statement.denied:
            self._seats.append(statement)
        if role == "rest" and statement.teeth:
            self._on_seats.append(statement)
        if role in ("visible", "indirect", "rest", "rest_seat", "planes"):
            return
        if role in ("missing", "others", "free_end") and (last := self._last_place(statement)):
            for one in ARCHES if arch is None else (arch,):
                self.found.upto[one] = max(self.found.upto.get(one, 0), last)
            self._cover(statement)
            self._replacing = statement.sentence
            if role == "others":
                self.found.rest_missing.append((arch, self._span(statement)))
            if role == "free_end":
                self.found.free_end.append((arch, self._span(statement)))
            return
        if role == "smile_end" and any(self._unsided(one, arch) for one in statement.teeth):
            return
        if role == "absent" and self._stays(statement.item):
            role = "standing"
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
        unwanted = statement.denied and len(statement.covers) > 1 and stands_after(statement.covers[-1])
        if statement.denied and role == "missing" and (replaces(statement.item) or unwanted):
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
        if role in ("missing", "free_end") and self._up_to(statement, teeth, arch):
            self._replacing = statement.sentence
            if role == "free_end":
                self.found.free_end.append((arch, words))
            more = [one for one in statement.teeth if not one.upto]
            teeth = [tooth for one in more for tooth in self.resolved(one, arch, statement.item)[0]]
            if not teeth:
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
                for group in by_arch([one for one in teeth if (one % 10 == LAST_POSITION) == wanted]):
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
            self._each("abutments[{}].preparable", False, teeth, words, mark or NOT_TOUCHED)
        elif (
            role == "nothing"
            and (statement.item.extra.get("guessed") or all(one % 10 == LAST_POSITION for one in teeth))
            and self._goes_on_replacing(statement, teeth)
        ) or (role == "nothing" and self._of_replacing(statement.item, teeth)):
            self._cover(statement)
            for group in by_arch(teeth):  # "35 to 37 are replaced, 38 not"
                self._propose("absent", group, words, tuple(group), NOT_REPLACED, arch_of(group[0]))
        elif role == "nothing":
            # "nothing", "free", "untouched" seldom say of what; a ban that was not meant is as wrong as one missed
            self._each("prescription.not.retainers[{}]", ["any"], teeth, words, mark or NO_CLASP)

    def _goes_on_replacing(self, statement: Statement, teeth: Sequence[int]) -> bool:
        """Whether a statement stands in a sentence on replacing, or a bare "not" of third molars right after one."""
        thirds = bool(statement.item.extra.get("guessed")) and all(one % 10 == LAST_POSITION for one in teeth)
        return self._replacing == statement.sentence or (thirds and self._replacing == statement.sentence - 1)

    def _of_replacing(self, item: Item, teeth: Sequence[int]) -> bool:
        """Whether "none" said of third molars means teeth: in a sentence on replacing ("none for the 8s")."""
        at = self._at.get(id(item))
        if at is None:
            return False
        around = beside(self._items, at, SENTENCE)
        kinds = {one.value if one.kind == "role" else one.kind for one in around}
        thirds = all(one % 10 == LAST_POSITION for one in teeth)
        return thirds and "missing" in kinds and not kinds & {"retainer", "clasp", "unsettled", "rest"}

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
        last = [one for one in statement.teeth if one.upto]
        if len(last) < len(statement.teeth):  # "all behind the canines, up to the second molars"
            teeth = [tooth for one in last for tooth in self.resolved(one, arch, statement.item)[0]]
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
                elif not clasped(self.found.proposals, arch) and not self._further(statement.item):
                    self._ask(arch, words, "no clasp on any tooth?")
            return
        if teeth:
            self._each("abutments[{}].tooth", None, teeth, words, mark)

    def _stays(self, item: Item) -> bool:
        """Whether teeth that no word of the sentence says to be gone stay as they are ("restent telles quelles")."""
        around = beside(self._items, self._at[id(item)], SENTENCE)
        gone = any(one.kind == "role" and one.value in _LISTS for one in around)
        return not gone and bool(words_in(item, self._tokens) & listed("stays_so"))

    def _further(self, item: Item) -> bool:
        """Whether only more than what the order names is denied ("no further clasps", "sonst keine Klammern")."""
        at = self._at[id(item)]
        part = (item, *beside(self._items, at, PART))
        return any(words_in(one, self._tokens) & listed("further") for one in part)

    def _teeth_before(self, item: Item) -> list[int]:
        """The teeth named last before an item in its sentence."""
        for at in range(self._at[id(item)] - 1, -1, -1):
            before = self._items[at]
            if before.kind in SENTENCE:
                break
            if before.kind == "teeth":
                return self.resolved(before.value, self.arch_at(before), item)[0]
        return []

    def _already_ruled_out(self, statement: Statement) -> bool:
        """Whether "no clasps" only repeats what was just ruled out ("nothing on 13, 23 - no clasps")."""
        start = self._tokens[statement.item.start].start
        return any(
            one.path.startswith("prescription.not.retainers[") and 0 <= start - one.words.end <= _NEAR_LETTERS
            for _, one in self.found.proposals
        )

    def _seen_beside(self, statement: Statement) -> bool:
        """Whether the same part of the sentence speaks of what shows ("no visible clasp")."""
        part = list(beside(self._items, self._at[id(statement.item)], PART))
        seen = [one for one in part if one.kind == "role" and one.value == "visible"]
        return bool(seen) and not all(self._bracketed(one) for one in seen)

    def _bracketed(self, item: Item) -> bool:
        """Whether an item only gives a reason in brackets ("no clasp (she wants no metal showing)")."""
        at = self._at[id(item)] - 1
        while at >= 0 and self._items[at].kind not in (*SENTENCE, "open", "close"):
            at -= 1
        return at >= 0 and self._items[at].kind == "open"
