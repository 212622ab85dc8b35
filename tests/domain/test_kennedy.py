"""Kennedy class: every dentition against an independent statement of the rules, and published items."""

import re
from pathlib import Path

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from recommender.domain.case import Case
from recommender.domain.dentition import ARCH_ORDER, mirror
from recommender.domain.kennedy import arch_spaces, classify, kennedy_class, spaces
from recommender.resources import shared

PUBLISHED = shared("published")


def roman(label: str) -> str:
    """``II mod 1`` for ``Class II, modification 1``, as the published items write it."""
    return label.removeprefix("Class ").replace(", modification", " mod")


def by_words(pattern: str) -> tuple[str | None, int]:
    """The class from a row of sixteen letters, ``S`` standing and ``M`` missing, right third molar first.

    Written from the sentences of the textbooks and not from the program: Kennedy 1928 (Class I: bilateral
    spaces behind the natural teeth; II: one such; III: a space with natural teeth before and behind it; IV:
    one space across the midline in front of the natural teeth) and Applegate's rules 5 to 8 (J Prosthet Dent
    1960;10:891-907, from memory).
    """
    if "M" not in pattern or "S" not in pattern:
        return None, 0
    areas = [area for area in pattern.split("S") if area]
    behind_right = pattern[0] == "M"
    behind_left = pattern[-1] == "M"
    if behind_right and behind_left:
        return "I", len(areas) - 2
    if behind_right or behind_left:
        return "II", len(areas) - 1
    over_midline = pattern[7] == "M" and pattern[8] == "M"
    if over_midline and len(areas) == 1:
        return "IV", 0
    return "III", len(areas) - 1


@pytest.mark.parametrize("arch", ["maxilla", "mandible"])
def test_every_dentition_of_an_arch(arch: str) -> None:
    order = ARCH_ORDER[arch]
    count = 0
    for bits in range(1 << 16):
        missing = frozenset(tooth for index, tooth in enumerate(order) if bits >> index & 1)
        pattern = "".join("M" if bits >> index & 1 else "S" for index in range(16))
        found = kennedy_class(arch_spaces(arch, missing, missing))
        assert found == by_words(pattern), pattern
        count += 1
    assert count == 65_536


@given(st.text(alphabet="SMA", min_size=16, max_size=16), st.sampled_from(["maxilla", "mandible"]))
@settings(max_examples=300, deadline=None)
def test_absent_teeth_neither_bound_nor_count(pattern: str, arch: str) -> None:
    """With ``A`` for absent: an area counts if a tooth in it is to be replaced, and is gone as a whole."""
    letters = dict(zip(ARCH_ORDER[arch], pattern, strict=True))
    missing = {tooth for tooth, letter in letters.items() if letter == "M"}
    gone = {tooth for tooth, letter in letters.items() if letter != "S"}
    # An area without a tooth to be replaced is as good as standing; any other area is missing as a whole, but
    # for the two central places, where only teeth to be replaced can cross the midline.
    areas = "".join(
        run if "S" in run else ("M" * len(run) if "M" in run else "S" * len(run))
        for run in re.findall("S+|[MA]+", pattern)
    )
    found = kennedy_class(arch_spaces(arch, missing, gone))
    if "S" in pattern and found[0] in ("I", "II"):
        assert found == by_words(areas)
    elif "S" in pattern and missing:
        number, modifications = by_words(areas)
        crossing = any("M" in left and "M" in right for left, right in halves(pattern))
        assert found == ("III" if number == "IV" and not crossing else number, modifications)


def halves(pattern: str) -> list[tuple[str, str]]:
    """The parts right and left of the midline of the area that lies over it."""
    right, left = pattern[:8].rsplit("S", 1)[-1], pattern[8:].split("S", 1)[0]
    return [(right, left)]


@pytest.mark.parametrize("arch", ["maxilla", "mandible"])
def test_mirror_images_have_the_same_class_and_mirrored_spaces(arch: str) -> None:
    order = ARCH_ORDER[arch]
    for bits in range(0, 1 << 16, 7):
        missing = {tooth for index, tooth in enumerate(order) if bits >> index & 1}
        here = arch_spaces(arch, missing, missing)
        there = arch_spaces(arch, {mirror(t) for t in missing}, {mirror(t) for t in missing})
        assert kennedy_class(here) == kennedy_class(there)
        as_seen = {
            (frozenset(map(mirror, s.teeth)), s.front and mirror(s.front), s.rear and mirror(s.rear))
            for s in here
        }
        assert as_seen == {(frozenset(s.teeth), s.front, s.rear) for s in there}


def test_both_arches_are_classed_alike() -> None:
    for bits in range(0, 1 << 16, 11):
        upper, lower = (
            {tooth for index, tooth in enumerate(ARCH_ORDER[arch]) if bits >> index & 1}
            for arch in ("maxilla", "mandible")
        )
        assert kennedy_class(arch_spaces("maxilla", upper, upper)) == kennedy_class(
            arch_spaces("mandible", lower, lower)
        )


def kennedy_items() -> list[dict[str, object]]:
    items = yaml.safe_load((PUBLISHED / "exam_items.yaml").read_text(encoding="utf-8"))
    return [item for item in items if item["ask"]["decision"] == "kennedy_class"]


@pytest.mark.parametrize("item", kennedy_items(), ids=lambda item: item["id"])
def test_published_items(item: dict[str, dict[str, object]]) -> None:
    """Items of shared/published/exam_items.yaml, each with its own source."""
    found = classify(Case.model_validate(item["case"]))
    assert roman(found.label) == item["expect"]["class"], item["source"]


def published_cases() -> list[Path]:
    return [
        path
        for path in sorted((PUBLISHED / "cases").glob("*.yaml"))
        if "kennedy" in yaml.safe_load(path.read_text(encoding="utf-8"))["expert"]
    ]


@pytest.mark.parametrize("path", published_cases(), ids=lambda path: path.stem)
def test_published_cases(path: Path) -> None:
    """The class that the authors of each published case state (source in the file)."""
    document = yaml.safe_load(path.read_text(encoding="utf-8"))
    expert = document.pop("expert")
    document.pop("evidence")
    assert roman(classify(Case.model_validate(document)).label) == expert["kennedy"], document["source"]


def case(**fields: object) -> Case:
    return Case.model_validate({"format": 1, "id": "t", "arch": "mandible", **fields})


def rules(found: object) -> list[int | None]:
    return [step.rule for step in found.steps]  # type: ignore[attr-defined]


def test_absent_second_and_third_molars_do_not_count() -> None:
    found = classify(case(missing=[35], absent=[37, 38, 47, 48]))
    assert found.label == "Class III"
    assert rules(found) == [2, 4, 5]


def test_a_missing_third_molar_counts_only_when_it_is_to_be_replaced() -> None:
    assert classify(case(missing=[36], absent=[38])).label == "Class III"
    counted = classify(case(missing=[36, 38]))
    assert counted.label == "Class II, modification 1"
    assert 2 in rules(counted)


def test_a_standing_third_molar_counts_when_listed_or_when_no_list_was_given() -> None:
    assert classify(case(missing=[37])).label == "Class III"
    assert classify(case(missing=[37], abutments=[{"tooth": 36}, {"tooth": 38}])).label == "Class III"


def test_an_unused_third_molar_bounds_nothing_and_raises_a_question() -> None:
    found = classify(case(missing=[37], abutments=[{"tooth": 36}]))
    assert found.label == "Class II"
    assert found.spaces[0].borders == (36,)
    assert [(q.field, q.otherwise) for q in found.questions] == [("abutments[38]", "Class III")]
    assert 3 in rules(found)


def test_no_question_about_a_third_molar_that_bounds_no_space() -> None:
    assert classify(case(missing=[36], abutments=[{"tooth": 35}, {"tooth": 37}])).questions == ()


def test_planned_extractions_count_as_gone() -> None:
    before = classify(case(missing=[36, 46]))
    after = classify(case(missing=[36, 37, 46], absent=[38], planned_extractions=[37]))
    assert (before.label, after.label) == ("Class III, modification 1", "Class II, modification 1")
    assert 1 in rules(after)


def test_a_space_with_only_absent_teeth_behind_it_is_an_extension() -> None:
    found = classify(case(missing=[36], absent=[37, 38]))
    assert found.label == "Class II"
    assert found.spaces[0].support == "extension"
    assert (found.spaces[0].teeth, found.spaces[0].absent) == ((36,), (37, 38))


def test_an_absent_tooth_between_two_missing_ones_leaves_one_space() -> None:
    found = spaces(case(missing=[34, 36], absent=[35]))
    assert [(space.teeth, space.borders) for space in found] == [((34, 36), (33, 37))]


def test_a_kept_root_still_counts_as_missing() -> None:
    found = classify(
        case(missing=[36, 37], absent=[38], abutments=[{"tooth": 37, "kind": "root"}, {"tooth": 35}])
    )
    assert found.label == "Class II"


def test_class_iv_has_no_modifications_and_a_further_space_makes_class_iii() -> None:
    alone = classify(case(missing=[31, 41]))
    assert (alone.label, rules(alone)[-1]) == ("Class IV", 8)
    with_another = classify(case(missing=[31, 41, 36]))
    assert with_another.label == "Class III, modification 1"
    assert 8 in rules(with_another)


def test_a_space_up_to_the_midline_is_class_iii() -> None:
    assert classify(case(missing=[31, 32])).label == "Class III"


def test_no_missing_tooth_has_no_class() -> None:
    found = classify(case(missing=[]))
    assert (found.number, found.label, found.spaces) == (None, "no class", ())


def test_front_and_rear_borders() -> None:
    right, left = spaces(case(missing=[46, 36]))
    assert (right.front, right.rear) == (45, 47)
    assert (left.front, left.rear) == (35, 37)
    (centre,) = spaces(case(missing=[31]))
    assert (centre.front, centre.rear, centre.crosses_midline) == (41, 32, False)
    (across,) = spaces(case(missing=[31, 41]))
    assert (across.front, across.rear, across.crosses_midline) == (None, None, True)
    (long_extension,) = spaces(case(missing=list(ARCH_ORDER["mandible"][:14])))
    assert (long_extension.front, long_extension.rear, long_extension.support) == (37, None, "extension")


def test_a_step_names_its_teeth() -> None:
    found = classify(case(missing=[36], absent=[38]))
    assert found.steps[-1].statement.teeth == {36}
    assert found.steps[-1].teeth == (36,)
