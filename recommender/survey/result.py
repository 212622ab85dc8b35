"""What a survey returns: figures with bands, and reasons where there is no figure."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from recommender.domain.statement import Statement, say
from recommender.survey.bands import Bands
from recommender.survey.crown import CrownSurface
from recommender.survey.locating import Located
from recommender.survey.margins import Margin
from recommender.survey.paths import PathScore, PathSearch
from recommender.survey.scan import Scan
from recommender.survey.undercuts import Wall


@dataclass(frozen=True)
class Figure:
    """A number with its band (mm), or ``None`` with the reason ``why`` it could not be measured; ``causes`` of the
    band as standard deviations; ``check`` a doubt about a figure that was measured."""

    low: float | None
    value: float | None
    high: float | None
    why: Statement | None = None
    causes: Mapping[str, float] = field(default_factory=dict)
    check: Statement | None = None


def not_measured(reason: str) -> Figure:
    """A figure that is not there, with its reason: the end of a code ``survey.why.…`` of the words."""
    return Figure(None, None, None, say(f"survey.why.{reason}"))


def figure(value: float, spread: float, causes: Mapping[str, float] | None = None) -> Figure:
    """A figure of at least 0 with a band of ``spread`` to either side, rounded to 0.01 mm."""
    return Figure(
        round(max(value - spread, 0.0), 2),
        round(max(value, 0.0), 2),
        round(max(value + spread, 0.0), 2),
        None,
        causes or {},
    )


@dataclass(frozen=True)
class LineHeight:
    """The survey line of a zone: height above the margin (mm), the third of the crown, and whether it is clear of the
    next third."""

    above_margin_mm: float
    third: str
    sure: bool


@dataclass(frozen=True)
class ToothSurvey:
    """The survey of one tooth. ``outline`` and ``margin``: found, or confirmed; figures by zone at the path and with
    the cast level."""

    tooth: int
    outline: str
    margin: str
    undercuts_mm: Mapping[str, Figure]
    undercuts_level_mm: Mapping[str, Figure]
    contour: Mapping[str, LineHeight]
    crown_height_mm: Figure
    tissue_undercut_mm: Figure
    rest_clearance_mm: Mapping[str, Figure] = field(default_factory=dict)
    embrasure_clearance_mm: Mapping[str, Figure] = field(default_factory=dict)

    @property
    def confirmed(self) -> bool:
        """Whether a person stands by outline and margin."""
        return self.outline == "confirmed" and self.margin == "confirmed"


@dataclass(frozen=True)
class SpaceSurvey:
    """One space between standing teeth or behind the last: its missing teeth, width, and clearance over the drawn
    crest line."""

    teeth: tuple[int, ...]
    width_mm: Figure
    clearance_mm: Figure
    clearance_by_tooth_mm: Mapping[int, Figure] = field(default_factory=dict)


@dataclass(frozen=True)
class PalateSurvey:
    """Figures of the palate (mm)."""

    vault_mm: Figure
    rugae_mm: Figure
    length_mm: Figure


@dataclass(frozen=True)
class Tripod:
    """Three far-apart points of the tissue at one height along the path, to the patient's left, to the front and up
    (mm), and their heights in the level cast: what a bench needs to set the same tilt."""

    points_mm: tuple[tuple[float, float, float], ...]
    heights_level_mm: tuple[float, ...]


@dataclass(frozen=True)
class ToothParts:
    """What pictures of a tooth are drawn from."""

    surface: CrownSurface
    margin: Margin
    at_path: Wall
    level: Wall
    bands: Bands


@dataclass(frozen=True)
class Survey:
    """The whole survey. ``parts`` and ``located`` hold the mesh and stay in memory; nothing of it goes into a case."""

    arch: str
    standing: tuple[int, ...]
    teeth: Mapping[int, ToothSurvey]
    spaces: tuple[SpaceSurvey, ...]
    palate: PalateSurvey | None
    path: PathScore
    path_chosen_by: str
    search: PathSearch | None
    tripod: Tripod | None
    doubts: tuple[Statement, ...]
    unit_confirmed: bool
    side_confirmed: bool
    level_confirmed: bool
    scan: Scan
    located: Located
    parts: Mapping[int, ToothParts]

    @property
    def confirmed(self) -> tuple[int, ...]:
        """The teeth whose figures may enter a case: none before unit, side and level are confirmed."""
        if not (self.unit_confirmed and self.side_confirmed and self.level_confirmed):
            return ()
        return tuple(tooth for tooth, entry in self.teeth.items() if entry.confirmed)
