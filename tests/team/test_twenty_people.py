"""Twenty people at once: everybody's work is kept under their own name, and nobody does what is not theirs."""

import os
import random
import threading
import time

import pytest

from recommender.curation import review
from recommender.precedents.store.checking import faults
from recommender.precedents.store.errors import LibraryError, NotAllowed, StaleEdit
from recommender.precedents.store.team import people

from .conftest import CASES
from .test_roles import approve

pytestmark = pytest.mark.postgres
ROLES = ["learner"] * 4 + ["designer"] * 10 + ["reviewer"] * 4 + ["steward"] * 2


@pytest.fixture(scope="module")
def twenty(team):
    """Aliases of twenty people by role."""
    steward = team.as_("ST")
    names = {f"P{number}": role for number, role in enumerate(ROLES)}
    for alias, role in names.items():
        people.add(steward, alias, role, login=f"{alias.lower()}@lab.example")
    return names


def work(team, alias, role, hot, until, told):
    """What one person does: reads, adds, changes what others change too, and tries what is not theirs."""
    chance, library, count = random.Random(alias), team.as_(alias), 0
    try:
        while count < 2 or time.monotonic() < until:
            count += 1
            library.heads(status="approved")
            if role == "learner":
                with pytest.raises(NotAllowed):
                    library.add(CASES[0].model_copy(update={"id": f"{alias}-{told['run']}-{count}"}), who="")
                continue
            library.add(CASES[count % 40].model_copy(update={"id": f"{alias}-{told['run']}-{count}"}), who="")
            told["added"].append((f"{alias}-{told['run']}-{count}", alias))
            held = library.get(chance.choice(hot))
            try:
                changed = held.case.model_copy(update={"title": f"{alias} {count}"})
                review.revise(library, changed, opened=held.revision, who="", why="again")
                told["saved"].append((held.case_id, held.revision + 1, alias))
                approve(library, f"{alias}-{told['run']}-{count}")
                told["wrong"].append(f"{alias} approved their own case")
            except StaleEdit:
                told["stale"] += 1
            except (NotAllowed, review.NotApprovable):
                told["refused"] += 1
    except Exception as error:  # everything counts that a person would have met
        told["wrong"].append(f"{alias}: {type(error).__name__}: {error}")


def at_once(team, twenty, seconds):
    """Everybody at work for so long; what they were told, held against what is there."""
    hot = [team.draft("DS") for _ in range(4)]
    told = {"run": next(team.numbers), "added": [], "saved": [], "wrong": [], "stale": 0, "refused": 0}
    until = time.monotonic() + seconds
    threads = [
        threading.Thread(target=work, args=(team, alias, role, hot, until, told)) for alias, role in twenty.items()
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert told["wrong"] == []
    library = team.open(team.owner)
    for case_id, alias in told["added"]:
        assert library.get(case_id, 1).who == alias
    for case_id, revision, alias in told["saved"]:
        assert library.get(case_id, revision).who == alias
    for case_id in hot:
        versions = library.history(case_id)
        assert [version.revision for version in versions] == list(range(1, len(versions) + 1))
        assert len(versions) == 1 + sum(saved[0] == case_id for saved in told["saved"])
    assert faults(library) == []
    return told


def test_twenty_people_at_once(team, twenty):
    told = at_once(team, twenty, 0.0)
    assert len(told["added"]) == 2 * sum(role != "learner" for role in twenty.values())
    assert told["refused"] + told["stale"] == len(told["added"])


@pytest.mark.slow
@pytest.mark.skipif(not os.environ.get("RPD_LONG"), reason="long form: RPD_LONG=1")
def test_twenty_people_for_two_minutes(team, twenty):
    told = at_once(team, twenty, 120.0)
    print({name: value if isinstance(value, int) else len(value) for name, value in told.items()})
    assert told["saved"]
    assert told["refused"]
    with pytest.raises(LibraryError):
        approve(team.as_("P5"), told["added"][0][0])
