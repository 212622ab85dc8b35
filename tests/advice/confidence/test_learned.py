"""What is plausible by a library's own records: only where there are enough, and told as such."""

from collections.abc import Iterator

import pytest

from recommender.advice.confidence.answers import Confidence
from recommender.advice.confidence.learned import learned, plausible_for
from recommender.advice.confidence.plausible import plausible
from recommender.advice.confidence.values import Taken
from recommender.advice.recommend import Recommender
from recommender.domain.case import Case
from recommender.domain.findings import Abutment, Patient


def case(number: int, hygiene: str, mobility: int) -> Case:
    teeth = [Abutment(tooth=tooth, mobility=mobility, bone_support="good") for tooth in (35, 37, 45, 47)]
    return Case(
        format=1, id=f"own-{number}", arch="mandible", missing=[36, 46], abutments=teeth,
        patient=Patient(hygiene=hygiene),  # type: ignore[arg-type]
    )  # fmt: skip


def house(count: int) -> list[Case]:
    """Three of four patients with poor hygiene, one tooth of four loose, all with good bone."""
    return [case(i, "poor" if i % 4 else "good", 1 if i % 4 == 0 else 0) for i in range(count)]


def test_a_library_with_enough_records_is_believed_and_one_with_few_is_not() -> None:
    known = plausible()
    how = known.standing.learn
    assert learned(known, lambda most: house(how.cases - 1)) is known
    count = max(how.cases, how.records)
    own = learned(known, lambda most: house(count))
    entry, was = own.entries["patient.hygiene"][0], known.entries["patient.hygiene"][0]
    place = entry.values.index("poor")
    expected = (how.weight * was.table[0, place] + count * 3 / 4) / (how.weight + count)
    assert entry.table[0, place] == pytest.approx(expected)
    assert entry.own == count
    mobility = own.entries["abutments[].mobility"][0]
    good, poor = mobility.row("good"), mobility.row("poor")
    assert mobility.table[good, 1] > 0.2
    assert (
        mobility.table[poor] == known.entries["abutments[].mobility"][0].table[poor]
    ).all()  # never seen here
    assert mobility.table.sum(axis=1) == pytest.approx(1.0)
    bone, mouth = own.entries["abutments[].bone_support"][0], known.entries["mouth.periodontium"][0]
    ages = known.entries["patient.age"][0]
    old = known.entries["abutments[].bone_support"][0].table
    mouths = sum(s * mouth.table[mouth.row(a)] for a, s in zip(ages.values, ages.table[0], strict=True))
    assert bone.own == 4 * count  # all good: counted over all mouths, since nobody records a mouth
    expected = (how.weight * (mouths @ old)[0] + 4 * count) / (how.weight + 4 * count)
    assert (mouths @ bone.table)[0] == pytest.approx(expected)
    assert bone.table[0, 0] > bone.table[2, 0] > old[2, 0]
    assert own.entries["patient.smile_line"] == known.entries["patient.smile_line"]


def test_the_advice_of_such_a_library_is_asked_by_its_own_records() -> None:
    asked: list[int] = []

    def records(most: int) -> Iterator[Case]:
        asked.append(most)
        yield from house(300)

    recommender = Recommender(None, records=records)
    worlds = Confidence(recommender.work(case(999, "good", 0).model_copy(update={"patient": None}))).worlds
    assert worlds.share("patient.hygiene")["poor"] > 0.6
    plausible_for(recommender.engine)
    assert asked == [plausible().standing.learn.most]
    assert Taken("patient.hygiene", "poor", 0.7, "poor hygiene", 300).statement.code == "confidence.taken_own"
