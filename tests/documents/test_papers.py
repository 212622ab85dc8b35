"""Letter and bench ticket, read back with an independent reader."""

from typing import TYPE_CHECKING

import pytest

from recommender.documents import blocks
from recommender.documents.answers.fingerprint import fingerprint
from recommender.documents.letter import letter
from recommender.documents.proposal import NoDesignError, Origin, own_design, proposal_of
from recommender.documents.ticket import ProvisionalError, ticket
from recommender.documents.typesetting import pdf, printable
from recommender.domain.case import Case
from recommender.wording.words import Words
from tests.documents.conftest import demo_cases
from tests.documents.reading import embedded, fonts, furthest_right, reader, words

if TYPE_CHECKING:
    from recommender.advice.recommend import Recommender

ORIGIN = Origin("rules test", "stamp", demo=True)
# Lower I, upper II with a departing prescription, upper IV.
CASES = ("harbour-0001", "harbour-0064", "harbour-0101")


@pytest.mark.parametrize("case_id", CASES)
def test_the_letter_reads_back(case_id: str, with_demo: "Recommender") -> None:
    case = demo_cases()[case_id]
    document = letter(with_demo, case, ORIGIN)
    made = pdf(document)
    read = reader(made)
    assert 1 <= len(read.pages) <= 2
    said = words(made)
    (picture,) = [block for block in document.blocks if block["kind"] == "figure"]
    assert "seen facing the patient" in picture["alt"]
    answer = with_demo.recommend(case)
    first = answer.frameworks[0]
    code = fingerprint(case, first.design, first.preparation)
    for expected in (
        "Proposal for a removable partial denture framework",
        case_id,
        "for the dentist's decision",
        "rules test",
        "library stamp",
        f"page 1 of {len(read.pages)}",
        "We propose: a",
        "Preparation",
        "To be answered before metal is made",
        "invented",
        "Please note",
        f"for the design with the code {code} and no other",
        "A box left empty is no consent",
        "Signature",
        "licensed technician",
    ):
        assert expected in said, expected
    assert "PROVISIONAL" in said
    for caution in first.cautions:
        assert Words().text(caution).split(".")[0][:40] in said
    for step in first.preparation:
        assert Words().step(step.tooth, step.surface, step.action)[1:40].strip() in said


def test_tagged_with_embedded_fonts_and_the_same_bytes_again(with_demo: "Recommender") -> None:
    """Tags and language as PDF/UA-1 (ISO 14289-1) wants them; the drawing carries its words."""
    case = demo_cases()["harbour-0001"]
    document = letter(with_demo, case, ORIGIN)
    made = pdf(document)
    root = reader(made).trailer["/Root"]
    assert "/StructTreeRoot" in root
    assert root["/MarkInfo"]["/Marked"].value
    assert str(root["/Lang"]) == "en"
    assert b"pdfuaid" in reader(made).xmp_metadata.stream.get_data()  # type: ignore[union-attr]
    assert fonts(made)
    assert all(embedded(font) for font in fonts(made))
    assert made == pdf(letter(with_demo, case, ORIGIN))
    figure = next(block for block in document.blocks if block["kind"] == "figure")
    assert "Fulcrum line: 44 - 34." in figure["alt"]
    # The drawing is drawn, not a picture of a drawing.
    for page in reader(made).pages:
        kinds = [form.get_object()["/Subtype"] for form in page["/Resources"].get("/XObject", {}).values()]
        assert "/Image" not in kinds


def test_paper_sizes_and_numbering(with_demo: "Recommender") -> None:
    case = demo_cases()["harbour-0001"]
    letter_document = letter(with_demo, case, ORIGIN, words=Words("universal"))
    sizes = {paper: reader(pdf(letter_document, paper)).pages[0].mediabox for paper in ("a4", "letter")}
    # ISO 216 A4 is 210 x 297 mm, US Letter 8.5 x 11 inches.
    assert float(sizes["a4"].width) == pytest.approx(595.28, abs=0.1)
    assert float(sizes["letter"].height) == pytest.approx(792, abs=0.1)
    # ISO 44 is 28 and ISO 34 is 21 in the universal system.
    figure = next(block for block in letter_document.blocks if block["kind"] == "figure")
    assert "28: I-bar clasp" in figure["alt"]
    assert "21: I-bar clasp" in figure["alt"]
    with pytest.raises(ValueError, match="allowed"):
        pdf(letter_document, "a5")
    # four allergies and no prescription; a prescription with a note and a departure: one page on either paper
    for name in ("harbour-0073", "harbour-0028"):
        document = letter(with_demo, demo_cases()[name], ORIGIN)
        assert [len(reader(pdf(document, paper)).pages) for paper in ("a4", "letter")] == [1, 1], name


def test_where_it_departs_the_letter_says_so_and_why(with_demo: "Recommender") -> None:
    case = demo_cases()["harbour-0064"]
    document = letter(with_demo, case, ORIGIN)
    first = with_demo.recommend(case).frameworks[0]
    asked = case.prescription
    assert asked is not None
    table = next((b for b in document.blocks if b["kind"] == "ticks" and b["head"][:1] == ["Item"]), None)
    departed = {
        "Major connector" if asked.connector and first.connector != asked.connector else None,
        *(
            f"Retainer on {t}"
            for t, o in (asked.retainers or {}).items()
            if first.retainers.get(t, "none") != o
        ),
        *(
            f"Replacement tooth for {t}"
            for t, o in (asked.replacements or {}).items()
            if first.replacements.get(t) != o
        ),
    } - {None}
    assert {row[0] for row in (table["rows"] if table else ())} == departed
    for row, choices in zip(table["rows"], table["choices"], strict=True) if table else ():
        assert row[1] != row[2]
        assert len(row[3]) > 20
        assert choices == ["agree", "keep mine", "call me"]


def test_no_library_and_no_prescription(rules_alone: "Recommender") -> None:
    case = demo_cases()["harbour-0001"].model_copy(update={"prescription": None})
    said = words(pdf(letter(rules_alone, case, Origin("rules test", "none"))))
    assert "No written prescription was recorded" in said
    assert "No library of earlier cases was used" in said
    assert "invented" not in said
    assert "departs from your prescription" not in said


HOSTILE = (
    '#panic("x") *bold* _it_ $x^2$ <script>alert(1)</script> </text><image href="http://example.invalid/"/> '
    "\\u{41} @label // comment \u202eevil\u202c \u0007 "
)


NOTES = (
    HOSTILE,
    "שלום עולם, אנא הימנעו ממתכת. " * 3,
    "مرحبا " * 5,
    "漢字😀 and words",
    "W" * 5000,
    ("lorem ipsum " * 420)[:5000],
)


@pytest.mark.parametrize("note", NOTES, ids=["markup", "hebrew", "arabic", "unshown", "one word", "long"])
def test_foreign_text_stays_text_in_its_box(note: str) -> None:
    body = (
        blocks.heading(note[:200]),
        blocks.banner(note),
        blocks.paragraph(note),
        blocks.quoted(note),
        blocks.items([note, note], numbered=True),
        blocks.table(("a", note[:80]), [[note[:300], "x"], ["y", note[:300]]], (1, 1)),
        blocks.ticks([note[:30], "b"], [[note[:300], "x"]], [[note[:40], "y"]], (1, 1, 1)),
        blocks.answer(note[:100], [note[:60]], note[:100], [note[:20], "b"]),
    )
    made = pdf(blocks.Document(note[:100], note[:300], "en", note[:120], body))
    said = words(made)
    assert furthest_right(made) < 0.95
    if note is HOSTILE:
        assert '#panic("x") *bold* _it_' in said.replace("“", '"').replace("”", '"')
        assert "<script>alert(1)</script>" in said.replace(" ", "")
    if note.startswith("W"):
        assert said.count("W") >= 5 * 5000
    if note.startswith("漢"):
        assert "and words" in said
        assert "□" in said


def test_a_hostile_note_reaches_the_letter_as_words(rules_alone: "Recommender") -> None:
    data = demo_cases()["harbour-0001"].model_dump(exclude_none=True)
    data["title"] = HOSTILE
    data["prescription"]["note"] = HOSTILE + "word " * 900
    made = pdf(letter(rules_alone, Case.model_validate(data), ORIGIN))
    said = words(made).replace("“", '"').replace("”", '"')
    assert '#panic("x") *bold*' in said
    assert said.count("word ") >= 890
    assert furthest_right(made) < 0.95


def test_printable_drops_control_signs_and_breaks_long_words() -> None:
    assert printable("a\u202eb\u0000c\td") == "abc d"
    assert printable("x" * 60).replace("\u200b", "") == "x" * 60
    assert max(len(run) for run in printable("x" * 600).split("\u200b")) <= 24
    assert printable("Müller, Ørsted, Čapek, Ελλάς") == "Müller, Ørsted, Čapek, Ελλάς"


def test_a_provisional_ticket_needs_a_reason_and_carries_it(with_demo: "Recommender") -> None:
    proposal = proposal_of(with_demo.recommend(demo_cases()["harbour-0001"]))
    assert proposal.provisional
    for reason in (None, "", "   "):
        with pytest.raises(ProvisionalError, match="not printed"):
            ticket(proposal, ORIGIN, despite_provisional=reason)
    made = pdf(ticket(proposal, ORIGIN, despite_provisional="try-in frame only, agreed by telephone"))
    said = words(made)
    assert "PROVISIONAL" in said
    assert "try-in frame only, agreed by telephone" in said
    assert "Facts that were not recorded" in said


def test_a_firm_ticket_is_printed_without_a_word_of_provisional(with_demo: "Recommender") -> None:
    from dataclasses import replace

    proposal = own_design(with_demo.recommend(demo_cases()["harbour-0001"], 0))
    firm = replace(proposal, provisional=False, unverified=(), waits=False, before_metal=())
    said = words(pdf(ticket(firm, ORIGIN)))
    assert "PROVISIONAL" not in said
    for expected in (
        "Bench ticket",
        "NOT SIGNED",
        "half-pear of 6 gauge",
        "midfacial, 0.25 mm",
        "0.8 mm of wax",
        "Tissue stop",
        "Checks before it leaves the bench",
        "common practice, no source",
        "signed answer",
    ):
        assert expected in said, expected


def test_a_facing_is_made_tooth_first(with_demo: "Recommender") -> None:
    """Order of the work on a cast backing with a bonded facing (laboratory practice, no source)."""
    proposal = own_design(with_demo.recommend(demo_cases()["harbour-0089"], 0))
    said = words(pdf(ticket(proposal, ORIGIN, despite_provisional="exercise")))
    steps = (
        "Wax up the tooth first",
        "wax the frame to the tooth",
        "Cast; finish",
        "opaque, thin",
        "Build the composite facing",
        "every glide stay on metal",
    )
    places = [said.index(step) for step in steps]
    assert places == sorted(places)


@pytest.mark.parametrize("case_id", ["harbour-0021", "harbour-0040", "harbour-0009", "harbour-0026"])
def test_every_part_of_a_design_is_on_its_ticket(case_id: str, with_demo: "Recommender") -> None:
    case = demo_cases()[case_id]
    document = ticket(own_design(with_demo.recommend(case, 0)), ORIGIN, despite_provisional="exercise")
    table = next(b for b in document.blocks if b["kind"] == "table" and b["head"][0] == "Part")
    rows = {(row[0].split(" (")[0], row[1]) for row in table["rows"]}
    from recommender.domain.catalogue import load

    options = load().options
    assert case.design is not None
    for retainer in case.design.retainers or ():
        if retainer.assembly not in ("none", "rest_only"):
            label = options["retainer"][retainer.assembly].label
            assert any(part == label and str(retainer.tooth) in _teeth(at) for part, at in rows)
    assert (options["connector"][case.design.connector or ""].label, "-") in rows
    for row in table["rows"]:
        assert row[2]
    first = next(b for b in document.blocks if b["kind"] == "table" and b["head"][0] == "Tooth")
    listed = {row[0] for row in first["rows"]}
    carried = {str(r.tooth) for r in case.design.retainers or () if r.assembly != "none"}
    assert carried <= listed


def _teeth(said: str) -> set[str]:
    """Teeth of a cell: 35, 36 or 35-37."""
    found: set[str] = set()
    for part in said.split(", "):
        first, _, last = part.partition("-")
        numbers = range(min(int(first), int(last or first)), max(int(first), int(last or first)) + 1)
        found |= {str(number) for number in numbers}
    return found


def test_a_design_that_is_not_there_is_refused(with_demo: "Recommender") -> None:
    case = demo_cases()["harbour-0001"]
    with pytest.raises(NoDesignError, match="framework 9"):
        proposal_of(with_demo.recommend(case), 9)
    bare = case.model_copy(update={"design": None})
    with pytest.raises(NoDesignError, match="no design of its own"):
        own_design(with_demo.recommend(bare, 0))


def test_blocks_are_plain_values() -> None:
    document = blocks.Document(
        "t", "", "en", "foot", (blocks.items(["a", "b"], numbered=True), blocks.banner("c"))
    )
    said = words(pdf(document))
    assert "1." in said
    assert "foot" in said


def test_where_nothing_is_possible_the_letter_says_why_and_what_would_help(
    rules_alone: "Recommender",
) -> None:
    loose = {"mobility": 3, "bone_support": "poor", "disease": "periodontal"}
    case = Case.model_validate(
        {
            "format": 1,
            "id": "two-loose-canines",
            "arch": "mandible",
            "missing": [47, 46, 45, 44, 34, 35, 36, 37],
            "absent": [48, 38, 42, 41, 31, 32],
            "abutments": [{"tooth": tooth} | loose for tooth in (43, 33)],
        }
    )
    assert not rules_alone.recommend(case).frameworks
    said = words(pdf(letter(rules_alone, case, Origin("rules test", "none"))))
    assert "cannot propose a whole framework" in said
    assert "Retainer on 33" in said.replace("retainer on 33", "Retainer on 33")
    assert "mobility" in said.lower() or "moved in every direction" in said
    assert "By signing I decide" not in said


def test_the_ticket_waits_for_the_questions_before_metal_however_firm(with_demo: "Recommender") -> None:
    from dataclasses import replace

    from recommender.advice.confidence.values import BeforeMetal

    proposal = own_design(with_demo.recommend(demo_cases()["harbour-0001"], 0))
    asked = (BeforeMetal("patient.allergy", "an alloy or resin that the patient cannot bear", asked=True),)
    firm = replace(proposal, provisional=False, unverified=(), waits=True, before_metal=asked)
    with pytest.raises(ProvisionalError):
        ticket(firm, ORIGIN)
    said = words(pdf(ticket(firm, ORIGIN, despite_provisional="try-in only")))
    assert "To be answered before metal is cast" in said
    assert "asked; not known" in said
