"""The demo library: valid, complete, mixed as a laboratory's work is mixed, and about nobody.

Outside checks: the share of each Kennedy class against the published laboratory series in
``shared/tables/epidemiology.csv`` (Curtis DA et al. 1992, J Prosthet Dent 67:664, from memory;
Pun et al. 2011, J Prosthet Dent 106:48-56), measured floor depths (Cameron et al. 2002,
J Prosthodont) and the spread of published complications (Behr et al. 2012, Int J Prosthodont 25:138-144).
"""

import csv
import random
import re
from collections import Counter
from functools import cache
from statistics import mean
from typing import get_args

import pytest

from recommender.curation.coverage import Coverage, coverage, figures
from recommender.curation.recorded import recorded_fields
from recommender.curation.usage import PER_DECISION, adverse, followed
from recommender.domain import vocabulary as v
from recommender.domain.case import Case
from recommender.domain.dentition import ARCH_ORDER, is_anterior, neighbour, runs
from recommender.domain.errors import CaseError
from recommender.domain.findings import Abutment
from recommender.domain.kennedy import classify
from recommender.domain.measures import Interval, expected
from recommender.domain.reader import case_files, read_folder
from recommender.resources import demo_library, shared


@cache
def library() -> tuple[Case, ...]:
    read = list(read_folder(demo_library()))
    errors = [str(one) for one in read if isinstance(one, CaseError)]
    assert not errors, errors
    return tuple(one for one in read if isinstance(one, Case))


@cache
def covered() -> Coverage:
    return coverage(library())


def rows(prefix: str) -> dict[str, dict[str, str]]:
    with shared("tables", f"{prefix}.csv").open(encoding="utf-8", newline="") as table:
        return {row["id"]: row for row in csv.DictReader(table)}


def abutments(case: Case) -> dict[int, Abutment]:
    return {abutment.tooth: abutment for abutment in case.abutments or ()}


def gone(case: Case) -> set[int]:
    return {*case.missing, *(case.absent or ()), *(case.planned_extractions or ())}


def ids(case: Case) -> str:
    return case.id


def test_there_are_at_least_96_valid_cases_named_after_their_files() -> None:
    files = case_files(demo_library())
    assert len(files) == len(library()) >= 96
    assert sorted(path.stem for path in files) == sorted(case.id for case in library())
    assert len({case.id for case in library()}) == len(library())


def test_every_option_of_the_vocabulary_is_used() -> None:
    assert covered().unused == ()
    for decision, options in PER_DECISION.items():
        assert set(covered().options[decision]) == set(options)
    # the everyday ones often enough to be precedents
    for decision, option in (
        ("retainer", "circumferential"),
        ("retainer", "i_bar"),
        ("retainer", "embrasure"),
        ("retainer", "rest_only"),
        ("connector.maxilla", "anteroposterior_strap"),
        ("connector.maxilla", "palatal_strap"),
        ("connector.mandible", "lingual_bar"),
        ("connector.mandible", "linguoplate"),
        ("replacement", "resin_tooth_lattice"),
        ("replacement", "tube_tooth"),
        ("replacement", "metal_backed_facing"),
    ):
        assert covered().options[decision][option] >= 5, (decision, option)


def test_both_arches_about_equally() -> None:
    arches = covered().by_arch
    assert abs(arches["maxilla"] - arches["mandible"]) <= 0.1 * len(library())


@pytest.mark.parametrize("number", ["I", "II", "III", "IV"])
def test_kennedy_classes_as_in_a_laboratory(number: str) -> None:
    # Curtis 1992 (40, 33, 18, 9 %), within five percentage points
    share = covered().by_class[number] / len(library())
    assert share == pytest.approx(figures().class_frequency[number], abs=0.05)


def test_class_one_commonest_as_pun_2011_found() -> None:
    # Pun et al. 2011: 38.4 % of 1502 frameworks
    published = float(rows("epidemiology")["EPI-001"]["value_typical"]) / 100
    counts = covered().by_class
    assert counts["I"] == max(counts.values())
    assert counts["I"] / len(library()) == pytest.approx(published, abs=0.05)


def test_modifications_occur_in_every_class_that_has_them() -> None:
    found = Counter((classify(case).number, min(classify(case).modifications, 2)) for case in library())
    for number in ("I", "II", "III"):
        assert found[(number, 0)] >= 1
        assert found[(number, 1)] >= 5
        assert found[(number, 2)] >= 1
    assert found[("IV", 0)] == covered().by_class["IV"]


def test_good_and_bad_ends_both_occur() -> None:
    held = covered()
    assert 0.45 <= held.followed / held.cases <= 0.7
    assert held.clean >= 0.3 * held.followed
    assert held.adverse >= 0.3 * held.followed
    assert held.refused >= 2
    assert all(held.events[kind] for kind in get_args(v.EventKind))


@pytest.mark.parametrize(
    ("event", "row", "tolerance"),
    [
        ("clasp_fracture", "EPI-035", 8),  # Behr 2012: 16.1 % of dentures
        ("framework_fracture", "EPI-038", 4),  # Behr 2012: 5.1 %
        ("sore_spot", "EPI-044", 12),  # Behr 2012: 30.5 % of patients
    ],
)
def test_complications_about_as_frequent_as_published(event: str, row: str, tolerance: float) -> None:
    published = float(rows("epidemiology")[row]["value_typical"])
    known = [case for case in library() if followed(case)]
    struck = [case for case in known if any(e.event == event for e in case.outcome.events or ())]
    assert 100 * len(struck) / len(known) == pytest.approx(published, abs=tolerance)


def test_floor_depths_lie_about_the_measured_ones() -> None:
    # Cameron et al. 2002: 7.44 mm at the central incisor, 10.28 mm at the second premolar
    table = rows("connectors")
    front = float(table["CONN-044"]["value_typical"])
    back = float(table["CONN-045"]["value_typical"])
    depths = []
    for case in library():
        depth = case.floor.depth_mm if case.floor else None
        if depth is not None:
            depths.append(depth if isinstance(depth, float) else depth.incisor)
    assert front - 1 <= mean(depth for depth in depths if depth is not None) <= back


def test_undercuts_come_in_gauge_steps() -> None:
    steps = {0.0, 0.1, 0.25, 0.5, 0.75}
    for case in library():
        for abutment in case.abutments or ():
            for zones in (abutment.undercuts_mm, abutment.undercuts_level_mm):
                found = [getattr(zones, zone) for zone in v.ZONES] if zones else []
                # what was read off a scan is no gauge's
                gauged = {depth for depth in found if depth is not None and not isinstance(depth, Interval)}
                assert gauged <= steps, (case.id, abutment.tooth)


def test_about_a_third_of_what_matters_is_not_recorded() -> None:
    held = recorded_fields(library())
    matter = [
        "patient.age", "patient.smile_line", "patient.aesthetic_priority", "patient.hygiene",
        "patient.caries_risk", "patient.allergy", "occlusion.opposing", "occlusion.load",
        "occlusion.overbite", "occlusion.guidance", "records.mounting", "spans.clearance_mm",
        "spans.width_mm", "spans.ridge", "spans.ridge_loss", "abutments.undercuts_mm.mesiofacial",
        "abutments.undercuts_mm.midfacial", "abutments.undercuts_mm.distofacial",
        "abutments.crown_height_mm", "abutments.contour_height", "abutments.mobility",
        "abutments.bone_support", "abutments.restoration", "abutments.rest_seats",
        "abutments.rest_clearance_mm", "abutments.guiding_planes", "palate.torus", "palate.vault",
        "palate.rugae", "floor.depth_mm", "floor.torus", "floor.lingual_tilt", "floor.lingual_frenum",
    ]  # fmt: skip
    gaps = 1 - mean(held[name].share for name in matter)
    assert 0.2 <= gaps <= 0.4
    assert covered().never_recorded == ()


@pytest.mark.parametrize("case", library(), ids=ids)
def test_a_design_is_complete_enough_to_be_a_precedent(case: Case) -> None:
    design = case.design
    assert design is not None
    assert design.connector in v.connectors(case.arch)
    assert design.alloy is not None
    assert design.retainers
    assert set(design.replacements or {}) == set(case.missing)
    in_base = {tooth for base in design.bases or () for tooth in base.teeth}
    all_metal = {"metal_tooth", "metal_backed_facing", "leave_open"}
    assert {t for t, made in (design.replacements or {}).items() if made not in all_metal} <= in_base
    assert in_base <= set(case.missing)
    assert classify(case).number is not None
    extensions = [space for space in classify(case).spaces if space.support == "extension"]
    if extensions and not _plated(case):
        # where geometry allows: in front of canine abutments no tooth is fit for an indirect seat
        assert design.indirect_retainers or all(is_anterior(space.front) for space in extensions)


def _plated(case: Case) -> bool:
    plates = ("linguoplate", "complete_plate", "metal_resin_plate", "unilateral")
    return case.design is not None and case.design.connector in plates


@pytest.mark.parametrize("case", library(), ids=ids)
def test_a_design_follows_from_what_was_recorded(case: Case) -> None:
    design = case.design
    assert design is not None
    known = abutments(case)
    steps = design.preparation or ()
    made = {(p.tooth, p.surface) for p in steps if p.action == "create_undercut"}
    crowned = {p.tooth for p in steps if p.action == "crown"}
    for retainer in design.retainers or ():
        tooth, used = retainer.tooth, retainer.undercut
        kept = tooth in known and known[tooth].kind in ("root", "implant")
        assert kept or tooth not in gone(case), tooth
        spaces = [side for side in ("mesial", "distal") if neighbour(tooth, side) in case.missing]
        if len(spaces) == 2 and not kept and retainer.assembly not in ("rest_only", "none"):
            assert retainer.approach in ("mesial", "distal"), tooth
        if retainer.assembly == "embrasure":
            others = {r.tooth: r for r in design.retainers or ()}
            assert retainer.partner in others
            assert others[retainer.partner].partner == tooth
        # an extended arm grips the next tooth, so its own need not be undercut
        if (
            used
            and used.mm
            and tooth in known
            and tooth not in crowned
            and retainer.assembly != "extended_arm"
        ):
            zones = known[tooth].undercuts_mm
            found = getattr(zones, used.zone) if zones else None
            assert (tooth, used.zone) in made or found is None or expected(found) >= used.mm, (tooth, used.zone)
    for tooth, rest in (design.rests or {}).items():
        assert tooth not in gone(case), tooth
        room = known[tooth].rest_clearance_mm if tooth in known else None
        if isinstance(room, float):
            assert room >= 1, (tooth, rest)
    depth = case.floor.depth_mm if case.floor else None
    if design.connector == "lingual_bar" and isinstance(depth, float) and case.review.status == "approved":
        assert depth >= 7  # Davenport et al., A Clinical Guide to Removable Partial Denture Design: 3 + 4 mm


# Least room that the house calls enough, mm: the layer sums of shared/tables/space.csv (low values)
@pytest.mark.parametrize(
    ("made", "row"),
    [
        ("resin_tooth_lattice", "SPC-006"),
        ("resin_tooth_metal_base", "SPC-007"),
        ("tube_tooth", "SPC-008"),
        ("metal_backed_facing", "SPC-009"),
        ("metal_tooth", "SPC-010"),
    ],
)
def test_replacements_fit_the_recorded_room(made: str, row: str) -> None:
    least = float(rows("space")[row]["value_low"])
    seen = 0
    for case in library():
        for span in case.spans or ():
            for tooth in span.teeth:
                room = (
                    span.clearance_mm.get(tooth) if isinstance(span.clearance_mm, dict) else span.clearance_mm
                )
                if room is not None and case.design.replacements[tooth] == made:
                    seen += 1
                    assert expected(room) >= least, (case.id, tooth)
    assert seen >= 2


def test_spaces_are_contiguous_and_listed_once() -> None:
    for case in library():
        listed = [tooth for span in case.spans or () for tooth in span.teeth]
        assert len(listed) == len(set(listed))
        assert set(listed) <= set(case.missing)
        for span in case.spans or ():
            assert len(runs(case.arch, span.teeth)) == 1, case.id
        assert set(gone(case)) <= set(ARCH_ORDER[case.arch])


def test_rules_are_broken_only_with_a_reason() -> None:
    # an extension on a U-shape with nothing in the palate to excuse it, or a lingual arm beside an extension
    for case in library():
        extension = classify(case).number in ("I", "II")
        torus = case.palate.torus if case.palate else None
        odd = case.design.connector == "unilateral" or (
            extension and case.design.connector == "u_shaped" and torus != "large_posterior"
        )
        beside = {space.front for space in classify(case).spaces if space.support == "extension"}
        odd = odd or any(
            r.assembly == "lingual_retention" and r.tooth in beside for r in case.design.retainers
        )
        if odd:
            assert case.review.reason, case.id
    retired = [case for case in library() if case.review.status == "retired"]
    assert retired
    assert all(case.review.reason for case in retired)
    drafts = [case for case in library() if case.review.status == "draft"]
    assert all(case.review.reason for case in drafts)
    assert sum(bool(case.review.teaching_note) for case in library()) >= 0.8 * len(library())


# What would point to a person: titles, initials with a surname, dates, telephone, mail and web addresses,
# file numbers. Days of the week and months are dates too.
IDENTITY = re.compile(
    r"\b(?:Mr|Mrs|Ms|Miss|Dr|Prof|Sir|Herr|Frau|Mme)\b\.?"
    r"|\b[A-Z]\. ?[A-Z][a-z]+"
    r"|\b\d{1,2}[./-]\d{1,2}[./-]\d{2,4}\b|\b(?:19|20)\d\d\b"
    r"|\b(?:January|February|March|April|June|July|August|September|October|November|December)\b"
    r"|\b(?:Mon|Tues|Wednes|Thurs|Fri|Satur|Sun)day\b"
    r"|[\w.]+@[\w.]+|https?://|www\.|\+\d[\d ]{6,}|\b\d{3,}[ /-]\d{3,}\b|\b\d{5,}\b"
    r"|\b(?:patient|file|record|insurance) (?:no|number|id)\b"
    r"|\b(?:named|called) [A-Z]|\b(?:surname|born)\b",
)


def texts(case: Case) -> list[str]:
    found = [case.title, case.source]
    if case.prescription:
        found.append(case.prescription.note)
    if case.review:
        found += [case.review.reason, case.review.teaching_note]
    found += [answer.reason for answer in case.dentist_answer or ()]
    found += [event.part for event in (case.outcome.events if case.outcome else None) or ()]
    return [text for text in found if text]


def test_nobody_can_be_recognised() -> None:
    for case in library():
        assert case.source is None
        assert re.fullmatch(r"harbour-\d{4}", case.id)
        for text in texts(case):
            assert not IDENTITY.search(text), (case.id, text)
            # no word inside a sentence begins with a capital, as a name would
            inner = re.findall(r"(?<![.?!:;] )(?<!^)\b[A-Z][a-z]+", text)
            assert set(inner) <= {"Class", "Kennedy"}, (case.id, text)


@pytest.mark.parametrize(
    "text",
    [
        "seen by Dr. Somebody",
        "delivered 3.4.2019",
        "mail to a@b.example",
        "call +49 555 0100",
        "file number 7",
    ],
)
def test_the_identity_check_can_fail(text: str) -> None:
    assert IDENTITY.search(text)


def test_the_readme_says_that_it_is_invented() -> None:
    readme = (demo_library() / "README.md").read_text(encoding="utf-8")
    assert "Everything in this folder is invented" in readme
    assert "no evidence of what works in patients" in readme
    assert f"{len(library())} invented cases" in readme
    known = {case.id.removeprefix("harbour-") for case in library()}
    assert set(re.findall(r"\b\d{4}\b", readme)) - {"3950"} <= known
    for case in library():
        for text in texts(case):
            assert set(re.findall(r"harbour-(\d{4})", text)) <= known


# ---- the coverage report


def test_coverage_adds_up_and_forgets_the_order() -> None:
    held = covered()
    assert sum(held.by_arch.values()) == sum(held.by_class.values()) == held.cases == len(library())
    assert sum(held.by_status.values()) == sum(held.by_label.values()) == held.cases
    assert held.clean + held.adverse == held.followed
    assert sum(cell.held for cell in held.cells) == held.cases
    assert sum(cell.share for cell in held.cells) == pytest.approx(1)
    assert sum(cell.expected for cell in held.cells) == pytest.approx(held.cases)
    shuffled = list(library())
    random.Random(4).shuffle(shuffled)
    assert coverage(shuffled).document() == held.document()


def test_coverage_sees_what_is_taken_away() -> None:
    without_iv = [case for case in library() if classify(case).number != "IV"]
    lacking = coverage(without_iv)
    assert lacking.by_class["IV"] == 0
    assert lacking.most_helpful is not None
    assert {(a.arch, a.kennedy) for a in lacking.absent if a.option == "palatal_strap"} >= {("maxilla", "IV")}
    no_rings = [
        case for case in library() if not any(r.assembly == "ring" for r in case.design.retainers or ())
    ]
    assert ("retainer", "ring") in coverage(no_rings).unused
    silent = [case.model_copy(update={"occlusion": None, "outcome": None}) for case in library()]
    quiet = coverage(silent)
    assert quiet.followed == quiet.adverse == quiet.clean == 0
    assert "occlusion.load" in quiet.never_recorded


def test_the_most_helpful_case_is_of_the_commonest_class_that_is_missing() -> None:
    # without any lower Class I, Curtis 1992 says what comes through the door most often and is not held
    kept = [c for c in library() if (c.arch, classify(c).number) != ("mandible", "I")]
    wanted = coverage(kept).most_helpful
    assert wanted is not None
    assert (wanted.cell.arch, wanted.cell.kennedy, wanted.cell.held) == ("mandible", "I", 0)
    assert wanted.with_outcome
    assert wanted.options["connector"] in v.connectors("mandible")


def test_an_empty_library_is_covered_by_nothing() -> None:
    held = coverage([])
    assert held.cases == held.followed == 0
    assert len(held.unused) == sum(len(options) for options in PER_DECISION.values())
    assert held.most_helpful is not None
    assert held.most_helpful.cell.kennedy == "I"


def test_adverse_means_more_than_upkeep() -> None:
    by_id = {case.id: case for case in library()}
    assert not adverse(by_id["harbour-0001"])  # a sore spot and a reline
    assert adverse(by_id["harbour-0028"])  # remade
    assert adverse(by_id["harbour-0009"])  # not worn
