"""The classification step by step: which of Applegate's rules decided each step, and what is left to ask."""

from collections.abc import Iterable, Sequence

from recommender.domain.case import Case
from recommender.domain.dentition import in_arch_order, position
from recommender.domain.spaces import (
    Question,
    Space,
    Step,
    arch_spaces,
    gone_teeth,
    kennedy_class,
    label,
    unused_third_molars,
)
from recommender.domain.statement import Name, Teeth, count, say, several
from recommender.domain.statement import tooth as one


class Narrator:
    """Tells the steps for one case."""

    def __init__(self, case: Case) -> None:
        self._case = case

    def steps(self, spaces: Sequence[Space], number: str | None, modifications: int) -> tuple[Step, ...]:
        """The steps in the order in which the rules are applied."""
        if not self._case.missing:
            return (Step(None, say("kennedy.nothing_missing"), ()),)
        if number is None:
            none = Step(None, say("kennedy.no_border"), ())
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
                question = say("kennedy.ask_third_molar", tooth=one(tooth), otherwise=Name(otherwise))
                asked.append(Question(f"abutments[{tooth}]", question, otherwise))
        return tuple(asked)

    def _what_counts(self) -> Iterable[Step]:
        case = self._case
        missing = set(case.missing)
        absent = set(case.absent or ()) - missing
        planned = self._ordered(case.planned_extractions or ())
        if planned:
            yield Step(1, say("kennedy.after_extraction", teeth=Teeth(planned)), planned)
        yield from self._counting(2, "third_absent", (t for t in absent if position(t) == 8))
        yield from self._counting(2, "third_missing", (t for t in missing if position(t) == 8))
        yield from self._standing_thirds()
        yield from self._counting(4, "second_absent", (t for t in absent if position(t) == 7))
        yield from self._counting(None, "tooth_absent", (t for t in absent if position(t) < 7))
        kept = self._ordered(a.tooth for a in case.abutments or () if a.tooth in missing)
        if kept:
            yield Step(None, say("kennedy.root_stays", teeth=Teeth(kept)), kept)

    def _counting(self, rule: int | None, what: str, teeth: Iterable[int]) -> Iterable[Step]:
        listed = self._ordered(teeth)
        if listed:
            yield Step(rule, say(f"kennedy.{what}", teeth=Teeth(listed)), listed)

    def _standing_thirds(self) -> Iterable[Step]:
        case = self._case
        unused = unused_third_molars(case)
        gone = gone_teeth(case)
        thirds = (18, 28) if case.arch == "maxilla" else (48, 38)
        used = tuple(t for t in thirds if t not in gone and t not in unused)
        listed = "third_listed" if case.abutments is not None else "third_taken"
        yield from self._counting(3, listed, used)
        yield from self._counting(3, "third_unused", unused)

    def _deciding(self, spaces: Sequence[Space], number: str) -> Step:
        if number in ("I", "II"):
            teeth = tuple(tooth for space in spaces if space.support == "extension" for tooth in space.teeth)
            return Step(
                5, say("kennedy.class_1" if number == "I" else "kennedy.class_2", teeth=Teeth(teeth)), teeth
            )
        if number == "IV":
            teeth = spaces[0].teeth
            return Step(5, say("kennedy.class_4", teeth=Teeth(teeth)), teeth)
        rearmost = max(position(tooth) for space in spaces for tooth in space.teeth)
        hind = [space for space in spaces if any(position(tooth) == rearmost for tooth in space.teeth)]
        which = several((Teeth(space.teeth) for space in hind), "semicolon")
        teeth = tuple(tooth for space in hind for tooth in space.teeth)
        return Step(5, say("kennedy.class_3", spaces=which), teeth)

    def _modifications(self, spaces: Sequence[Space], number: str, modifications: int) -> Iterable[Step]:
        if number == "IV":
            yield Step(8, say("kennedy.no_modifications"), ())
        if not modifications:
            return
        further = tuple(tooth for space in spaces if space.support == "tooth" for tooth in space.teeth)
        # In Class III all spaces are bounded, and which one decides does not change their number.
        told = say("kennedy.modifications", count=count(modifications))
        yield Step(6, told, further if number != "III" else ())
        yield Step(7, say("kennedy.only_number_counts"), ())
        for space in spaces:
            if space.crosses_midline and space.support == "tooth":
                yield Step(8, say("kennedy.not_alone", teeth=Teeth(space.teeth)), space.teeth)

    def _ordered(self, teeth: Iterable[int]) -> tuple[int, ...]:
        return tuple(in_arch_order(self._case.arch, set(teeth)))
