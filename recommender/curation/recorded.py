"""How often each field of the case format was recorded in a library, out of its chances.

A field of an abutment has one chance per abutment listed, one of a space per space listed, one of the palate
per upper case, and so on. The undercut zones are counted one by one. Recorded means written down, also as
zero, none or no.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from pydantic import BaseModel

from recommender.domain.case import Case
from recommender.domain.findings import Abutment, Floor, Occlusion, Palate, Patient, Records, Span, Undercuts


@dataclass(frozen=True, slots=True)
class Chance:
    """``recorded`` out of ``chances``."""

    recorded: int
    chances: int

    @property
    def share(self) -> float:
        """Recorded share (0-1); 0 where there was no chance."""
        return self.recorded / self.chances if self.chances else 0.0


def recorded_fields(cases: Iterable[Case]) -> dict[str, Chance]:
    """Every field that describes the patient and the cast, by path, in the order of the case format.

    Paths read like ``patient.age``, ``spans.clearance_mm``, ``abutments.undercuts_mm.midfacial``.
    """
    recorded: dict[str, int] = dict.fromkeys(_paths(), 0)
    chances: dict[str, int] = dict.fromkeys(recorded, 0)
    for case in cases:
        for path, known in _looked_at(case):
            chances[path] += 1
            recorded[path] += known
    return {path: Chance(recorded[path], chances[path]) for path in recorded}


def _fields(model: type[BaseModel], without: tuple[str, ...] = ()) -> list[str]:
    return [name for name in model.model_fields if name not in without]


def _paths() -> Iterator[str]:
    for part in (Patient, Occlusion, Records):
        yield from (f"{part.__name__.lower()}.{name}" for name in _fields(part))
    yield from (f"spans.{name}" for name in _fields(Span, ("teeth",)))
    for name in _fields(Abutment, ("tooth", "undercuts_mm")):
        yield f"abutments.{name}"
    yield from (f"abutments.undercuts_mm.{zone}" for zone in _fields(Undercuts))
    for mouth in (Palate, Floor):
        yield from (f"{mouth.__name__.lower()}.{name}" for name in _fields(mouth))


def _part(
    name: str, model: type[BaseModel], value: BaseModel | None, without: tuple[str, ...] = ()
) -> Iterator[tuple[str, bool]]:
    for field in _fields(model, without):
        yield f"{name}.{field}", value is not None and getattr(value, field) is not None


def _looked_at(case: Case) -> Iterator[tuple[str, bool]]:
    """Each chance of each field in one case, and whether it was taken."""
    yield from _part("patient", Patient, case.patient)
    yield from _part("occlusion", Occlusion, case.occlusion)
    yield from _part("records", Records, case.records)
    for span in case.spans or ():
        yield from _part("spans", Span, span, ("teeth",))
    for abutment in case.abutments or ():
        yield from _part("abutments", Abutment, abutment, ("tooth", "undercuts_mm"))
        yield from _part("abutments.undercuts_mm", Undercuts, abutment.undercuts_mm)
    if case.arch == "maxilla":
        yield from _part("palate", Palate, case.palate)
    else:
        yield from _part("floor", Floor, case.floor)
