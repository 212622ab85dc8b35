"""Worlds: one joint distribution, fixed lots, left and right alike; no field that a decision waits for is forgotten."""

from collections import Counter
from itertools import product
from pathlib import Path

import numpy as np
import pytest

from benchmarks.mirrored import mirror_case
from recommender.advice.confidence.answers import Confidence
from recommender.advice.confidence.plausible import pattern_of, plausible
from recommender.advice.confidence.worlds import Worlds
from recommender.advice.explanation.gaps import waited_for
from recommender.advice.recommend import Recommender
from recommender.domain.case import Case
from recommender.domain.errors import Problem
from recommender.domain.fields import with_field, without_field
from recommender.domain.findings import Abutment, Patient, Records, Undercuts
from recommender.domain.measures import UndercutInterval
from recommender.domain.validation import read_model
from recommender.facts.derive import derive
from recommender.knowledge import drafts
from recommender.knowledge.figures.plausible import PlausibleFile, lacking_parents
from recommender.precedents.source import demo_source

NEVER_DRAWN = {"planned_extractions", "abutments[].permitted", "patient.sex", "abutments[].kind"}


def bare(**more: object) -> Case:
    return Case(format=1, id="w-1", arch="mandible", missing=[36, 46], **more)  # type: ignore[arg-type]


def test_what_is_recorded_moves_what_is_plausible_as_bayes_has_it() -> None:
    """The posterior of bone and age given mobility there and bone at another tooth, by enumeration of the joint: teeth
    of one mouth go together, through what they have in common."""
    case = bare(
        abutments=[
            Abutment(tooth=37, mobility=2),
            Abutment(tooth=35, bone_support="reduced"),
            Abutment(tooth=45),
            Abutment(tooth=47),
        ]
    )
    worlds = Worlds(derive(case), 400)
    place = {"arch": "mandible", "tooth_type": "molar"}
    found = [
        plausible().entry(path, place)
        for path in ("patient.age", "mouth.periodontium", "abutments[].bone_support", "abutments[].mobility")
    ]
    age, mouth, bone, mobility = (entry for entry in found if entry)
    loose, reduced = mobility.nearest(2), bone.nearest("reduced")
    joint: Counter[tuple[object, object]] = Counter()
    for (i, years), (k, common), (j, word) in product(*(enumerate(e.values) for e in (age, mouth, bone))):
        share = age.table[0, i] * mouth.table[mouth.row(years), k] * bone.table[bone.row(common), j]
        share *= bone.table[bone.row(common), reduced] * mobility.table[mobility.row(word), loose]
        joint[years, word] += share
    whole = sum(joint.values())
    here, alone = (
        w.share("abutments[37].bone_support")
        for w in (worlds, Worlds(derive(without_field(case, "abutments[35].bone_support")), 400))
    )
    for word in bone.values:
        expected = sum(p for (_, w), p in joint.items() if w == word) / whole
        assert here[word] == pytest.approx(expected, abs=1e-12)
    assert here["good"] < alone["good"]
    ages = worlds.share("patient.age")
    for years in age.values:
        expected = sum(p for (y, _), p in joint.items() if y == years) / whole
        assert ages[years] == pytest.approx(expected, abs=1e-12)
    assert not [path for path in worlds.drawn() if path.startswith("mouth.")]


def test_worlds_follow_their_shares_and_their_parents() -> None:
    worlds = Worlds(derive(bare()), 4000)
    for path in ("patient.hygiene", "abutments[37].tilt", "floor.depth_mm", "spans[36].clearance_mm"):
        drawn = worlds.draw(path)
        assert drawn is not None
        seen = np.bincount(drawn.codes, minlength=len(drawn.values)) / worlds.count
        assert drawn.entry
        error = np.sqrt(drawn.share * (1 - drawn.share) / worlds.count)  # of independent lots
        # the lots of a field are spread evenly: without a parent that goes for its values too
        assert (np.abs(seen - drawn.share) <= (0.01 if drawn.entry.parent is None else 3 * error)).all(), path
    hygiene, caries = worlds.draw("patient.hygiene"), worlds.draw("patient.caries_risk")
    assert hygiene
    assert caries
    assert caries.entry
    poor = hygiene.codes == hygiene.values.index("poor")
    seen = np.bincount(caries.codes[poor], minlength=3) / poor.sum()
    assert np.abs(seen - caries.entry.table[caries.entry.row("poor")]).max() < 0.06


def test_the_same_case_has_the_same_worlds_whatever_the_order_of_its_lists() -> None:
    teeth = [Abutment(tooth=t) for t in (35, 37, 45, 47)]
    one, other = Worlds(derive(bare(abutments=teeth)), 64), Worlds(derive(bare(abutments=teeth[::-1])), 64)
    for path in (
        "abutments[35].tilt",
        "abutments[47].undercuts_mm.mesiofacial",
        "spans[46].ridge",
        "patient.age",
    ):
        a, b = one.draw(path), other.draw(path)
        assert a
        assert b
        assert (a.codes == b.codes).all()


def test_a_mirrored_case_has_the_same_worlds_in_another_order() -> None:
    case = Case(
        format=1,
        id="w-2",
        arch="maxilla",
        missing=[16, 15, 11],
        abutments=[Abutment(tooth=14, tilt="mesial")],
    )
    here, there = Worlds(derive(case), 64), Worlds(derive(mirror_case(case)), 64)
    swap = np.concatenate((np.arange(32, 64), np.arange(32)))
    pairs = (
        ("abutments[14].undercuts_mm.mesiofacial", "abutments[24].undercuts_mm.mesiofacial"),
        ("spans[16].clearance_mm", "spans[25].clearance_mm"),
        ("patient.hygiene", "patient.hygiene"),
    )
    for mine, theirs in pairs:
        a, b = here.draw(mine), there.draw(theirs)
        assert a
        assert b
        assert [a.values[c] for c in a.codes] == [b.values[c] for c in b.codes[swap]], mine


def test_teeth_of_the_two_sides_have_lots_of_their_own() -> None:
    worlds = Worlds(derive(bare()), 400)
    left, right = worlds.draw("abutments[37].tilt"), worlds.draw("abutments[47].tilt")
    assert left
    assert right
    assert (left.codes != right.codes).mean() > 0.2


def test_an_interval_is_drawn_within_its_ends() -> None:
    depth = UndercutInterval(low=0.2, value=0.3, high=0.4)
    case = bare(abutments=[Abutment(tooth=35, undercuts_mm=Undercuts(distofacial=depth))])
    drawn = Worlds(derive(case), 400).draw("abutments[35].undercuts_mm.distofacial")
    assert drawn is not None
    values = np.array(drawn.values)[drawn.codes]
    assert values.min() >= 0.2
    assert values.max() <= 0.4
    assert abs(np.median(values) - 0.3) < 0.01
    assert 0.1 < (values < 0.25).mean() < 0.25  # (0.206 - 0.05) / 0.9 = 0.17 by the normal curve


def test_every_field_that_a_decision_waits_for_has_an_entry(with_demo: Recommender) -> None:
    lacking = set()
    for number, case in enumerate(demo_source().cases()):
        if number % 30:
            continue
        analysis = with_demo.work(case)
        worlds = Worlds(analysis.facts, 2)
        for decision in analysis.decisions():
            for path in dict.fromkeys(waited_for(analysis.examine(decision))):
                if path != "future_loss_likely" and worlds.draw(path) is None:
                    lacking.add(pattern_of(path))
    assert lacking <= NEVER_DRAWN


def test_entries_name_their_source() -> None:
    found = {"page", "memory", "derived", "common_practice"}
    for known in plausible().entries.values():
        for entry in known:
            assert entry.source.strip()
            assert entry.found in found
            assert (entry.source == "common practice, no source") == (
                entry.found == "common_practice"
            ) or "judgement" in (entry.source)


GOOD = {"field": "a", "values": ["x", "y"], "shares": [0.4, 0.6], "source": "s", "found": "page"}


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"shares": [0.5, 0.6]}, "add up to 1"),
        ({"shares": [1.0]}, "one for each of 2 values"),
        ({"shares": {"k": [0.5, 0.5]}}, "a parent"),
        ({"parent": "b"}, "a parent where"),
        ({"parent": "b", "shares": [{"are": [0.5, 0.5]}, {"upto": 3, "are": [0.5, 0.5]}]}, "last band"),
        ({"normal": {"mean": 1, "sd": 1, "low": 0, "high": 2, "step": 0.5}}, "instead of both"),
        ({"source": None}, "source"),
    ],
)
def test_a_faulty_entry_is_refused_with_the_reason(changed: dict[str, object], said: str) -> None:
    problems: list[Problem] = []
    value = {"format": 1, "fields": [{key: v for key, v in {**GOOD, **changed}.items() if v is not None}]}
    assert read_model(PlausibleFile, value, lambda path: f"file.yaml{list(path)}", problems) is None
    assert any(said in str(problem) and "file.yaml" in str(problem) for problem in problems), problems


def test_a_parent_without_an_entry_is_refused() -> None:
    file = PlausibleFile.model_validate(
        {"format": 1, "fields": [{**GOOD, "parent": "b", "shares": {"k": [0.5, 0.5]}}]}
    )
    assert lacking_parents([file]) == [(0, 0, "parent b, which has no entry", "a field with an entry")]


def test_a_draft_may_change_what_is_plausible_and_when_a_choice_is_firm(tmp_path: Path) -> None:
    drafts.start(tmp_path / "draft")
    for name, old, new in (
        ("standing.yaml", "worlds: 400", "worlds: 64"),
        ("patient.yaml", "shares: [0.58, 0.33, 0.09]", "shares: [0.10, 0.20, 0.70]"),
    ):
        path = tmp_path / "draft" / "figures" / "plausible" / name
        assert old in path.read_text(encoding="utf-8")
        path.write_text(path.read_text(encoding="utf-8").replace(old, new), encoding="utf-8")
    draft = drafts.read(tmp_path / "draft")
    assert draft.knowledge is not None, draft.problems
    worlds = Confidence(Recommender(None, draft.knowledge).work(bare())).worlds
    assert worlds.count == 64
    assert worlds.share("patient.hygiene")["poor"] == pytest.approx(0.70)
    packaged = Confidence(Recommender(None).work(bare())).worlds
    assert (packaged.count, packaged.share("patient.hygiene")["poor"]) == (400, pytest.approx(0.09))


def test_on_a_cast_that_stands_level_the_two_undercuts_are_one() -> None:
    """By definition of the fields: at a tilt of 0 and 0 the chosen path is the level one."""
    level = Records(tilt_ap_deg=0, tilt_lateral_deg=0)
    at = "abutments[35].undercuts_level_mm.distofacial"
    case = with_field(bare(records=level, abutments=[Abutment(tooth=35)]), at, 0.25)
    assert Worlds(derive(case), 64).share("abutments[35].undercuts_mm.distofacial")[0.25] == pytest.approx(1.0)
    open_ = Worlds(derive(without_field(case, at)), 64)
    here, there = open_.draw("abutments[35].undercuts_mm.distofacial"), open_.draw(at)
    assert here is not None
    assert there is not None
    assert (here.codes == there.codes).all()


def test_the_young_and_the_old_differ() -> None:
    young = Worlds(derive(bare(patient=Patient(age=35))), 2).share("abutments[37].bone_support")
    old = Worlds(derive(bare(patient=Patient(age="90+"))), 2).share("abutments[37].bone_support")
    assert young["good"] > old["good"]
