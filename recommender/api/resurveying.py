"""A design held against the survey of the cast after preparation, one line a tooth."""

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from recommender.advice.analysis import NoAdviceError
from recommender.advice.resurvey import ToothResurvey, on_new_cast
from recommender.api import libraries
from recommender.api.advising import NothingToAdviseError
from recommender.domain.case import Case
from recommender.wording.words import Words, words_in

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class Resurveyed:
    """What still stands, what changed and what to do: ``teeth`` as typed values, ``lines`` and ``table`` in words."""

    teeth: tuple[ToothResurvey, ...]
    words: Words

    @property
    def lines(self) -> list[str]:
        """One line a tooth."""
        return [self.words.text(one.said) for one in self.teeth]

    @property
    def table(self) -> "pd.DataFrame":
        """One row a tooth: tooth, part, standing (``stands``, ``stands_changed``, ``falls``), changed, to do."""
        import pandas as pd

        rows = [
            [
                self.words.tooth(one.tooth), self.words.option("retainer", one.part), one.standing,
                "; ".join(self.words.lines(one.changed)), "; ".join(self.words.lines(one.to_do)),
            ]
            for one in self.teeth
        ]  # fmt: skip
        return pd.DataFrame(rows, columns=["tooth", "part", "standing", "changed", "to_do"])

    def __repr__(self) -> str:
        return "\n".join(self.lines)


def resurvey(
    case: Case | str | Path,
    new: Case | str | Path,
    library: str | Path | None = libraries.CONFIGURED,
    *,
    numbering: str = "iso",
    language: str = "en",
) -> Resurveyed:
    """The design of a case held against the same case with the survey of the cast after preparation.

    ``case`` and ``new`` are cases or the paths of case files; the case's own design is taken, else the first proposal
    for it. Raises ``CaseError`` for a case that cannot be used, two different mouths, or no design, ``LibraryError``
    for a library that cannot be opened, ``NothingToAdviseError`` for an arch without a Kennedy class.
    """
    from recommender.domain.reader import read_case

    before, after = (one if isinstance(one, Case) else read_case(one) for one in (case, new))
    words = words_in(numbering, language)
    try:
        return Resurveyed(on_new_cast(libraries.recommender(library), before, after), words)
    except NoAdviceError as nothing:
        raise NothingToAdviseError(f"{before.id}: {words.text(nothing.statement)}") from None
