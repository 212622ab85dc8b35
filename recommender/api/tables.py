"""Answers as pandas tables: one row an option, a line of a score, a part, an item of a review."""

from collections.abc import Iterable
from typing import TYPE_CHECKING

from recommender.advice.model import DecisionResult, Framework, OptionResult
from recommender.advice.review import ReviewItem
from recommender.domain.decision import Decision
from recommender.wording.words import Words

if TYPE_CHECKING:
    import pandas as pd


def options_table(result: DecisionResult, words: Words) -> "pd.DataFrame":
    """Every option of a decision, best first: identifier, status, score (0-100), name, approach, what blocks it."""
    import pandas as pd

    kind = result.decision.kind
    return pd.DataFrame(
        [
            {
                "option": option.option,
                "status": option.status,
                "score": option.score,
                "name": words.option(kind, option.option),
                "approach": option.approach,
                "rules": option.rules_score,
                "precedents": option.precedents_score,
                "precedent_weight": option.precedent_weight,
                "not_recorded": len(option.unverified),
                "blocked_by": " ".join(words.lines(block.statement for block in option.blocked_by)),
            }
            for option in result.ranked
        ]
    )


def lines_table(option: OptionResult, words: Words) -> "pd.DataFrame":
    """The lines of one score, largest first; ``points`` add up to the score."""
    import pandas as pd

    columns = ["points", "kind", "id", "criterion", "text", "source"]
    rows = [
        [line.points, line.kind, line.id, line.criterion, words.text(line.statement), line.source]
        for line in sorted(option.contributions, key=lambda line: -abs(line.points))
    ]
    return pd.DataFrame(rows, columns=columns)


def parts_table(framework: Framework, words: Words) -> "pd.DataFrame":
    """Every part of a framework: where it stands (ISO 3950; 0 for the whole arch), which option it is, its name."""
    import pandas as pd

    places = [(Decision("connector"), framework.connector)]
    places += [(Decision("retainer", tooth), part) for tooth, part in framework.retainers.items()]
    places += [(Decision("rest", tooth), part) for tooth, part in framework.rests.items()]
    places += [(Decision("replacement", tooth), part) for tooth, part in framework.replacements.items()]
    rows = [
        [decision.kind, decision.tooth, words.title(decision), option, words.option(decision.kind, option)]
        for decision, option in places
    ]
    return pd.DataFrame(rows, columns=["kind", "tooth", "where", "option", "name"])


def review_table(items: Iterable[ReviewItem], words: Words) -> "pd.DataFrame":
    """A prescription or design held against the proposal, one row an item;

    ``wording`` is what would be said to the dentist.
    """
    import pandas as pd

    rows = [
        [item.decision.key, item.verdict, item.asked, item.lead, item.points, words.text(item.wording)]
        for item in items
    ]
    return pd.DataFrame(rows, columns=["for", "verdict", "asked", "lead", "points_behind", "wording"])
