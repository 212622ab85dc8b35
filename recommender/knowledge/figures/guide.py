"""``rule_guide.yaml``: what ``rules check`` holds the points of rules against."""

from typing import Annotated, Literal

from pydantic import Field

from recommender.domain.measures import Record


class RuleGuide(Record):
    """Limits of points and citations; ``shared/rule_guide.yaml`` says what each is for."""

    format: Literal[1]
    most_points: Annotated[float, Field(gt=0, le=50)]
    most_disputed_points: Annotated[float, Field(gt=0, le=50)]
    shortest_citation: Annotated[int, Field(ge=1, le=1000)]
    may_ask_whether_recorded: list[str]
