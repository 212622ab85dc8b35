"""``plausible/``: what a field that was not recorded may be, how far judgement moves, and when a choice is firm."""

from collections.abc import Sequence
from typing import Annotated, Any, Literal

from pydantic import Field, model_validator

from recommender.domain.measures import Record

Share = Annotated[float, Field(ge=0, le=1, allow_inf_nan=False)]
Shares = Annotated[list[Share], Field(min_length=1)]
Number = Annotated[float, Field(ge=-10_000, le=10_000, allow_inf_nan=False)]
Value = bool | int | float | str | list[str]
Count = Annotated[int, Field(ge=0, le=100_000)]


class NormalCurve(Record):
    """A normal curve cut off at ``low`` and ``high``, in steps of ``step``."""

    mean: Number
    sd: Annotated[float, Field(gt=0, le=1000)]
    low: Number
    high: Number
    step: Annotated[float, Field(gt=0, le=1000)]


class Band(Record):
    """Shares for numbers of the parent below ``upto``; the last band goes without."""

    upto: Number | None = None
    are: Shares


class Where(Record):
    """Of which cases, teeth or spaces an entry speaks."""

    arch: Literal["maxilla", "mandible"] | None = None
    tooth_type: list[Literal["incisor", "canine", "premolar", "molar"]] | None = None
    support: Literal["tooth", "extension"] | None = None
    zone: Literal["anterior", "posterior"] | None = None


class PlausibleField(Record):
    """What one field (or several alike) may be; ``shared/plausible/README.md`` says how an entry is written."""

    field: str | list[str]
    where: Where = Where()
    values: Annotated[list[Value], Field(min_length=2)] | None = None
    normal: NormalCurve | None = None
    relative_to: Literal["widths", "teeth"] | None = None
    shares: Shares | list[Band] | dict[str, Shares] | None = None
    parent: str | None = None
    parent_has: str | None = None
    same_place: str | None = None
    word: dict[str, str] = Field(default_factory=dict)
    source: Annotated[str, Field(min_length=1)]
    found: Literal["page", "memory", "derived", "common_practice"]

    @property
    def fields(self) -> list[str]:
        """The paths that the entry speaks of."""
        return self.field if isinstance(self.field, list) else [self.field]

    @property
    def bands(self) -> list[Band]:
        """The shares by bands of a number; none where they do not go by bands."""
        shares = self.shares if isinstance(self.shares, list) else []
        return [line for line in shares if isinstance(line, Band)]

    @property
    def rows(self) -> list[list[float]]:
        """The shares, a line for each answer of the parent; none for a curve."""
        if isinstance(self.shares, dict):
            return list(self.shares.values())
        if self.bands:
            return [band.are for band in self.bands]
        plain = [share for share in self.shares or () if isinstance(share, float)]
        return [plain] if plain else []

    @model_validator(mode="after")
    def _fits(self) -> "PlausibleField":
        if (self.values is None) == (self.normal is None) or (self.values is None) != (self.shares is None):
            raise ValueError("values with shares, or a normal curve instead of both")
        if self.normal is not None and not self.normal.low < self.normal.high:
            raise ValueError("a curve whose low lies below its high")
        if self.values is not None and any(
            len(row) != len(self.values) or abs(sum(row) - 1) > 1e-9 for row in self.rows
        ):
            raise ValueError(f"shares, one for each of {len(self.values)} values, that add up to 1")
        several = bool(self.bands) or isinstance(self.shares, dict)
        if several != (self.parent is not None or self.same_place is not None):
            raise ValueError("a parent where there are shares for each of its answers, and nowhere else")
        if self.parent_has is not None and (
            self.parent is None or not isinstance(self.shares, dict) or {*self.shares} != {"true", "false"}
        ):
            raise ValueError("with parent_has: a parent, and shares for true and for false")
        if self.bands:
            ends = [band.upto for band in self.bands]
            if ends[-1] is not None or None in ends[:-1]:
                raise ValueError("the last band, and it alone, without upto")
        return self


class PlausibleFile(Record):
    """``plausible/patient.yaml``, ``spaces.yaml``, ``teeth.yaml``."""

    format: Literal[1]
    fields: Annotated[list[PlausibleField], Field(min_length=1)]


class Starts(Record):
    without_source: Annotated[float, Field(ge=0, le=50)]
    with_source: Annotated[float, Field(ge=0, le=50)]


class PointShares(Record):
    common_practice: Share
    memory: Share
    page: Share
    derived: Share = 0.0


class JudgementFigures(Record):
    """``plausible/judgement.yaml``: how far starts, points and weights are moved."""

    format: Literal[1]
    starts: Starts
    points: PointShares
    weights: Share
    source: str


class IntervalFigures(Record):
    share: Annotated[float, Field(gt=0, lt=1)]
    pieces: Annotated[int, Field(ge=2, le=200)]


class BringsUp(Record):
    """Which answers the solver is asked about again: those that cost the best framework at least this share of all
    worlds, so many at most; ``beside``: how many frameworks next to what it finds are compared too. ``solved``: for so
    many answers that still cost as much, the whole case is worked out with the answer."""

    least: Share
    answers: Annotated[int, Field(ge=0, le=100)]
    beside: Annotated[int, Field(ge=0, le=100)]
    solved: Annotated[int, Field(ge=0, le=100)]


class AskFigures(Record):
    most: Annotated[int, Field(ge=1, le=50)]
    least_worth: Share
    pairs_from: Annotated[int, Field(ge=1, le=100)]
    brings_up: BringsUp


class LearnFigures(Record):
    """When a library's own records count: with so many cases, and so many records of a row; ``weight``: how many
    records the published shares are worth then; ``most``: cases that are read at most."""

    cases: Annotated[int, Field(ge=1)]
    records: Annotated[int, Field(ge=1)]
    weight: Annotated[float, Field(gt=0, le=1e6)]
    most: Annotated[int, Field(ge=1)]
    source: str


class Dangerous(Record):
    """A question that waits for its answer before metal is cast."""

    field: str
    why: str


class OwnPlace(Record):
    """Facts that must be recorded for choices of a family, with a part, or of these identifiers."""

    facts: Annotated[list[str], Field(min_length=1)]
    has: Literal["tip", "seat"] | None = None
    family: str | None = None
    options: list[str] | None = None
    excepted: list[str] = Field(default_factory=list)


class StandingFigures(Record):
    """``plausible/standing.yaml``: worlds, the limits of the three words, what is never assumed."""

    format: Literal[1]
    worlds: Annotated[int, Field(ge=2, le=100_000, multiple_of=2)]
    firm: Share
    answers: Count
    answers_hold: Share
    could_change: Share
    interval: IntervalFigures
    frameworks: Annotated[int, Field(ge=1, le=1000)]
    sets: Annotated[int, Field(ge=0, le=100)]
    ask: AskFigures
    learn: LearnFigures
    before_metal: list[Dangerous]
    own_place: dict[Literal["retainer", "rest", "connector", "replacement"], list[OwnPlace]]


def lacking_parents(files: Sequence[PlausibleFile]) -> list[tuple[int, int, str, str]]:
    """Entries whose parent has no entry, or differs from another entry of the same field: number of the file, place
    in it, what was found, what is allowed."""
    known = {name for file in files for entry in file.fields for name in entry.fields}
    parents: dict[str, Any] = {}
    found = []
    for number, file in enumerate(files):
        for place, entry in enumerate(file.fields):
            if entry.parent is not None and entry.parent not in known:
                found.append(
                    (number, place, f"parent {entry.parent}, which has no entry", "a field with an entry")
                )
            for name in entry.fields:
                own = entry.parent or entry.same_place
                if parents.setdefault(name, own) != own:
                    found.append((number, place, f"parent {own} of {name}", f"{parents[name]}, as before"))
    return found
