"""Which teeth that the case does not name are drawn in to hold: the program chooses teeth for hold across the
arch itself.
"""

from collections.abc import Iterable, Mapping

from recommender.advice.frameworks.parts import SIDES, Part
from recommender.domain.dentition import position, side_of
from recommender.facts.derive import CaseFacts
from recommender.knowledge.figures.frameworks import FurtherTeeth


def further_teeth(
    facts: CaseFacts, parts: Mapping[int, tuple[Part, ...]], figures: FurtherTeeth
) -> list[int]:
    """Teeth to draw in on a side that offers too little, and the partners through an embrasure there.

    The molars and premolars nearest to the first molar come first; a third molar only where nothing else stands,
    a canine only where nothing on its side could hold.
    """
    places = figures.places
    restored = {side_of(tooth) for space in facts.spaces for tooth in space.teeth}
    found: list[int] = []
    for side in SIDES:
        here = {tooth: options for tooth, options in parts.items() if side_of(tooth) == side}
        holding = [tooth for tooth, options in here.items() if any(p.clasps for p in options)]
        wanted = {
            part.partner: None
            for tooth, options in here.items()
            for part in options
            if part.partner is not None and part.partner not in parts and not facts.sides(tooth)
        }
        if len(holding) < _enough(facts, side in restored, figures) or _only_in_front(facts, holding, side):
            left = [t for t in facts.standing if side_of(t) == side and t not in parts]
            free = [t for t in left if position(t) >= places.forward_to]
            if not holding and not free:  # nothing else there could hold
                free = [t for t in left if position(t) == places.last_resort]
            free.sort(
                key=lambda t: (
                    position(t) == places.last_of_all,
                    abs(position(t) - places.nearest),
                    -position(t),
                )
            )
            wanted.update(dict.fromkeys(free))
        found += list(wanted)[: figures.each_side]
    return sorted(found)


def end_rests(
    facts: CaseFacts, parts: Mapping[int, tuple[Part, ...]], seats: Iterable[int], places: tuple[float, float]
) -> list[int]:
    """Teeth that could carry the end rest of a plate, one on each side on which nothing considered could.

    ``places``: the foremost and the rearmost, from the midline. The first premolar before the canine: a fossa is the
    better seat.
    """
    found = []
    foremost, rearmost = places
    for side in SIDES:
        able = {t for t, options in parts.items() if any(p.rested for p in options)} | set(seats)
        if any(side_of(t) == side and position(t) <= rearmost for t in able):
            continue
        ends = [
            t
            for t in facts.standing
            if side_of(t) == side and t not in parts and foremost <= position(t) <= rearmost
        ]
        found += sorted(ends, key=lambda t: -position(t))[:1]
    return found


def _enough(facts: CaseFacts, restored: bool, figures: FurtherTeeth) -> int:
    if facts.classification.number == "IV":
        return figures.offers_wanted.class_iv
    return figures.offers_wanted.other_side if restored else figures.offers_wanted.side_without_space


def _only_in_front(facts: CaseFacts, holding: list[int], side: str) -> bool:
    """Whether a side without an extension could hold by front teeth and premolars only, though molars stand there."""
    extension = any(
        side_of(tooth) == side for s in facts.spaces if s.support == "extension" for tooth in s.teeth
    )
    molars = any(side_of(t) == side and position(t) in (6, 7) for t in facts.standing)
    return molars and not extension and all(position(tooth) < 6 for tooth in holding)
