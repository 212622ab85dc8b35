"""Missing teeth that an order states without naming them ("only 33 to 43 stand", "both sides free-ending")."""

from collections.abc import Sequence
from dataclasses import replace

from recommender.domain.dentition import arch_of, position, quadrant
from recommender.orders.found import Notes
from recommender.orders.model import IN_SADDLE, Proposal, Words
from recommender.orders.spaces import (
    BEHIND_LAST,
    FREE_END,
    REMAINDER,
    SOME_REPLACED,
    UNNAMED,
    behind,
    clasped,
    left_over,
)

# More teeth than so many that are named nowhere were not meant to be gone.
_FEW, _LAST = 4, 8
NOT_BEYOND = "the order says how far back teeth are replaced"
OVER_ROOT = "an implant or a root with a stud: the denture has a tooth over it"
THIRDS = "third molars beside teeth that follow from those that stand"
MEASURED = "a space there is described: taken for the teeth to be replaced"
# What is only said of teeth that stand.
_STAND = ("prescription.retainers[", "prescription.rests[", "prescription.not.ret", "abutments[")
ALL_REPLACED = "all teeth named are to be replaced"


class UnnamedMissing(Notes):
    """Proposes the missing teeth that follow from what an order says of the others."""

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

    def _listed(self, path: str, arch: str) -> set[int]:
        return {
            tooth
            for place, one in self.found.proposals
            if one.path == path and place == arch
            for tooth in one.value
        }

    def _understand(self, arch: str) -> None:
        found = self.found
        if arch in found.upto:
            self._not_beyond(arch, found.upto[arch])
        missing = self._listed("missing", arch)
        standing = [(teeth, words) for place, teeth, words in found.standing if place == arch]
        rest = any(place in (None, arch) for place, _ in found.rest_missing)
        if rest and not standing and not missing and (held := clasped(found.proposals, arch)):
            words = next(words for place, words in found.rest_missing if place in (None, arch))
            standing = [(set(held), words)]  # "33 and 43 carry a bar, no other tooth is left"
        if standing and missing and all(position(tooth) == _LAST for tooth in missing):
            missing = self._set_apart(arch)
        if standing and (not missing or rest):
            named = set().union(*(teeth for teeth, _ in standing))
            left, last = left_over(arch, named, self._listed("absent", arch)), found.upto.get(arch, _LAST)
            self._state(arch, [tooth for tooth in left if position(tooth) <= last], standing[0][1], REMAINDER)
            beyond = [tooth for tooth in left if position(tooth) > last]
            if beyond:
                found.proposals.append(
                    (arch, Proposal("absent", beyond, standing[0][1], tuple(beyond), NOT_BEYOND))
                )
            return
        if missing and standing:
            self._both_ways(arch, standing)
            self._leave(arch, standing, missing)
        self._replaced_only(arch)
        for place, teeth, words in found.last:
            if place == arch:
                self._state(arch, behind(teeth, missing), words, BEHIND_LAST)
        for where, words in found.free_end:
            if where in (None, arch) and not self._listed("missing", arch):
                held = clasped(found.proposals, arch)
                self._state(arch, behind([held[0], held[-1]] if held else [], missing), words, FREE_END)

    def _measured_spaces(self, arch: str) -> None:
        """``14 and 15: clearance 5 mm, ridge firm``: the teeth of a space that is described are missing, where nothing
        else is said to be, or where they begin a sentence on it."""
        spoken = {tooth for place, one in self.found.proposals if place == arch for tooth in one.teeth
                  if one.path.startswith(_STAND)}  # fmt: skip
        spoken |= self._listed("absent", arch)
        spoken |= set().union(*(teeth for place, teeth, _ in self.found.standing if place == arch))
        known = self._listed("missing", arch) | self._listed("planned_extractions", arch)
        alone = not known
        for teeth, leads, words in self.found.gaps:
            own = {arch_of(tooth) for tooth in teeth} == {arch}
            if own and (alone or leads) and not set(teeth) & (spoken | known):
                self._state(arch, teeth, words, MEASURED)
                known |= set(teeth)

    def _both_ways(self, arch: str, standing: Sequence[tuple[set[int], Words]]) -> None:
        """Asks about single teeth said to be replaced and to stand; roots and teeth yet to be extracted are both."""
        found = self.found.proposals
        both = self._listed("planned_extractions", arch)
        both |= {one.teeth[0] for place, one in found if place == arch and one.value in IN_SADDLE}
        for teeth, words in standing:
            torn = sorted(teeth & self._listed("missing", arch) - both)
            if torn and len(teeth) <= _FEW:
                self._ask(arch, words, "said to be replaced, and to stand: which is it?", tuple(torn))

    def _over_roots(self, arch: str) -> None:
        """Implants and roots that bear a stud, magnet or coping: the denture has a tooth over them."""
        found = self.found.proposals
        kinds = {one.teeth[0] for place, one in found if place == arch and one.value in IN_SADDLE}
        named = self._listed("missing", arch) | self._listed("absent", arch)
        for _, one in [pair for pair in found if pair[0] == arch]:
            studs = one.path.startswith("prescription.retainers[") and one.value == "stud"
            if studs and self._listed("missing", arch) and one.teeth[0] in kinds - named:
                self._state(arch, one.teeth, one.words, OVER_ROOT)

    def _set_apart(self, arch: str) -> set[int]:
        """Third molars said to be gone where the other teeth follow from those that stand: they are not replaced."""
        for at, (place, one) in enumerate(self.found.proposals):
            if one.path == "missing" and place == arch:
                self.found.proposals[at] = (place, replace(one, path="absent", marked=one.marked or THIRDS))
        return set()

    def _not_beyond(self, arch: str, last: int) -> None:
        """``17 to 20 missing, set teeth to the second molars``: what lies further back is not replaced."""
        for at, (place, one) in reversed([*enumerate(self.found.proposals)]):
            if one.path != "missing" or place != arch or all(position(tooth) <= last for tooth in one.value):
                continue
            kept = [tooth for tooth in one.value if position(tooth) <= last]
            left = [tooth for tooth in one.value if position(tooth) > last]
            now = replace(one, value=kept, teeth=tuple(kept), marked=one.marked or NOT_BEYOND)
            self.found.proposals[at : at + 1] = [(place, now)] if kept else []
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
        last = max((one.words.start for _, one in held if one.words in self.found.replaced), default=0)
        held = [
            (at, one) for at, one in held if one.words.start <= last or replaced & set(one.value)
        ]  # "12 and 22 to be replaced, and 15 lost"
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

    def _state(self, arch: str, teeth: Sequence[int], words: Words, mark: str) -> None:
        if teeth:
            listed = list(dict.fromkeys(teeth))
            self.found.proposals.append((arch, Proposal("missing", listed, words, tuple(listed), mark)))
