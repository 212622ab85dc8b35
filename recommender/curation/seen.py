"""What a look through a library needs of each case: a few plain words instead of the case, so that memory stays small
and several processes may look."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from recommender.curation.recorded import Chance, recorded_fields
from recommender.curation.usage import adverse, followed, refused, used_options
from recommender.domain.case import Case
from recommender.domain.spaces import kennedy_class, label, spaces
from recommender.precedents.processes import batched

_CHUNK = 100


@dataclass(frozen=True, slots=True)
class Seen:
    """One case: its arch and class, the options that it uses by decision, how it fared."""

    id: str
    arch: str
    status: str
    number: str
    modifications: int
    label: str
    uses: dict[str, frozenset[str]]
    followed: bool
    adverse: bool
    refused: bool
    events: tuple[str, ...]

    @classmethod
    def of(cls, case: Case) -> "Seen":
        """What is needed of this case."""
        number, modifications = kennedy_class(spaces(case))
        outcome = case.outcome
        return cls(
            case.id, case.arch, (case.review.status if case.review else None) or "not_recorded", number or "",
            modifications, label(number, modifications),
            {decision: frozenset(used) for decision, used in used_options(case).items() if used},
            followed(case), adverse(case), refused(case),
            tuple(event.event for event in (outcome.events if outcome else None) or ()),
        )  # fmt: skip

    def uses_of(self, decision: str) -> frozenset[str]:
        """The options of a decision that it uses."""
        return self.uses.get(decision, frozenset())


@dataclass(slots=True)
class Looked:
    """A library looked through: every case, and how often each field was recorded out of its chances."""

    cases: list[Seen] = field(default_factory=list)
    recorded: Counter[str] = field(default_factory=Counter)
    chances: Counter[str] = field(default_factory=Counter)

    def add(self, other: "Looked") -> None:
        """What another look found."""
        self.cases += other.cases
        self.recorded.update(other.recorded)
        self.chances.update(other.chances)

    @property
    def fields(self) -> dict[str, Chance]:
        """Every field, in the order of the case format."""
        names = recorded_fields(())
        return {name: Chance(self.recorded[name], self.chances[name]) for name in names}


def look(cases: Iterable[Case]) -> Looked:
    """What these cases are, in any order."""
    found = Looked()
    for chunk in batched(cases, _CHUNK):
        found.add(look_at_chunk(chunk))
    return found


def look_at_chunk(cases: Sequence[Case]) -> Looked:
    """What a few cases are."""
    fields = recorded_fields(cases)
    return Looked(
        [Seen.of(case) for case in cases],
        Counter({name: chance.recorded for name, chance in fields.items()}),
        Counter({name: chance.chances for name, chance in fields.items()}),
    )
