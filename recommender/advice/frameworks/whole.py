"""A finished framework as the rules between parts look at it."""

from collections.abc import Mapping
from dataclasses import dataclass

from recommender.advice.frameworks.buildable import Fault
from recommender.advice.frameworks.parts import Choice, Part, Stock
from recommender.advice.model import PreparationStep, Seat
from recommender.domain.designs import Design


@dataclass(frozen=True, slots=True)
class Whole:
    """A choice with what follows from it: rests, seats, preparation, the design, and what in it could not be made."""

    choice: Choice
    rests: Mapping[int, str]
    seats: tuple[Seat, ...]
    preparation: tuple[PreparationStep, ...]
    design: Design
    faults: tuple[Fault, ...]

    @property
    def stock(self) -> Stock:
        """What it was chosen from."""
        return self.choice.stock

    @property
    def retainers(self) -> Mapping[int, Part]:
        """The parts by tooth."""
        return self.choice.retainers

    @property
    def carrying(self) -> list[int]:
        """Teeth that carry a retainer or a rest."""
        held = {tooth for tooth, part in self.retainers.items() if part.option.id != "none"}
        return sorted(held | {tooth for tooth, rest in self.rests.items() if rest != "none"})
