"""What was prescribed, and what was designed: a prescription, and a framework with its parts."""

from typing import Annotated, Literal

from pydantic import Field

from recommender.domain import vocabulary as v
from recommender.domain.measures import IsoTooth, Millimetres, Record, Text, UndercutDepth


class RuledOut(Record):
    """What the dentist does not want; ``any`` for a tooth: no clasp of any kind."""

    retainers: dict[IsoTooth, list[v.Retainer | Literal["any"]]] | None = None
    connector: list[v.Connector] | None = None
    replacements: dict[IsoTooth, list[v.Replacement]] | None = None


class Prescription(Record):
    retainers: dict[IsoTooth, v.Retainer] | None = None
    connector: v.Connector | None = None
    replacements: dict[IsoTooth, v.Replacement] | None = None
    rests: dict[IsoTooth, v.Rest] | None = None
    alloy: v.Alloy | None = None
    note: Text | None = None
    # a word of Python, and the key of the file: annotated by hand, read through ``ruled_out``
    __annotations__["not"] = RuledOut | None
    vars()["not"] = None

    @property
    def ruled_out(self) -> RuledOut | None:
        """What the dentist ruled out: the field ``not`` of the file."""
        found: RuledOut | None = getattr(self, "not")
        return found


class UsedUndercut(Record):
    zone: v.Zone
    mm: UndercutDepth | None = None


class DesignRetainer(Record):
    tooth: IsoTooth
    assembly: v.Retainer
    approach: v.Side | None = None
    partner: IsoTooth | None = None
    rest: v.Rest | None = None
    undercut: UsedUndercut | None = None
    alloy: v.Alloy | None = None
    attached: v.Attached | None = None


class ToothRest(Record):
    tooth: IsoTooth
    rest: v.Rest


class MinorConnector(Record):
    tooth: IsoTooth
    site: v.RestSeat | Literal["lingual"]


class ProximalPlate(Record):
    tooth: IsoTooth
    surface: v.Side
    height_mm: Millimetres | None = None


class Plating(Record):
    teeth: list[IsoTooth]
    step_back: bool | None = None


class Base(Record):
    teeth: list[IsoTooth]
    retention: v.BaseRetention | None = None
    relief_mm: Millimetres | None = None
    tissue_stop: bool | None = None
    flange: bool | None = None


class Preparation(Record):
    tooth: IsoTooth
    surface: Annotated[str, Field(max_length=40)] | None = None
    action: v.PreparationAction


class Design(Record):
    """A framework: a stored precedent's, one to be reviewed, or the tool's own proposal."""

    connector: v.Connector | None = None
    alloy: v.Alloy | None = None
    fabrication: v.Fabrication | None = None
    retainers: list[DesignRetainer] | None = None
    rests: dict[IsoTooth, v.Rest] | None = None
    indirect_retainers: list[ToothRest] | None = None
    minor_connectors: list[MinorConnector] | None = None
    proximal_plates: list[ProximalPlate] | None = None
    plating: list[Plating] | None = None
    bases: list[Base] | None = None
    replacements: dict[IsoTooth, v.Replacement] | None = None
    preparation: list[Preparation] | None = None
