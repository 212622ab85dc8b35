"""Kennedy class with modifications under Applegate's rules, and which of the rules decided what."""

from dataclasses import dataclass

from recommender.domain.case import Case
from recommender.domain.kennedy_steps import Narrator
from recommender.domain.spaces import (
    Question as Question,
)
from recommender.domain.spaces import (
    Space as Space,
)
from recommender.domain.spaces import (
    Step as Step,
)
from recommender.domain.spaces import (
    Support as Support,
)
from recommender.domain.spaces import (
    arch_spaces as arch_spaces,
)
from recommender.domain.spaces import (
    gaps as gaps,
)
from recommender.domain.spaces import (
    gone_teeth as gone_teeth,
)
from recommender.domain.spaces import (
    kennedy_class as kennedy_class,
)
from recommender.domain.spaces import (
    label as label,
)
from recommender.domain.spaces import (
    spaces as spaces,
)
from recommender.domain.spaces import (
    standing_teeth as standing_teeth,
)
from recommender.domain.spaces import (
    unused_third_molars as unused_third_molars,
)


@dataclass(frozen=True, slots=True)
class Classification:
    """``number`` is ``I`` to ``IV``, or ``None`` when no tooth is to be replaced."""

    number: str | None
    modifications: int
    label: str
    steps: tuple[Step, ...]
    spaces: tuple[Space, ...]
    questions: tuple[Question, ...] = ()


def classify(case: Case) -> Classification:
    """Kennedy class of a case under Applegate's rules, with the rule that decided each step."""
    found = spaces(case)
    number, modifications = kennedy_class(found)
    narrator = Narrator(case)
    return Classification(
        number=number,
        modifications=modifications,
        label=label(number, modifications),
        steps=narrator.steps(found, number, modifications),
        spaces=found,
        questions=narrator.questions(found),
    )
