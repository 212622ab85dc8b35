"""Free text that may identify a patient is found with its place, and stands in the way of approval."""

import pytest

from recommender.curation import identity
from recommender.domain.case import Case, DentistAnswer, Prescription, Review
from recommender.precedents.store.databases import create_database
from recommender.precedents.store.errors import UnfitText
from recommender.precedents.store.invented import invented_cases

BARE = Case(format=1, id="harbour-0012", arch="maxilla", missing=[15, 16])

# every name, number and address here is invented
HITS = {
    "Mrs Ashcombe asks for a small base": "titled_name",
    "seen by Dr. J. Quillon": "titled_name",
    "patient Marlowe cannot open wide": "titled_name",
    "for Frau Möller": "titled_name",
    "her name is Ada Brightwater": "named",
    "DOB 3/4/51": "birth_date",
    "born on 3 April": "birth_date",
    "date of birth: 1951": "birth_date",
    "try-in 12.04.2025": "full_date",
    "seen 2024-11-03": "full_date",
    "3rd April 1951": "spoken_date",
    "write to ada@example.org": "e_mail",
    "ada (at) example.org": "e_mail",
    "+44 20 7946 0018": "phone",
    "(555) 010-4477": "phone",
    "phone 5550101": "said_phone",
    "MRN 00482913": "record_number",
    "chart no. A-20817": "record_number",
    "078-05-1120": "social_number",
    "see 4829137756": "long_number",
    "lives at 12 Orchard Lane": "address",
}  # fmt: skip

# what benches write every day
CLEAN = [
    "0.25 mm at 14, 0.5 mm at 24; arm 12.5 mm long",
    "Patient prefers no clasp in front",
    "patient asks for less metal; dentist agrees",
    "Kennedy Class II, modification 1",
    "altered cast, 2nd try-in after 3 weeks, 15-16-17 set",
    "teeth 15, 16, 24 and 25 missing; spans 14.5 and 16.25 mm",
    "Lattice 0.8 mm relief. Strap 8 x 0.6 mm. I-bar to 13",
    "1400 MPa, 206 GPa, gauge 18",
    "Class III mod 2, 36-46, see rule circ_far_undercut",
    "remade after 14 months because the arm of 34 broke",
    "Carr AB, Brown DT. McCracken's Removable Partial Prosthodontics, 13th ed. 2016, pp. 45-67",
]


@pytest.mark.parametrize(("text", "kind"), HITS.items())
def test_is_found(text: str, kind: str) -> None:
    assert kind in {pattern.id for _, _, pattern in identity.scan_text(text)}


@pytest.mark.parametrize("text", CLEAN)
def test_bench_talk_is_left_alone(text: str) -> None:
    assert [pattern.id for _, _, pattern in identity.scan_text(text)] == []


def test_the_place_is_told_in_every_free_text() -> None:
    case = BARE.model_copy(
        update={
            "title": "for Mrs Ashcombe",
            "prescription": Prescription(note="tel. 555 0101 22"),
            "dentist_answer": [
                DentistAnswer(item="connector", answer="changed", reason="ada@example.org said so")
            ],
            "review": Review(status="draft", teaching_note="born 1951"),
            "source": "chart 20817",
        }
    )
    hits = identity.scan(case)
    assert [(hit.field, hit.kind) for hit in hits] == [
        ("title", "titled_name"),
        ("prescription.note", "said_phone"),
        ("dentist_answer[#1].reason", "e_mail"),
        ("review.teaching_note", "birth_date"),
        ("source", "record_number"),
    ]
    assert str(hits[0]) == "title, character 5: a name with a title ('Mrs Ashcombe')"


def test_an_id_may_name_a_person_too() -> None:
    assert identity.scan(BARE) == []
    assert [hit.field for hit in identity.scan(BARE.model_copy(update={"id": "Mrs-Ashcombe_4"}))] == ["id"]


def test_every_text_field_of_the_format_is_looked_at() -> None:
    """Walks the format itself, so that a text field added later cannot be forgotten."""
    from recommender.precedents.store.cells import from_cells, known_paths, place
    from recommender.precedents.store.documents import as_data

    texts = [path for path in known_paths() if place(path).shape.kind == "text" and path != "id"]
    assert len(texts) >= 9
    for path in texts:
        data = as_data(BARE) | from_cells({path: "Mrs Ashcombe"})
        found = list(identity._texts(identity.case_shape(), data, ""))
        assert [text for _, text in found] == ["Mrs Ashcombe"], path


def test_looking_settles_a_text_until_it_changes(tmp_path) -> None:
    case = BARE.model_copy(update={"title": "for Mrs Ashcombe (invented)"})
    with create_database(str(tmp_path / "l.db")) as library:
        library.add(case, who="KM")
        assert len(identity.unseen(library, case)) == 1
        with pytest.raises(UnfitText):
            identity.look_at(library, case.id, who="tutor", note=" ")
        assert len(identity.look_at(library, case.id, who="tutor", note="an invented name")) == 1
        assert identity.unseen(library, case) == []
        changed = case.model_copy(update={"title": "for Mrs Quillon"})
        assert len(identity.unseen(library, changed)) == 1


def test_reasons_in_the_history_name_nobody() -> None:
    assert identity.checked_reason("the dentist asked for it") == "the dentist asked for it"
    with pytest.raises(UnfitText, match="a name with a title"):
        identity.checked_reason("Mrs Ashcombe asked for it")


def test_invented_cases_are_clean() -> None:
    assert [identity.scan_lines(case) for case in invented_cases(200) if identity.scan(case)] == []


def test_hostile_text_takes_no_time() -> None:
    import time

    start = time.process_time()
    for text in (
        "9" * 5000,
        "Mr A. " * 800,
        "a@" * 2500,
        "1-" * 2500,
        "(0) " * 1200,
        "Patient " * 600,
        "1 Aa " * 1000,
    ):
        identity.scan_text(text[:5000])
    assert time.process_time() - start < 2.0


def test_a_text_is_taken_out_of_the_whole_history(tmp_path) -> None:
    """Not even the bytes of the file hold it any more; everything else is as it was."""
    from recommender.curation.redaction import redact
    from recommender.precedents.store.checking import faults

    place = tmp_path / "l.db"
    said = DentistAnswer(item="connector", answer="changed", reason="Mrs Ashcombe wrote so")
    case = BARE.model_copy(update={"title": "for Mrs Ashcombe", "dentist_answer": [said]})
    with create_database(str(place)) as library:
        library.add(case, who="KM")
        library.save(case.model_copy(update={"absent": [18]}), opened=1, who="KM", why="18 is gone")
        with pytest.raises(UnfitText):
            redact(library, case.id, "arch", who="tutor", why="a patient was named")
        with pytest.raises(UnfitText):
            redact(library, case.id, "title", who="tutor", why="it said Mrs Ashcombe")
        version, changed = redact(library, case.id, "title", who="tutor", why="a patient was named")
        assert (version.revision, version.kind, changed) == (3, "redacted", 2)
        redact(library, case.id, "dentist_answer[#1].reason", who="tutor", why="a patient was named")
        history = library.history(case.id)
        assert [v.case.title for v in history] == ["[taken out]"] * 4
        assert [v.case.absent for v in history] == [None, [18], [18], [18]]
        assert [v.who for v in history] == ["KM", "KM", "tutor", "tutor"]
        assert identity.scan(library.get(case.id).case) == []
        assert library.heads()[0].title == "[taken out]"
        assert faults(library) == []
    assert b"Ashcombe" not in place.read_bytes()
    assert not list(tmp_path.glob("*-wal"))
