"""Situations of a case: which decisions it records, mirror images, worth of an outcome, the compiled demo."""

from pathlib import Path
from typing import Any

import pytest

from recommender.domain.case import Case
from recommender.domain.dentition import mirror
from recommender.domain.errors import CaseError
from recommender.domain.reader import read_value
from recommender.facts.derive import derive
from recommender.precedents.index import compiled
from recommender.precedents.index.building import library_of
from recommender.precedents.library import Filters, PrecedentLibrary
from recommender.precedents.model import Situation
from recommender.precedents.outcome_value import OutcomeFigures, outcome_figures, value_of_outcome
from recommender.precedents.search.tables import Likeness, load
from recommender.precedents.situations import all_situations, fingerprint, situation_for, situations
from recommender.precedents.source import FolderSource, NoCases, demo_source

# Invented by us for this test.
BASE: dict[str, Any] = {
    "format": 1,
    "id": "test-1",
    "arch": "mandible",
    "missing": [36, 37, 45],
    "absent": [38, 48],
    "patient": {"aesthetic_priority": "high", "hygiene": "good", "allergy": ["nickel"]},
    "spans": [
        {"teeth": [36, 37], "clearance_mm": 6.0, "ridge": "firm"},
        {"teeth": [45], "clearance_mm": {45: 4.0}},
    ],
    "abutments": [
        {
            "tooth": 35,
            "undercuts_mm": {"distofacial": 0.25, "mesiofacial": 0.5},
            "tilt": "distal",
            "mobility": 0,
        },
        {"tooth": 44, "restoration": "crowned"},
        {"tooth": 46, "undercuts_mm": {"mesiofacial": 0.25}},
        {"tooth": 33},
    ],
    "floor": {"depth_mm": 9.0},
    "design": {
        "connector": "lingual_bar",
        "retainers": [
            {"tooth": 35, "assembly": "i_bar", "rest": "mesial"},
            {"tooth": 46, "assembly": "circumferential", "approach": "mesial"},
        ],
        "rests": {"35": "mesial", "46": "mesial", "33": "cingulum"},
        "replacements": {"36": "resin_tooth_lattice", "37": "resin_tooth_lattice", "45": "tube_tooth"},
    },
    "review": {"status": "approved"},
}


def case(**changes: Any) -> Case:
    return read_value({**BASE, **changes})


def mirrored(value: Any) -> Any:
    """The same case on the other side: every tooth number becomes its mirror image."""
    if isinstance(value, dict):
        return {_mirror(key): mirrored(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [mirrored(inner) for inner in value]
    return _mirror(value)


def _mirror(value: Any) -> Any:
    number = int(value) if isinstance(value, (int, str)) and str(value).isdigit() else 0
    return type(value)(mirror(number)) if 11 <= number <= 48 and not isinstance(value, bool) else value


@pytest.fixture(scope="module")
def likeness() -> Likeness:
    return load()


def of(one: Case, likeness: Likeness) -> list[Situation]:
    return situations(one, derive(one), likeness, outcome_figures())


def choices(found: list[Situation], kind: str) -> dict[int, str | None]:
    return {s.site: s.choice for s in found if s.kind == kind}


def test_every_decision_of_a_design(likeness: Likeness) -> None:
    found = of(case(), likeness)
    assert choices(found, "connector") == {0: "lingual_bar"}
    assert choices(found, "replacement") == {
        36: "resin_tooth_lattice", 37: "resin_tooth_lattice", 45: "tube_tooth"
    }  # fmt: skip
    # 33 was given a rest and 44 nothing at all
    assert choices(found, "retainer") == {33: "rest_only", 35: "i_bar", 44: "none", 46: "circumferential"}
    assert choices(found, "rest") == {33: "cingulum", 35: "mesial", 44: "none", 46: "mesial"}
    assert len({(s.kind, s.site) for s in found}) == len(found)


def test_what_a_design_leaves_out_is_not_none(likeness: Likeness) -> None:
    design = {key: value for key, value in BASE["design"].items() if key != "rests"}
    found = of(case(design=design), likeness)
    assert choices(found, "retainer") == {35: "i_bar", 46: "circumferential"}
    assert choices(found, "rest") == {35: "mesial"}
    assert of(case(design=None), likeness) == []
    assert of(case(review={"status": "retired"}), likeness) == []
    assert not any(s.approved for s in of(case(review={"status": "draft"}), likeness))


def test_features_are_near_and_far(likeness: Likeness) -> None:
    found = {(s.kind, s.site): s.features for s in of(case(), likeness)}
    near_35 = found["retainer", 35]
    assert near_35["derived.support"] == "extension"
    assert (near_35["derived.near_facial_mm"], near_35["derived.far_facial_mm"]) == (0.25, 0.5)
    assert near_35["derived.tilt"] == "toward_space"
    assert near_35["abutment.bone_support"] is None
    assert found["rest", 35]["rest.assembly"] == "i_bar"
    assert found["replacement", 45]["span.clearance_mm"] == 4.0
    assert found["replacement", 45]["patient.allergy.methacrylate"] is False
    assert found["connector", 0]["floor.depth_mm"] == 9.0


def test_mirror_image_gives_the_same_situations(likeness: Likeness) -> None:
    """The other side of the mouth is the same situation at the mirrored tooth, in every feature."""
    for source in [BASE, *(one.model_dump(mode="json", exclude_none=True) for one in demo_source().cases())][
        :40
    ]:
        one = read_value(source)
        other = read_value({**mirrored(source), "id": "mirrored"})
        here = {(s.kind, s.site): (s.features, s.choice, s.worth) for s in of(one, likeness)}
        there = {
            (s.kind, mirror(s.site) if s.site else 0): (s.features, s.choice, s.worth)
            for s in of(other, likeness)
        }
        assert here == there, one.id


def test_fingerprint_is_of_the_content_whatever_its_name_and_order() -> None:
    one = case()
    assert fingerprint(one) == fingerprint(case(id="other", title="x", review=None))
    backwards = {key: list(reversed(BASE[key])) for key in ("abutments", "spans", "missing", "absent")}
    assert fingerprint(one) == fingerprint(case(**backwards))
    assert fingerprint(one) != fingerprint(case(floor={"depth_mm": 8.9}))
    # the same mouth with another design, or none, is still the same mouth
    assert fingerprint(one) == fingerprint(case(design={**BASE["design"], "connector": "linguoplate"}))
    assert fingerprint(one) == fingerprint(case(design=None, outcome={"accepted": True}))


def test_a_case_is_never_its_own_precedent(likeness: Likeness) -> None:
    one, copy, like = case(), case(id="copy"), case(id="like", floor={"depth_mm": 8.0})
    library = PrecedentLibrary.build(all_situations([one, copy, like], likeness), likeness)
    asked = situation_for(derive(one), "retainer", 35, "distal", likeness=likeness)
    found = library.nearest(asked, 50, filters=Filters(approved_only=False))
    assert {n.situation.case_id for n in found} == {"like"}
    assert found[0].situation.choice == "i_bar"


def test_asking_from_no_side_keeps_only_what_both_sides_agree_on(likeness: Likeness) -> None:
    asked = situation_for(derive(case(missing=[34, 36, 37, 45])), "retainer", 35, likeness=likeness)
    assert asked.features["derived.between_spaces"] is True
    assert asked.features["derived.near_facial_mm"] is None
    assert asked.features["abutment.mobility"] == 0
    with pytest.raises(KeyError):
        situation_for(derive(case()), "replacement", 34, likeness=likeness)


FIGURES = OutcomeFigures(
    {"approved": 0.3, "accepted": 0.4, "worn_under_12": 0.5, "worn_12_to_36": 0.8, "worn_36_or_more": 1.0,
     "declined": -0.5, "changed": -0.3, "not_worn": -0.7, "remade": -1.0, "clasp_fracture": -0.6, "relined": 0.3,
     "tooth_debond": -0.5, "framework_fracture": -0.9},
    {"retainer": frozenset({"clasp_fracture", "remade", "not_worn"}), "rest": frozenset({"remade"}),
     "connector": frozenset({"framework_fracture", "remade"}),
     "replacement": frozenset({"tooth_debond", "relined", "remade"})},
)  # fmt: skip


@pytest.mark.parametrize(
    ("outcome", "answer", "decision", "expected"),
    [
        (None, None, ("retainer", 35, "i_bar"), 0.3),
        ({"accepted": True}, None, ("retainer", 35, "i_bar"), 0.4),
        ({"accepted": False}, None, ("retainer", 35, "i_bar"), -0.5),
        ({"followed_months": 6}, None, ("retainer", 35, "i_bar"), 0.5),
        ({"accepted": True, "followed_months": 40}, None, ("connector", 0, "lingual_bar"), 1.0),
        ({"followed_months": 14}, ("retainers.35", "declined"), ("retainer", 35, "i_bar"), -0.5),
        ({"followed_months": 14}, ("retainers.35", "declined"), ("retainer", 46, "ring"), 0.8),
        (None, ("connector", "changed"), ("connector", 0, "lingual_bar"), -0.3),
        (None, ("connector", "accepted"), ("connector", 0, "lingual_bar"), 0.4),
        ({"events": [{"event": "clasp_fracture", "tooth": 35}]}, None, ("retainer", 35, "i_bar"), -0.6),
        ({"events": [{"event": "clasp_fracture", "tooth": 35}]}, None, ("retainer", 46, "ring"), 0.3),
        ({"events": [{"event": "clasp_fracture", "tooth": 35}], "followed_months": 24}, None,
         ("connector", 0, "lingual_bar"), 0.8),
        ({"events": [{"event": "clasp_fracture", "part": "i_bar"}]}, None, ("retainer", 35, "i_bar"), -0.6),
        ({"events": [{"event": "clasp_fracture", "part": "i_bar"}]}, None, ("retainer", 46, "ring"), 0.3),
        ({"events": [{"event": "framework_fracture"}]}, None, ("connector", 0, "lingual_bar"), -0.9),
        ({"events": [{"event": "remade", "month": 3}], "followed_months": 40}, None, ("rest", 35, "mesial"), -1.0),
        ({"events": [{"event": "relined", "month": 20}, {"event": "tooth_debond", "tooth": 36}]}, None,
         ("replacement", 36, "tube_tooth"), -0.5),
        ({"still_worn": False, "followed_months": 30}, None, ("retainer", 35, "i_bar"), -0.7),
    ],
)  # fmt: skip
def test_worth_of_an_outcome(
    outcome: dict[str, Any] | None,
    answer: tuple[str, str] | None,
    decision: tuple[str, int, str],
    expected: float,
) -> None:
    answers = [{"item": answer[0], "answer": answer[1]}] if answer else None
    found = value_of_outcome(case(outcome=outcome, dentist_answer=answers), FIGURES, *decision)
    assert found.value == expected
    assert found.verdict
    assert found.outcome_known == (outcome is not None)


def test_worth_is_told_in_words() -> None:
    fractured = case(outcome={"events": [{"event": "clasp_fracture", "tooth": 35, "month": 1}]})
    assert value_of_outcome(fractured, FIGURES, "retainer", 35, "i_bar").verdict == "event:clasp_fracture:35:1"
    worn = case(outcome={"followed_months": 40})
    assert value_of_outcome(worn, FIGURES, "retainer", 35, "i_bar").verdict == "worn:40"


def test_folder_is_read_in_order_of_id_and_told_apart(tmp_path: Path) -> None:
    (tmp_path / "b.yaml").write_text("{format: 1, id: a-1, arch: maxilla, missing: [15]}")
    (tmp_path / "a.json").write_text('{"format": 1, "id": "z-1", "arch": "maxilla", "missing": [16]}')
    source = FolderSource(tmp_path)
    assert source.ids() == ["a-1", "z-1"]
    assert source.get("z-1").missing == [16]
    with pytest.raises(KeyError):
        source.get("nobody")
    before = source.version()
    (tmp_path / "c.yaml").write_text("{format: 1, id: a-1, arch: maxilla, missing: [14]}")
    with pytest.raises(CaseError, match=r"c\.yaml: id: found a-1"):
        FolderSource(tmp_path).ids()
    (tmp_path / "c.yaml").write_text("{format: 1, id: c-1, arch: maxilla, missing: [14]}")
    assert FolderSource(tmp_path).version() != before
    (tmp_path / "c.yaml").write_text("{format: 1, id: c-1, arch: middle, missing: [14]}")
    with pytest.raises(CaseError, match="arch"):
        FolderSource(tmp_path).version()
    assert (NoCases().ids(), list(NoCases().cases())) == ([], [])


@pytest.fixture(scope="module")
def demo(likeness: Likeness) -> list[Situation]:
    return list(all_situations(demo_source().cases(), likeness))


def test_compiled_form_is_the_same_situations(demo: list[Situation], likeness: Likeness) -> None:
    content = compiled.dump(demo, "now")
    assert compiled.parse(content, "now") == demo
    assert compiled.parse(content, "later") is None
    assert compiled.parse(content[:-9], "now") is None
    assert compiled.parse(b"", "now") is None
    assert compiled.parse(content[:50] + bytes([content[50] ^ 255]) + content[51:], "now") is None


def test_packaged_form_if_it_fits_is_the_truth(demo: list[Situation], likeness: Likeness) -> None:
    ready = compiled.read(demo_source().folder, likeness.version)
    assert ready is None or ready == demo
    library = library_of(demo_source(), likeness)
    for kind in likeness.kinds:
        assert library.count(kind) == sum(s.kind == kind for s in demo)


def test_stamp_follows_the_cases_and_the_tables(tmp_path: Path) -> None:
    (tmp_path / "a.yaml").write_text("one")
    first = compiled.stamp(tmp_path, "1")
    assert compiled.stamp(tmp_path, "1") == first
    assert compiled.stamp(tmp_path, "2") != first
    (tmp_path / "a.yaml").write_text("two")
    assert compiled.stamp(tmp_path, "1") != first
    assert compiled.read(tmp_path, "1") is None
