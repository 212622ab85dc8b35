"""Taking in a case: ways to begin, marking teeth, lists, the survey, what to record next, the file."""

import threading

import orjson
import pytest
import streamlit
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from recommender.domain.case import Case
from recommender.domain.checks import check
from recommender.domain.dentition import ARCH_ORDER
from recommender.domain.fields import get_field, with_field
from recommender.domain.measures import Interval
from recommender.domain.numbering import to_universal
from recommender.domain.reader import read_text
from recommender.precedents.source import demo_source
from recommender.screens.intake import arch
from recommender.screens.intake.arch import read_teeth
from recommender.screens.intake.dentition_marks import MARKS, following, mark_of, marked
from recommender.screens.intake.fields import plain_shape, spread
from recommender.screens.intake.grid import _read, edits
from recommender.screens.intake.next_to_record import Places
from recommender.screens.intake.tooth_figures import entries_after
from recommender.screens.session import drafts, history, state, visitor
from recommender.screens.ui import numbered
from recommender.screens.ui.chart import Click, clicks_after
from tests.screens.conftest import open_page, unfold, widget, words_on

STORED = list(demo_source().cases())[:8]


def blank(arch="maxilla") -> Case:
    return Case(format=1, id="case-1", arch=arch, missing=[])


# -- marking teeth ---------------------------------------------------------------------------------------


@settings(max_examples=40, deadline=None)
@given(st.data())
def test_any_row_of_marks_leaves_a_case_without_contradiction(data):
    """A case is marked at random; as long as a tooth stands, every check of the case format passes."""
    case = data.draw(st.sampled_from([blank(), blank("mandible"), *STORED]))
    order = ARCH_ORDER[case.arch]
    for _ in range(data.draw(st.integers(1, 8))):
        teeth = data.draw(st.lists(st.sampled_from(order), min_size=1, max_size=4, unique=True))
        mark = data.draw(st.sampled_from(MARKS))
        case = marked(case, teeth, mark)
        assert all(mark_of(case, tooth) == mark for tooth in teeth)
    if len(set(case.missing) | set(case.absent or ())) < 16:
        assert [issue.allowed for issue in check(case)] == []


def test_a_click_goes_round_and_comes_back():
    mark, seen = "standing", []
    for _ in range(3):
        mark = following(mark)
        seen.append(mark)
    assert seen == ["missing", "absent", "standing"]


def test_marking_a_surveyed_tooth_as_gone_takes_its_figures_off_and_nothing_else():
    before = demo_source().get("harbour-0001")
    after = marked(before, [44], "missing")
    assert {a.tooth for a in before.abutments} - {a.tooth for a in after.abutments} == {44}
    assert after.spans is not None
    assert [span.teeth for span in after.spans] == [[47, 46, 45], [35, 36, 37]]
    assert after.patient == before.patient


def test_marks_of_the_other_arch_are_refused():
    with pytest.raises(ValueError, match="not of the maxilla"):
        marked(blank(), [36], "missing")


def test_clicks_are_taken_once_and_in_order_however_often_they_are_sent():
    sent = {"clicks": [{"number": 3, "tooth": 16, "run": False}, {"number": 2, "tooth": 15, "run": True}]}
    assert clicks_after(sent, 1) == [(2, Click(15, True)), (3, Click(16, False))]
    assert clicks_after(sent, 2) == [(3, Click(16, False))]
    assert clicks_after(sent, 3) == []


class BrokenOff(BaseException):
    """As Streamlit ends a run in the middle of a callback when something else was entered."""


def test_a_click_in_a_run_that_is_broken_off_while_saving_is_taken_once_and_saved_next_time(monkeypatch):
    desk: dict[str, object] = {visitor.LOCK: threading.RLock(), "casebook.case": demo_source().get("harbour-0001")}
    sent = {"clicked": {"clicks": [{"number": 1, "tooth": 41, "run": False}], "turn": 1}}
    monkeypatch.setattr(streamlit, "session_state", {visitor.DESK: desk, "take_in.chart": sent})
    monkeypatch.setattr(streamlit, "query_params", {"case": "harbour-0001"})
    handle = numbered.take("take_in.chart", "clicked", clicks_after, arch._on_click)

    def broken_off(*_):
        raise BrokenOff

    with monkeypatch.context() as patch:
        patch.setattr(drafts, "save", broken_off)
        with pytest.raises(BrokenOff):
            handle()
    handle()  # the component sends it again, having had no answer
    held_now = desk["casebook.case"]
    assert isinstance(held_now, Case)
    assert 41 in held_now.missing, "taken twice it would be absent"
    assert drafts.load("harbour-0001") is None
    state.sync()
    kept = drafts.load("harbour-0001")
    assert kept is not None
    assert 41 in kept.case.missing


@pytest.mark.parametrize("nonsense", [None, {}, {"clicks": 3}, {"clicks": [{"tooth": 16}, None, "x"]}, 16])
def test_what_the_chart_sends_is_read_with_care(nonsense):
    assert clicks_after(nonsense, 4) == []


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("15, 16, 24", [15, 16, 24]),
        ("15 16;24", [15, 16, 24]),
        ("14-16", [14, 15, 16]),
        ("12 – 22", [12, 11, 21, 22]),
        ("", []),
    ],
)
def test_typed_lists(text, expected):
    teeth, wrong = read_teeth(text, "maxilla", "iso")
    assert (sorted(teeth), wrong) == (sorted(expected), [])


def test_typed_lists_in_universal_numbers_give_the_same_teeth():
    text = ", ".join(str(to_universal(tooth)) for tooth in ARCH_ORDER["mandible"])
    assert read_teeth(text, "mandible", "universal") == (list(ARCH_ORDER["mandible"]), [])


@pytest.mark.parametrize("text", ["36", "99", "x", "15-16-17", "15-36"])
def test_what_is_no_tooth_of_the_arch_is_named(text):
    assert read_teeth(text, "maxilla", "iso")[1] == [text]


# -- fields ----------------------------------------------------------------------------------------------


def test_one_value_for_all_sites_is_kept_at_the_others_when_one_is_set():
    case = read_text(
        "format: 1\nid: a\narch: maxilla\nmissing: [16, 15]\nabutments: [{tooth: 14, rest_clearance_mm: 1.5}]\n"
        "spans: [{teeth: [16, 15], clearance_mm: 6}]"
    )
    room = get_field(
        spread(case, "abutments[14].rest_clearance_mm.mesial"), "abutments[14].rest_clearance_mm"
    )
    assert (room.mesial, room.distal, room.cingulum) == (1.5, 1.5, 1.5)
    height = get_field(spread(case, "spans[16].clearance_mm[15]"), "spans[16].clearance_mm")
    assert height == {16: 6.0, 15: 6.0}


def test_every_evidence_field_of_a_full_case_has_a_widget_or_a_table():
    from recommender.domain.fields import recorded_fields

    for case in demo_source().cases():
        for path in recorded_fields(case):
            if path.endswith("note"):
                continue
            assert plain_shape(path) is not None, path


def test_edits_of_a_table_are_told_by_row_and_column():
    assert edits({"edited_rows": {"1": {"a": 2}}, "added_rows": []}) == [(1, "a", 2)]
    assert edits(None) == []


# -- the page --------------------------------------------------------------------------------------------


def test_from_a_blank_arch_to_a_class():
    at = open_page("case")
    widget(at, "button_group", "start.way").set_value("A blank arch").run()
    widget(at, "text_input", "start.blank_id").set_value("bench-7").run()
    widget(at, "button", "start.blank").click().run()
    assert at.session_state["casebook"]["casebook.case"].id == "bench-7"
    widget(at, "text_input", "take_in.list.missing").set_value("15, 16, 17").run()
    widget(at, "text_input", "take_in.list.absent").set_value("18").run()
    assert "Class II" in [one.value for one in at.subheader]


def test_a_bad_id_or_list_changes_nothing_and_says_why():
    at = open_page("case")
    widget(at, "button_group", "start.way").set_value("A blank arch").run()
    widget(at, "text_input", "start.blank_id").set_value("Mr Smith").run()
    widget(at, "button", "start.blank").click().run()
    assert at.session_state["casebook"].get("casebook.case") is None
    assert "1 to 80 letters" in words_on(at)
    at = open_page("case", "harbour-0001")
    widget(at, "text_input", "take_in.list.missing").set_value("16, 17").run()
    assert at.session_state["casebook"]["casebook.case"].missing == [47, 46, 45, 35, 36, 37]
    assert "no tooth of the lower arch" in words_on(at)


def test_an_example_and_a_copy_of_a_precedent():
    at = open_page("case")
    widget(at, "button_group", "start.way").set_value("Like a precedent").run()
    widget(at, "selectbox", "start.precedent").set_value("harbour-0001").run()
    widget(at, "button", "start.copy").click().run()
    copy = at.session_state["casebook"]["casebook.case"]
    stored = demo_source().get("harbour-0001")
    assert (copy.missing, copy.absent, copy.arch) == (stored.missing, stored.absent, stored.arch)
    assert copy.id == "case-1"
    assert (copy.abutments, copy.design, copy.outcome, copy.review, copy.patient) == (None,) * 5


def test_a_wrong_file_is_told_place_by_place_and_the_case_in_hand_stays():
    at = open_page("case", "harbour-0001")
    widget(at, "file_uploader", "start.upload.0").set_value(
        (
            "wrong.yaml",
            b"format: 1\nid: x\narch: maxilla\nmissing: [15, 36]\nabutmnets: []\n",
            "application/yaml",
        )
    ).run()
    said = words_on(at)
    assert "wrong.yaml:4" in said
    assert "abutments" in said
    assert at.session_state["casebook"]["casebook.case"].id == "harbour-0001"


def test_a_case_file_comes_in_and_goes_out_the_same():
    stored = demo_source().get("harbour-0012")
    at = open_page("case")
    from recommender.precedents.store.exporting.export import as_yaml

    text = as_yaml(stored.model_copy(update={"id": "from-file"}))
    widget(at, "file_uploader", "start.upload.0").set_value(("c.yaml", text, "application/yaml")).run()
    held = at.session_state["casebook"]["casebook.case"]
    assert held == stored.model_copy(update={"id": "from-file"})
    assert yaml.safe_load(as_yaml(held)) == yaml.safe_load(text)


def test_a_field_is_written_back_and_can_be_emptied():
    at = open_page("case", "harbour-0001")
    unfold(at, "survey.fold.patient")
    widget(at, "selectbox", "field.survey.patient.smile_line").set_value("high").run()
    assert at.session_state["casebook"]["casebook.case"].patient.smile_line == "high"
    unfold(at, "survey.fold.patient")
    widget(at, "selectbox", "field.survey.patient.smile_line").select_index(0).run()
    assert at.session_state["casebook"]["casebook.case"].patient.smile_line is None
    unfold(at, "survey.fold.patient")
    widget(at, "number_input", "field.survey.patient.age").set_value(95).run()
    assert at.session_state["casebook"]["casebook.case"].patient.age == "90+"


def test_none_of_them_is_not_the_same_as_not_recorded():
    at = open_page("case", "harbour-0001")
    unfold(at, "survey.fold.patient")
    assert at.session_state["casebook"]["casebook.case"].patient.allergy == []
    box = "field.survey.patient.allergy"
    widget(at, "multiselect", box).set_value([]).run()
    assert at.session_state["casebook"]["casebook.case"].patient.allergy is None
    unfold(at, "survey.fold.patient")
    widget(at, "multiselect", box).set_value(["nickel"]).run()
    unfold(at, "survey.fold.patient")
    widget(at, "multiselect", box).set_value(["nickel", "none of them"]).run()
    assert at.session_state["casebook"]["casebook.case"].patient.allergy == []


def test_gaps_come_in_the_order_of_the_advice_each_with_its_field():
    at = open_page("case", "harbour-0001")
    at.run()
    found = at.session_state["casebook.answer"].whole.not_recorded
    drawn = [w.key for kind in ("number_input", "selectbox", "multiselect") for w in at.get(kind) if w.key]
    drawn = [
        key.removeprefix("field.next.").rpartition(".")[0] for key in drawn if key.startswith("field.next.")
    ]
    assert drawn
    assert set(drawn) <= {gap.field for gap in found[:12]}


def test_a_contradiction_is_told_in_words():
    at = open_page("case", "harbour-0001")
    case = at.session_state["casebook"]["casebook.case"]
    at.session_state["casebook"]["casebook.case"] = case.model_copy(update={"planned_extractions": [44]})
    at.run()
    assert "To mend before there is advice" in words_on(at)


@pytest.mark.parametrize(
    ("typed", "read"), [("0,25", 0.25), ("0.5", 0.5), (" 7 ", 7.0), (".1", 0.1), ("", None), (None, None)]
)
def test_figures_are_read_as_typed_whatever_the_decimal_sign(typed: str | None, read: float | None) -> None:
    assert _read(typed, "abutments[14].undercuts_mm.mesiofacial") == read


# -- intervals, and what was asked in vain --------------------------------------------------------------


@pytest.mark.parametrize(
    ("typed", "read"),
    [
        ("0.3 (0.2 to 0.4)", {"low": 0.2, "value": 0.3, "high": 0.4}),
        ("0,3 (0,2-0,4)", {"low": 0.2, "value": 0.3, "high": 0.4}),
        ("0.25", 0.25),
        ("", None),
    ],
)
def test_intervals_are_read_as_they_are_shown(typed, read):
    found = _read(typed, "abutments[14].undercuts_mm.mesial")
    assert (found.model_dump() if isinstance(found, Interval) else found) == read


@pytest.mark.parametrize("typed", ["0.3 (0.4 to 0.5)", "0.3 (0.2 to 9)", "0.3 (x to 1)"])
def test_what_is_no_interval_is_refused(typed):
    with pytest.raises(ValueError, match=typed.split()[0]):
        _read(typed, "abutments[14].undercuts_mm.mesial")


def held(at) -> Case:
    return at.session_state["casebook"]["casebook.case"]


def wide_case() -> Case:
    return read_text(
        "format: 1\nid: case-1\narch: maxilla\nmissing: [15]\nasked: [patient.allergy]\n"
        "abutments: [{tooth: 14, undercuts_mm: {mesial: {low: 0.2, value: 0.3, high: 0.4}}}]\n"
        "palate: {length_mm: {low: 40, value: 45, high: 50}}\n"
        "prescription: {not: {retainers: {14: [any]}, connector: [u_shaped], replacements: {15: [tube_tooth]}}}\n"
    )


def test_an_interval_is_shown_and_survives_the_edit_of_another_field():
    drafts.save(wide_case(), 0)
    at = open_page("case", "case-1")
    unfold(at, "survey.fold.palate", "survey.fold.patient")
    shown = widget(at, "text_input", "field.survey.palate.length_mm")
    assert shown.value == "45 (40 to 50)"
    widget(at, "selectbox", "field.survey.patient.smile_line").set_value("high").run()
    after = held(at)
    assert after.palate == wide_case().palate
    assert after.abutments == wide_case().abutments
    assert after.patient is not None
    assert after.patient.smile_line == "high"
    widget(at, "text_input", "field.survey.palate.length_mm").set_value("46").run()
    assert held(at).palate.length_mm == 46


def test_a_field_asked_in_vain_is_told_and_can_be_asked_again():
    drafts.save(wide_case(), 0)
    at = open_page("case", "case-1")
    unfold(at, "survey.fold.asked", "survey.fold.patient")
    box = widget(at, "multiselect", "survey.asked")
    assert box.value == ["patient.allergy"]
    box.set_value(["patient.allergy", "patient.antiresorptive"]).run()
    assert held(at).asked == ["patient.allergy", "patient.antiresorptive"]
    widget(at, "selectbox", "field.survey.patient.antiresorptive").set_value(False).run()
    assert held(at).asked == ["patient.allergy"]
    assert held(at).patient.antiresorptive is False


def test_what_the_dentist_ruled_out_is_shown_and_goes_with_its_tooth():
    drafts.save(wide_case(), 0)
    at = open_page("case", "case-1")
    unfold(at, "name.fold.ruled_out")
    assert widget(at, "multiselect", "name.prescription.not.retainers[14]").value == ["any"]
    widget(at, "multiselect", "name.prescription.not.connector").set_value(["u_shaped", "palatal_bar"]).run()
    assert held(at).prescription.ruled_out.connector == ["u_shaped", "palatal_bar"]
    after = marked(held(at), [14, 15], "absent")
    assert after.prescription.ruled_out.retainers == {}
    assert after.prescription.ruled_out.replacements == {}
    assert list(check(after)) == []


# -- keeping still, asking back -------------------------------------------------------------------------


def test_a_gap_gives_its_place_up_only_with_the_entry_after_its_own():
    case = wide_case()
    paths = [
        f"patient.{name}"
        for name in ("age", "hygiene", "caries_risk", "dry_mouth", "gag_reflex", "dexterity")
    ]
    coming = ["patient.smile_line", "palate.torus"]
    places = Places(case.id)
    places.entered(case)
    places.worked_out(case, dict.fromkeys([*paths, *coming], ""), "", 1)
    assert places.paths == paths
    first = with_field(case, paths[2], "high")
    places.entered(first)
    assert places.paths == paths, "what was entered stays in sight"
    places.worked_out(first, dict.fromkeys([*paths[:2], *paths[3:], *coming], ""), "", 2)
    assert places.paths == paths, "working out moves nothing"
    places.entered(with_field(first, paths[0], 60))
    assert places.paths == [*paths[:2], coming[0], *paths[3:]]


@settings(max_examples=25, deadline=None)
@given(st.data())
def test_the_history_of_a_case_is_kept_whole(data):
    case = data.draw(st.sampled_from(STORED))
    steps = []
    for number in range(data.draw(st.integers(0, 6))):
        steps.append((case, {"connector": {"option": "x", "reason": str(number // 2)}} if number > 1 else {}))
        tooth = data.draw(st.sampled_from(ARCH_ORDER[case.arch][4:12]))
        case = marked(case, [tooth], data.draw(st.sampled_from(MARKS)))
    kept = orjson.loads(orjson.dumps(history.packed(case, {}, steps)))
    assert history.unpacked(case, {}, kept) == steps


def test_undo_survives_a_reload():
    at = open_page("case", "harbour-0001")
    widget(at, "text_input", "take_in.list.missing").set_value("47, 46").run()
    again = open_page("case", "harbour-0001")
    assert again.session_state["casebook"]["casebook.undo"][0][0].missing == [47, 46, 45, 35, 36, 37]


def test_a_figure_that_is_no_gauge_is_asked_back_and_a_refused_one_is_told_at_its_table():
    at = open_page("case", "harbour-0001")
    figure = "abutments[44].undercuts_mm.midfacial"
    kept = at.session_state["casebook"]
    kept["casebook.asked_back"] = (figure, 0.3)
    at.run()
    assert "none of the gauges (0.25, 0.50, 0.75)" in words_on(at)
    widget(at, "button", "field.figures.asked_back.gauge").click().run()
    assert get_field(held(at), figure) == 0.25
    kept["casebook.refused"] = {figure: "Not taken over: tooth 44"}
    at.run()
    assert "Not taken over: tooth 44" in words_on(at)


def test_a_missing_tooth_listed_as_an_abutment_is_asked_about():
    at = open_page("case", "harbour-0001")
    box = widget(at, "text_input", "take_in.list.abutment")
    box.set_value(f"{box.value}, 45").run()
    assert "45 is marked as gone" in words_on(at)
    assert 45 in held(at).missing
    widget(at, "button", "take_in.gone.root").click().run()
    assert (45 in held(at).missing, next(a.kind for a in held(at).abutments if a.tooth == 45)) == (
        True,
        "root",
    )
    assert list(check(held(at))) == []


def test_one_click_settles_the_third_molars():
    drafts.save(blank().model_copy(update={"missing": [15]}), 0)
    at = open_page("case", "case-1")
    assert "This is assumed" in words_on(at)
    widget(at, "button", "take_in.thirds.absent").click().run()
    assert held(at).absent == [18, 28]
    assert "This is assumed" not in words_on(at)


def test_entries_on_the_drawing_of_a_tooth_are_taken_once_each_in_order():
    known = {"14.midfacial", "14.mesiofacial"}
    sent = {"entries": [
        {"number": 3, "at": "14.midfacial", "to": ""}, {"number": 2, "at": "14.midfacial", "to": "0.50"},
        {"number": 1, "at": "14.mesiofacial", "to": "0.25"}, {"number": 4, "at": "99.midfacial", "to": "0.25"},
        {"number": 5, "at": "14.midfacial", "to": "9"}, "no entry",
    ]}  # fmt: skip
    assert entries_after(sent, 1, known) == [(2, "14.midfacial", 0.5), (3, "14.midfacial", None)]
    assert entries_after("nothing", 0, known) == []
