"""What a rule between parts is: one object that the solver, the checks and the departures read.

An entry in ``shared/frameworks.yaml`` (kind, price, figures, source), a class here (rows for the solver,
breaches of a finished choice, what else there is to tell), a sentence in ``shared/wording``.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar, NewType, Protocol, TypeAlias

from recommender.advice.frameworks.parts import Choice, Part, Stock
from recommender.advice.frameworks.whole import Whole
from recommender.advice.model import Outcome
from recommender.domain.statement import Statement
from recommender.knowledge.figures.frameworks import RuleBetweenParts

Var = NewType("Var", int)
Row: TypeAlias = Sequence[tuple[float, Var]]


@dataclass(frozen=True, slots=True)
class Breach:
    """One breach of a rule: the teeth that it is about, and what there is to say of it."""

    teeth: tuple[int, ...] = ()
    said: Statement | None = None


@dataclass(frozen=True, slots=True)
class Finding:
    """What a check says: its outcome, and the particulars."""

    outcome: Outcome
    said: tuple[Statement, ...] = ()


class Programme(Protocol):
    """What a rule may do with the solver's programme."""

    stock: Stock
    everyone: list[Part]

    def x(self, part: Part) -> Var:
        """The variable of a part: 1 where it is chosen."""

    def y(self, connector: str) -> Var:
        """The variable of a connector."""

    def free(self) -> Var:
        """A binary variable without a price."""

    def gives_way(self, rule: "BetweenParts") -> Var:
        """A binary variable that lets one breach of a rule pass at its price; for one that is never broken it
        stays 0.
        """

    def at_least(self, row: Row, bound: float) -> None:
        """The sum of the terms is at least the bound."""

    def at_most(self, row: Row, bound: float) -> None:
        """The sum of the terms is at most the bound."""


class BetweenParts:
    """A rule between parts. Subclasses name their entry and the figures that they read, and say what a breach is.

    ``rows`` gives the solver a slack for each breach, so that the solver counts exactly what ``breaches`` finds.
    """

    id: ClassVar[str]
    reads: ClassVar[tuple[str, ...]] = ()

    def __init__(self, entry: RuleBetweenParts) -> None:
        self.entry = entry

    def rows(self, p: Programme) -> None:
        """Rows and slacks for the solver; none for a rule that is only told."""

    def breaches(self, choice: Choice) -> list[Breach]:
        """Every breach of a whole choice, one for each unit of the price."""
        return []

    def tell(self, whole: Whole) -> Finding:
        """The check of a finished framework: failed where the choice breaches the rule, unless there is more
        to say.
        """
        found = self.breaches(whole.choice)
        said = tuple(dict.fromkeys(breach.said for breach in found if breach.said is not None))
        return Finding("failed" if found else "passed", said)

    def price(self, stock: Stock) -> float:
        """Points of the framework's score that one breach costs."""
        return self.entry.price * (stock.point if self.entry.kind == "want" else 1.0)
