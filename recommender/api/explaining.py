"""One option explained, or two contrasted, as text and as tables."""

from math import fsum
from typing import TYPE_CHECKING

from recommender.advice.explanation.explain import Explanation
from recommender.domain.statement import Word, quantity
from recommender.wording.words import Words

if TYPE_CHECKING:
    import pandas as pd

_SHOWN = 6


class Explained:
    """Why an option stands where it does.

    ``lines`` add up to its score; ``contrast`` (where another option was asked about) adds up to the difference of
    the two scores.
    """

    def __init__(self, found: Explanation, words: Words) -> None:
        self.found = found
        self._words = words

    @property
    def lines(self) -> "pd.DataFrame":
        """The lines of the score, largest first, in points on 0-100."""
        from recommender.api.tables import lines_table

        return lines_table(self.found.option, self._words)

    @property
    def contrast(self) -> "pd.DataFrame | None":
        """The lines in which the two options differ; ``None`` where no other was asked about."""
        import pandas as pd

        held = self.found.contrast
        if held is None:
            return None
        rows = [
            [
                line.points,
                line.first,
                line.second,
                line.kind,
                line.id,
                self._words.text(line.statement),
                line.source,
            ]
            for line in held.lines
        ]
        return pd.DataFrame(rows, columns=["points", "first", "second", "kind", "id", "text", "source"])

    def __repr__(self) -> str:
        words, option = self._words, self.found.option
        name = words.option(self.found.decision.kind, option.option)
        head = f"{words.title(self.found.decision)}: {name}, {words.term('status', option.status)}, {option.score:.1f}"
        lines = [line for line in self.found.lines if line.kind != "start"]
        said = [f"  {line.points:+.1f}  {words.text(line.statement)}" for line in lines[:_SHOWN]]
        starts = fsum(line.points for line in self.found.lines if line.kind == "start")
        out = [head, f"  {starts:+.1f}  {words.told('verb.explain.where_it_starts')}", *said]
        held = self.found.contrast
        if held is not None:
            other = words.option(self.found.decision.kind, held.second.option)
            out.append(
                words.told(
                    "verb.explain.why_not",
                    option=other,
                    status=Word("status", held.second.status),
                    points=quantity(held.points),
                )
            )
            out += [f"  {words.text(block.statement)}" for block in held.second.blocked_by]
            out += [f"  {line.points:+.1f}  {words.text(line.statement)}" for line in held.lines[:_SHOWN]]
        return "\n".join(out)
