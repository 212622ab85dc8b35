"""A day's work as each role: a register brought in, changed, brought in again, approved; nothing is lost."""

import orjson
import pytest

from recommender.precedents.store.checking import faults
from recommender.precedents.store.documents import as_data, status
from recommender.precedents.store.team import people

from .conftest import CASES
from .test_people_verbs import run
from .test_roles import approve

pytestmark = pytest.mark.postgres


@pytest.fixture
def register(tmp_path):
    """Writes cases as a file of JSON lines."""

    def write(name, cases):
        path = tmp_path / f"{name}.jsonl"
        path.write_bytes(b"\n".join(orjson.dumps(as_data(case), option=orjson.OPT_NON_STR_KEYS) for case in cases))
        return str(path)

    return write


def told(result):
    assert result[0] == 0, result[1]
    return result[1]


def test_a_register_goes_through_the_house(team, register):
    cases = [case.model_copy(update={"id": f"reg-{number}", "outcome": None}) for number, case in enumerate(CASES[:6])]
    file = register("first", cases)
    code, said = run(team, "LN", "import", file, "--apply", "all")
    assert (code, "to bring cases in as drafts takes a designer" in said) == (1, True)
    told(run(team, "DS", "import", file, "--apply", "all"))
    assert {version.who for version in team.as_("DS").latest() if version.case_id.startswith("reg-")} == {"DS"}
    approve(team.as_("RV"), "reg-0")
    told(run(team, "D2", "outcome", "reg-0", "--months", "24", "--worn"))
    # the register again, one case better known; follow-up and approval stay
    better = [cases[0].model_copy(update={"title": "measured again"}), *cases[1:]]
    told(run(team, "DS", "import", register("second", better), "--apply", "all"))
    held = team.as_("DS").get("reg-0")
    assert (held.case.title, held.case.outcome.followed_months) == ("measured again", 24)
    assert status(held.case) == "draft"
    serving = team.as_("DS").serving_of(["reg-0"])["reg-0"]
    assert (status(serving.case), serving.case.title) == ("approved", cases[0].title)
    approve(team.as_("RV"), "reg-0")
    assert team.as_("LN").get("reg-0").case.title == "measured again"
    who = [(version.kind, version.who) for version in team.as_("ST").history("reg-0")]
    assert who == [("imported", "DS"), ("approved", "RV"), ("outcome", "D2"), ("imported", "DS"), ("approved", "RV")]
    assert faults(team.open(team.owner)) == []


def test_approval_stated_by_a_source_is_a_stewards_to_take_over(team, register):
    from recommender.domain.case import Review

    stated = [
        case.model_copy(update={"id": f"{alias}-stated", "review": Review(status="approved"), "title": None})
        for alias, case in zip(("DS", "ST"), CASES[6:8], strict=True)
    ]
    arguments = ("--keep-status", "--apply", "all")
    code, said = run(team, "DS", "import", register("ds", stated[:1]), *arguments)
    assert (code, "to bring cases in as approved takes a steward" in said) == (1, True), said
    # with four eyes even a steward brings in drafts: somebody else decides
    code, said = run(team, "ST", "import", register("st", stated[1:]), *arguments)
    assert (code, "somebody else approves it" in said) == (1, True), said
    people.settle(team.as_("ST"), {"four_eyes": False})
    try:
        told(run(team, "ST", "import", register("st", stated[1:]), *arguments))
    finally:
        people.settle(team.as_("ST"), {"four_eyes": True})
    assert team.as_("LN").get("ST-stated").who == "ST"
