"""``similarity.yaml``: features of each kind of decision, what they weigh, and how far apart their values are."""

from typing import Annotated, Literal

from pydantic import Field, model_validator

from recommender.domain.measures import Record

Share = Annotated[float, Field(ge=0, le=1, allow_inf_nan=False)]
Number = Annotated[float, Field(ge=-1000, le=1000, allow_inf_nan=False)]
Word = str | bool | int
Pair = Annotated[list[Word | Share], Field(min_length=3, max_length=3)]


class FeatureEntry(Record):
    """One feature; which keys it needs goes with its scale."""

    label: str | None = None
    fact: str | None = None
    holds: str | None = None
    scale: Literal["graded", "numeric", "category", "boolean", "taxonomic"]
    values: list[Word] | None = None
    at: list[Share] | None = None
    between: list[Pair] | None = None
    toward: list[Pair] | None = None
    of: str | None = None
    unit: str | None = None
    # a word of Python, and the key of the file
    __annotations__["from"] = Number | None
    vars()["from"] = None
    to: Number | None = None
    step: Annotated[float, Field(gt=0, le=1000)] | None = None
    span: Annotated[float, Field(gt=0, le=1000)] | None = None

    @model_validator(mode="after")
    def _complete(self) -> "FeatureEntry":
        needed = {
            "numeric": ("from", "to", "step", "span"), "graded": ("values",), "category": ("values",),
            "taxonomic": ("of",), "boolean": (),
        }[self.scale]  # fmt: skip
        if any(getattr(self, name) is None for name in needed):
            raise ValueError(f"for the scale {self.scale} also {', '.join(needed)}")
        return self


class Weighed(Record):
    weight: Annotated[float, Field(ge=0, le=1000, allow_inf_nan=False)]
    why: str
    arch: Literal["maxilla", "mandible"] | None = None


class KindEntry(Record):
    same: list[str]
    weights: Annotated[dict[str, Weighed], Field(min_length=1)]


class Kinds(Record):
    retainer: KindEntry
    rest: KindEntry
    connector: KindEntry
    replacement: KindEntry


class SimilarityFigures(Record):
    """``shared/similarity.yaml`` says what each is for."""

    format: Literal[1]
    version: int
    note: str = ""
    near: Share
    kinds: Kinds
    features: dict[str, FeatureEntry]
