"""All files of figures, read and checked together: what ``Knowledge`` holds, and what a draft may change."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields
from typing import Any

from recommender.domain.errors import Problem
from recommender.domain.measures import Record
from recommender.domain.validation import At, read_model
from recommender.knowledge.figures.confidence import ConfidenceFigures
from recommender.knowledge.figures.curation import (
    ConflictFigures,
    CoverageFigures,
    ExerciseFigures,
    HouseFigures,
    SurvivalFigures,
)
from recommender.knowledge.figures.display import Display
from recommender.knowledge.figures.frameworks import FrameworkFigures
from recommender.knowledge.figures.guide import RuleGuide
from recommender.knowledge.figures.mechanics import MechanicsFigures
from recommender.knowledge.figures.plausible import (
    JudgementFigures,
    PlausibleFile,
    StandingFigures,
    lacking_parents,
)
from recommender.knowledge.figures.preparation import PreparationFigures
from recommender.knowledge.figures.review import ReviewFigures
from recommender.knowledge.figures.scoring import Scoring
from recommender.knowledge.figures.similarity import SimilarityFigures
from recommender.knowledge.figures.survey import SurveyFigures

Read = Callable[[str], tuple[Any, At]]
"""Plain values of a file by its name in ``shared/``, and how to tell where a path in it stands."""


@dataclass(frozen=True, slots=True)
class Figures:
    """Every file of figures as its model."""

    scoring: Scoring
    guide: RuleGuide
    display: Display
    mechanics: MechanicsFigures
    preparation: PreparationFigures
    confidence: ConfidenceFigures
    review: ReviewFigures
    frameworks: FrameworkFigures
    similarity: SimilarityFigures
    conflicts: ConflictFigures
    coverage: CoverageFigures
    exercises: ExerciseFigures
    survival: SurvivalFigures
    survey: SurveyFigures
    house: HouseFigures
    plausible_patient: PlausibleFile
    plausible_teeth: PlausibleFile
    plausible_spaces: PlausibleFile
    judgement: JudgementFigures
    standing: StandingFigures

    @property
    def plausible_files(self) -> tuple[PlausibleFile, ...]:
        """What unrecorded fields may be, in the order of the files."""
        return self.plausible_patient, self.plausible_spaces, self.plausible_teeth


_PLAUSIBLE = ("plausible_patient", "plausible_spaces", "plausible_teeth")
FILES: Mapping[str, tuple[str, type[Record]]] = {
    "scoring": ("scoring.yaml", Scoring),
    "guide": ("rule_guide.yaml", RuleGuide),
    "display": ("display.yaml", Display),
    "mechanics": ("mechanics.yaml", MechanicsFigures),
    "preparation": ("preparation_costs.yaml", PreparationFigures),
    "confidence": ("confidence.yaml", ConfidenceFigures),
    "review": ("review.yaml", ReviewFigures),
    "frameworks": ("frameworks.yaml", FrameworkFigures),
    "similarity": ("similarity.yaml", SimilarityFigures),
    "conflicts": ("curation/conflicts.yaml", ConflictFigures),
    "coverage": ("curation/coverage.yaml", CoverageFigures),
    "exercises": ("curation/exercises.yaml", ExerciseFigures),
    "survival": ("curation/survival.yaml", SurvivalFigures),
    "plausible_patient": ("plausible/patient.yaml", PlausibleFile),
    "plausible_teeth": ("plausible/teeth.yaml", PlausibleFile),
    "plausible_spaces": ("plausible/spaces.yaml", PlausibleFile),
    "judgement": ("plausible/judgement.yaml", JudgementFigures),
    "standing": ("plausible/standing.yaml", StandingFigures),
    "survey": ("survey.yaml", SurveyFigures),
    "house": ("curation/house.yaml", HouseFigures),
}
"""By the field of ``Figures``: the file, below ``shared/``, and its model."""
NAMES = tuple(name for name, _ in FILES.values())


def read_figures(read: Read, problems: list[Problem]) -> Figures | None:
    """All files; ``None`` where one cannot be used, with everything wrong added to ``problems``."""
    found: dict[str, Any] = {}
    places: dict[str, At] = {}
    for entry in fields(Figures):
        name, model = FILES[entry.name]
        value, places[entry.name] = read(name)
        found[entry.name] = read_model(model, value, places[entry.name], problems)
    if any(model is None for model in found.values()):
        return None
    lacking = lacking_parents([found[name] for name in _PLAUSIBLE])
    for number, place, what, allowed in lacking:
        at = places[_PLAUSIBLE[number]](("fields", place, "parent"))
        problems.append(Problem(at, f"fields[{place}].parent", what, allowed))
    return None if lacking else Figures(**found)
