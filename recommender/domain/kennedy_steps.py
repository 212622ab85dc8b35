"""The classification in words: which of Applegate's rules decided each step, and what is left to ask."""

from collections.abc import Iterable, Sequence

from recommender.domain.case import Case
from recommender.domain.dentition import in_arch_order, position
from recommender.domain.kennedy import (
    Question,
    Space,
    Step,
    arch_spaces,
    gone_teeth,
    kennedy_class,
    label,
    unused_third_molars,
)
from recommender.domain.numbering import display


class Narrator:
    """Words the steps for one case, with tooth numbers in the user's system (``iso`` or ``universal``)."""

    def __init__(self, case: Case, system: str = "iso") -> None:
        self._case = case
        self._system = system

    def steps(self, spaces: Sequence[Space], number: str | None, modifications: int) -> tuple[Step, ...]:
        """The steps in the order in which the rules are applied."""
        if not self._case.missing:
            return (Step(None, "No tooth is to be replaced: there is no class and nothing to advise.", ()),)
        if number is None:
            none = Step(None, "No usable tooth borders a space: there is no class.", ())
            return (*self._what_counts(), none)
        deciding = self._deciding(spaces, number)
        return (*self._what_counts(), deciding, *self._modifications(spaces, number, modifications))

    def questions(self, spaces: Sequence[Space]) -> tuple[Question, ...]:
        """For each unused third molar that would bound a space if it were used: is it?"""
        case = self._case
        asked = []
        unused = set(unused_third_molars(case))
        for tooth in in_arch_order(case.arch, unused):
            with_it = arch_spaces(case.arch, frozenset(case.missing), gone_teeth(case) | (unused - {tooth}))
            if with_it != tuple(spaces):
                otherwise = label(*kennedy_class(with_it))
                name = display(tooth, self._system)
                text = f"Is third molar {name} to be used as an abutment? Then the case is {otherwise}."
                asked.append(Question(f"abutments[{tooth}]", text, otherwise))
        return tuple(asked)

    def _what_counts(self) -> Iterable[Step]:
        case = self._case
        missing = set(case.missing)
        absent = set(case.absent or ()) - missing
        planned = self._ordered(case.planned_extractions or ())
        if planned:
            yield Step(1, f"Classified as after the planned extraction of {self._names(planned)}.", planned)
        left = "and not to be replaced: not counted."
        yield from self._counting(2, "Third molar", left, "absent", (t for t in absent if position(t) == 8))
        replaced = "and to be replaced: counted."
        yield from self._counting(
            2, "Third molar", replaced, "missing", (t for t in missing if position(t) == 8)
        )
        yield from self._standing_thirds()
        yield from self._counting(4, "Second molar", left, "absent", (t for t in absent if position(t) == 7))
        yield from self._counting(None, "Tooth", left, "absent", (t for t in absent if position(t) < 7))
        kept = self._ordered(a.tooth for a in case.abutments or () if a.tooth in missing)
        if kept:
            text = (
                f"A root or implant stays at {self._names(kept)}, the crown is missing: counted as missing."
            )
            yield Step(None, text, kept)

    def _counting(
        self, rule: int | None, noun: str, verdict: str, state: str, teeth: Iterable[int]
    ) -> Iterable[Step]:
        listed = self._ordered(teeth)
        if len(listed) == 1:
            yield Step(rule, f"{noun} {self._names(listed)} is {state} {verdict}", listed)
        elif listed:
            nouns = "Teeth" if noun == "Tooth" else f"{noun}s"
            yield Step(rule, f"{nouns} {self._names(listed)} are {state} {verdict}", listed)

    def _standing_thirds(self) -> Iterable[Step]:
        case = self._case
        unused = unused_third_molars(case)
        gone = gone_teeth(case)
        thirds = (18, 28) if case.arch == "maxilla" else (48, 38)
        used = tuple(t for t in thirds if t not in gone and t not in unused)
        if used:
            how = (
                "listed among the abutments"
                if case.abutments is not None
                else "taken as usable, since no abutments are listed"
            )
            yield from self._counting(3, "Third molar", f"and {how}: counted.", "standing", used)
        yield from self._counting(
            3, "Third molar", "but not among the abutments listed: not counted.", "standing", unused
        )

    def _deciding(self, spaces: Sequence[Space], number: str) -> Step:
        if number in ("I", "II"):
            teeth = tuple(tooth for space in spaces if space.support == "extension" for tooth in space.teeth)
            if number == "I":
                return Step(5, "The hindmost spaces are extensions, one on each side: Class I.", teeth)
            text = f"The hindmost space ({self._names(teeth)}) is an extension, on one side only: Class II."
            return Step(5, text, teeth)
        if number == "IV":
            teeth = spaces[0].teeth
            where = "crosses the midline, all other teeth behind it"
            text = f"The only space ({self._names(teeth)}) {where}: Class IV."
            return Step(5, text, teeth)
        rearmost = max(position(tooth) for space in spaces for tooth in space.teeth)
        hind = [space for space in spaces if any(position(tooth) == rearmost for tooth in space.teeth)]
        which = "; ".join(self._names(space.teeth) for space in hind)
        subject = (
            f"The hindmost space ({which}) has" if len(hind) == 1 else f"The hindmost spaces ({which}) have"
        )
        teeth = tuple(tooth for space in hind for tooth in space.teeth)
        return Step(5, f"{subject} usable teeth at both ends: Class III.", teeth)

    def _modifications(self, spaces: Sequence[Space], number: str, modifications: int) -> Iterable[Step]:
        if number == "IV":
            yield Step(8, "Class IV has no modifications.", ())
        if not modifications:
            return
        further = tuple(tooth for space in spaces if space.support == "tooth" for tooth in space.teeth)
        count = "1 further space" if modifications == 1 else f"{modifications} further spaces"
        # In Class III all spaces are bounded, and which one decides does not change their number.
        yield Step(6, f"{count}: modification {modifications}.", further if number != "III" else ())
        yield Step(7, "Only the number of further spaces counts, not their length.", ())
        for space in spaces:
            if space.crosses_midline and space.support == "tooth":
                text = (
                    f"The space across the midline ({self._names(space.teeth)}) is not alone: not Class IV."
                )
                yield Step(8, text, space.teeth)

    def _ordered(self, teeth: Iterable[int]) -> tuple[int, ...]:
        return tuple(in_arch_order(self._case.arch, set(teeth)))

    def _names(self, teeth: Iterable[int]) -> str:
        return ", ".join(display(tooth, self._system) for tooth in teeth)
