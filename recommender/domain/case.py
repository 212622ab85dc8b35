"""A case: one arch of one patient, as validated values (case format, version 1).

Every field carries the name it has in the file. ``None`` always means *not recorded*, never zero, none or
no; an empty list that was written down is a recorded "none of them". A measured number may be an ``Interval``.
Lengths are millimetres, ages years,
angles degrees. Reading from text, with errors that name file and line, is ``recommender.domain.reader``;
checks across fields are ``recommender.domain.checks``.
"""

from typing import Annotated, Literal

from pydantic import Field

from recommender.domain import vocabulary as v
from recommender.domain.designs import Design, Prescription
from recommender.domain.findings import Abutment, Floor, Occlusion, Palate, Patient, Records, Span
from recommender.domain.measures import FieldPath, IsoTooth, Months, Record, Text
from recommender.domain.scans import Survey


class DentistAnswer(Record):
    item: Annotated[str, Field(max_length=100)]
    answer: v.Answer
    reason: Text | None = None


class Event(Record):
    month: Months | None = None
    event: v.EventKind
    tooth: IsoTooth | None = None
    part: Annotated[str, Field(max_length=100)] | None = None


class Outcome(Record):
    accepted: bool | None = None
    followed_months: Months | None = None
    still_worn: bool | None = None
    events: list[Event] | None = None
    satisfaction: Annotated[int, Field(ge=1, le=5)] | None = None


class Review(Record):
    status: v.ReviewStatus | None = None
    reason: Text | None = None
    teaching_note: Text | None = None


class Case(Record):
    """One arch of one patient. Only ``format``, ``id``, ``arch`` and ``missing`` are required.

    Tooth numbers are ISO 3950. A tooth that is not in ``missing``, ``absent`` or ``planned_extractions``
    stands.
    """

    format: Literal[1]
    id: Annotated[
        str, Field(pattern=r"^[A-Za-z0-9_-]{1,80}$", description="1 to 80 letters, digits, - and _")
    ]
    title: Text | None = None
    arch: v.Arch
    missing: list[IsoTooth]
    absent: list[IsoTooth] | None = None
    planned_extractions: list[IsoTooth] | None = None
    future_loss_likely: list[IsoTooth] | None = None
    asked: list[FieldPath] | None = None
    patient: Patient | None = None
    occlusion: Occlusion | None = None
    records: Records | None = None
    spans: list[Span] | None = None
    abutments: list[Abutment] | None = None
    palate: Palate | None = None
    floor: Floor | None = None
    survey: Survey | None = None
    prescription: Prescription | None = None
    design: Design | None = None
    dentist_answer: list[DentistAnswer] | None = None
    outcome: Outcome | None = None
    review: Review | None = None
    source: Text | None = None
