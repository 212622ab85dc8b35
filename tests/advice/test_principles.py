"""Textbook situations answered as the textbooks answer them: ``principles.yaml`` beside this file, source by source."""

from pathlib import Path
from typing import Any

import pytest
import yaml

from recommender.advice.model import Framework, Recommendation
from recommender.advice.recommend import Recommender
from recommender.domain.case import Case
from recommender.domain.fields import with_field

SITUATIONS: list[dict[str, Any]] = yaml.safe_load(
    (Path(__file__).parent / "principles.yaml").read_text(encoding="utf-8")
)
USABLE = ("open", "needs_preparation")


def decided(answer: Recommendation, decision: str) -> Any:
    kind, _, tooth = decision.partition(":")
    return answer.connector if kind == "connector" else getattr(answer, f"{kind}s")[int(tooth)]


def part(framework: Framework, decision: str) -> str | None:
    kind, _, tooth = decision.partition(":")
    return framework.connector if kind == "connector" else getattr(framework, f"{kind}s").get(int(tooth))


@pytest.mark.parametrize("situation", SITUATIONS, ids=lambda one: one["id"])
def test_textbook_situations(rules_alone: Recommender, situation: dict[str, Any]) -> None:
    case = Case.model_validate({"format": 1, "id": situation["id"], **situation["case"]})
    wanted, unwanted = situation.get("framework", {}), situation.get("not_framework", {})
    answer = rules_alone.recommend(case, 1 if wanted or unwanted else 0)
    for decision, option in situation.get("leads", {}).items():
        ranked = decided(answer, decision).ranked
        assert ranked[0].option == option, (decision, [(o.option, o.score) for o in ranked[:3]])
        assert ranked[0].status in USABLE, decision
        rivals = [o.score for o in ranked[1:] if o.status == ranked[0].status]
        assert not rivals or ranked[0].score - rivals[0] > CLEAR, (decision, ranked[1].option)
    for decision, (better, worse) in situation.get("above", {}).items():
        assert decided(answer, decision).option(better).score > decided(answer, decision).option(worse).score + CLEAR
    for decision, option in situation.get("not_usable", {}).items():
        assert decided(answer, decision).option(option).status not in USABLE, (decision, option)
    for decision, option in wanted.items():
        assert part(answer.frameworks[0], decision) == option, (decision, answer.frameworks[0].retainers)
    for decision, option in unwanted.items():
        assert part(answer.frameworks[0], decision) != option, (decision, answer.frameworks[0].retainers)
    for decision, option in situation.get("usable", {}).items():
        assert decided(answer, decision).option(option).status in USABLE, (decision, option)
    for path, values in situation.get("same_for", {}).items():
        scores = [of_teeth(rules_alone, with_field(case, path, value)) for value in values]
        assert all(one == scores[0] for one in scores), path
    assert situation["source"]


def of_teeth(recommender: Recommender, case: Case) -> list[tuple[str, float]]:
    """Every option of every tooth with its score."""
    answer = recommender.recommend(case, 0)
    return [(o.option, o.score) for result in answer.retainers.values() for o in result.ranked]


CLEAR = 0.25
"""Points by which a textbook's first choice stands apart here: more than rounding, less than what is called equal."""
