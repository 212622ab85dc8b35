"""The classification in words: which of Applegate's rules decided each step, and what is left to ask."""

from collections.abc import Iterable, Sequence

from recommender.domain.case import Case
from recommender.domain.dentition import in_arch_order, is_tooth, position
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


def explain(case: Case, spaces: Sequence[Space], number: str | None, modifications: int) -> tuple[Step, ...]:
    """The steps in the order in which the rules are applied."""
    if not case.missing:
        return (Step(None, "No tooth is to be replaced: there is no class and nothing to advise.", ()),)
    if number is None:
        return (*_what_counts(case), Step(None, "No usable tooth borders a space: there is no class.", ()))
    return (*_what_counts(case), *_deciding(spaces, number), *_modifications(spaces, number, modifications))


def _what_counts(case: Case) -> Iterable[Step]:
    missing = set(case.missing)
    absent = set(case.absent or ()) - missing
    planned = _ordered(case, case.planned_extractions or ())
    if planned:
        yield Step(1, f"Classified as after the planned extraction of {_names(planned)}.", planned)
    thirds_left = _ordered(case, (t for t in absent if position(t) == 8))
    if thirds_left:
        yield Step(
            2,
            f"Third molar {_names(thirds_left)} is absent and not to be replaced: not counted.",
            thirds_left,
        )
    thirds_missing = _ordered(case, (t for t in missing if position(t) == 8))
    if thirds_missing:
        yield Step(
            2, f"Third molar {_names(thirds_missing)} is missing and to be replaced: counted.", thirds_missing
        )
    yield from _standing_thirds(case)
    seconds = _ordered(case, (t for t in absent if position(t) == 7))
    if seconds:
        yield Step(
            4, f"Second molar {_names(seconds)} is absent and not to be replaced: not counted.", seconds
        )
    others = _ordered(case, (t for t in absent if position(t) < 7))
    if others:
        yield Step(None, f"{_names(others)} is absent and not to be replaced: not counted.", others)
    kept = _ordered(case, (a.tooth for a in case.abutments or () if a.tooth in missing))
    if kept:
        yield Step(
            None,
            f"A root or implant stays at {_names(kept)}, whose crown is missing: counted as missing.",
            kept,
        )


def _standing_thirds(case: Case) -> Iterable[Step]:
    unused = unused_third_molars(case)
    gone = gone_teeth(case)
    used = tuple(t for t in _thirds(case.arch) if t not in gone and t not in unused)
    if used:
        how = (
            "an abutment"
            if case.abutments is not None
            else "taken as an abutment, since no abutments are listed"
        )
        yield Step(3, f"Third molar {_names(used)} stands and is {how}: counted.", used)
    if unused:
        yield Step(
            3, f"Third molar {_names(unused)} stands but is not listed as an abutment: not counted.", unused
        )


def _deciding(spaces: Sequence[Space], number: str) -> Iterable[Step]:
    extensions = [space for space in spaces if space.support == "extension"]
    if number == "I":
        teeth = tuple(tooth for space in extensions for tooth in space.teeth)
        yield Step(5, "The hindmost spaces are extensions, one on each side: Class I.", teeth)
    elif number == "II":
        teeth = extensions[0].teeth
        yield Step(
            5, f"The hindmost space ({_names(teeth)}) is an extension, on one side only: Class II.", teeth
        )
    elif number == "IV":
        teeth = spaces[0].teeth
        yield Step(
            5,
            f"The only space ({_names(teeth)}) crosses the midline, all other teeth behind it: Class IV.",
            teeth,
        )
    else:
        rearmost = max(position(tooth) for space in spaces for tooth in space.teeth)
        hind = [space for space in spaces if any(position(tooth) == rearmost for tooth in space.teeth)]
        teeth = tuple(tooth for space in hind for tooth in space.teeth)
        which = f"The hindmost space ({_names(teeth)}) has"
        if len(hind) > 1:
            which = f"The hindmost spaces ({'; '.join(_names(space.teeth) for space in hind)}) have"
        yield Step(5, f"{which} usable teeth at both ends: Class III.", teeth)


def _modifications(spaces: Sequence[Space], number: str, modifications: int) -> Iterable[Step]:
    if number == "IV":
        yield Step(8, "Class IV has no modifications.", ())
        return
    if not modifications:
        return
    further = tuple(tooth for space in spaces if space.support == "tooth" for tooth in space.teeth)
    count = (
        "1 further space is a modification"
        if modifications == 1
        else f"{modifications} further spaces are modifications"
    )
    yield Step(6, f"{count}: modification {modifications}.", further if number != "III" else ())
    yield Step(7, "Only the number of further spaces counts, not their length.", ())
    crossing = [space for space in spaces if space.crosses_midline and space.support == "tooth"]
    if crossing:
        teeth = crossing[0].teeth
        yield Step(
            8, f"The space across the midline ({_names(teeth)}) is not alone, so it is not Class IV.", teeth
        )


def questions(case: Case, spaces: Sequence[Space]) -> tuple[Question, ...]:
    """For each unused third molar that would bound a space if it were used: is it?"""
    asked = []
    unused = set(unused_third_molars(case))
    for tooth in in_arch_order(case.arch, unused):
        with_it = arch_spaces(case.arch, frozenset(case.missing), gone_teeth(case) | (unused - {tooth}))
        if with_it != tuple(spaces):
            otherwise = label(*kennedy_class(with_it))
            text = f"Is third molar {tooth} to be used as an abutment? Then the case is {otherwise}."
            asked.append(Question(f"abutments[{tooth}]", text, otherwise))
    return tuple(asked)


def _thirds(arch: str) -> tuple[int, ...]:
    return (18, 28) if arch == "maxilla" else (48, 38)


def _ordered(case: Case, teeth: Iterable[int]) -> tuple[int, ...]:
    return tuple(in_arch_order(case.arch, {tooth for tooth in teeth if is_tooth(tooth)}))


def _names(teeth: Iterable[int]) -> str:
    return ", ".join(str(tooth) for tooth in teeth)
