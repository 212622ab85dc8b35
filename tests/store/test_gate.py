"""Free text that may identify a patient is found with its place, and stands in the way of approval."""

import pytest

from recommender.curation import review
from recommender.domain.case import Case, DentistAnswer, Review
from recommender.domain.designs import Prescription
from recommender.precedents.store import documents, gate, looked_at
from recommender.precedents.store.database_source import DatabaseSource
from recommender.precedents.store.databases import create_database
from recommender.precedents.store.errors import MayIdentify, UnfitText
from recommender.precedents.store.importing.batch import import_all
from recommender.precedents.store.importing.reports import Terms
from recommender.precedents.store.importing.rows import Row
from recommender.privacy.gate import hits, texts
from recommender.privacy.recogniser import look
from tests.ends import ends_soon
from tests.store.invented import invented_cases

BARE = Case(format=1, id="harbour-0012", arch="maxilla", missing=[15, 16])


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
    found = hits(case)
    assert [(hit.field, hit.kind) for hit in found] == [
        ("title", "name"),
        ("prescription.note", "telephone"),
        ("dentist_answer[#1].reason", "e_mail"),
        ("review.teaching_note", "date"),
        ("source", "record"),
    ]
    assert str(found[0]) == "title, character 5: a name ('Mrs Ashcombe')"


def test_an_id_may_name_a_person_too() -> None:
    assert hits(BARE) == []
    assert [hit.field for hit in hits(BARE.model_copy(update={"id": "Mrs-Ashcombe_4"}))] == ["id"]


def test_every_text_field_of_the_format_is_looked_at() -> None:
    """Walks the format itself, so that a text field added later cannot be forgotten."""
    from recommender.precedents.store.cells import from_cells, known_paths, place

    paths = [path for path in known_paths() if place(path).shape.kind == "text" and path != "id"]
    assert len(paths) >= 9
    for path in paths:
        data = documents.as_data(BARE) | from_cells({path: "Mrs Ashcombe"})
        assert "Mrs Ashcombe" in [text for _, text in texts(data)], path


def test_looking_settles_a_text_until_it_changes(tmp_path) -> None:
    case = BARE.model_copy(update={"title": "for Mrs Ashcombe (invented)"})
    with create_database(str(tmp_path / "l.db")) as library:
        library.add(case, who="KM")
        assert len(looked_at.unseen(library, case)) == 1
        with pytest.raises(UnfitText):
            looked_at.look_at(library, case.id, who="tutor", note=" ")
        assert len(looked_at.look_at(library, case.id, who="tutor", note="an invented name")) == 1
        assert looked_at.unseen(library, case) == []
        changed = case.model_copy(update={"title": "for Mrs Quillon"})
        assert len(looked_at.unseen(library, changed)) == 1


def test_reasons_in_the_history_name_nobody() -> None:
    assert gate.checked_reason("the dentist asked for it") == "the dentist asked for it"
    with pytest.raises(UnfitText, match="a name"):
        gate.checked_reason("Mrs Ashcombe asked for it")


def test_invented_cases_are_clean() -> None:
    assert [[str(hit) for hit in hits(case)] for case in invented_cases(200) if hits(case)] == []


@pytest.mark.parametrize("text", ["9", "Mr A. ", "a@", "1-", "(0) ", "Patient ", "1 Aa "])
def test_looking_at_a_hostile_text_ends(text: str) -> None:
    with ends_soon():
        look.__wrapped__((text * 5000)[:5000])


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
        assert hits(library.get(case.id).case) == []
        assert library.heads()[0].title == "[taken out]"
        assert faults(library) == []
    assert b"Ashcombe" not in place.read_bytes()
    assert not list(tmp_path.glob("*-wal"))


NAMED = BARE.model_copy(update={"title": "for Mrs Ashcombe"})
APPROVED = Review(status="approved")


def test_no_way_in_makes_a_named_case_approved(tmp_path) -> None:
    """Adding, editing, importing, follow-up, a reviewer's note: each ends at the same gate."""
    named = NAMED.model_copy(update={"review": APPROVED})
    sound = BARE.model_copy(update={"review": APPROVED})
    with create_database(str(tmp_path / "l.db")) as library:
        with pytest.raises(MayIdentify, match="title, character 5"):
            library.add(named, who="KM")
        library.add(sound, who="KM")
        with pytest.raises(MayIdentify):
            library.save(named, opened=1, who="KM", why="a title")
        with pytest.raises(UnfitText, match="Mrs Ashcombe"):
            library.save(
                sound.model_copy(update={"absent": [18]}), opened=1, who="KM", why="Mrs Ashcombe said so"
            )
        version, said = review.revise(library, NAMED, opened=1, who="KM", why="a title")
        assert documents.status(version.case) == "draft"
        assert "until then it serves as it was approved" in said
        assert [case.title for case in DatabaseSource(library).cases()] == [None]
        assert DatabaseSource(library).latest_of(BARE.id).title == "for Mrs Ashcombe"
        with pytest.raises(review.NotApprovable):
            review.approve(library, BARE.id, who="tutor", contradictions=lambda _: [])
        row = Row("row 1", named.model_copy(update={"id": "c-2"}))
        import_all(library, [row], Terms("KM", "past work", keep_status=True), lambda _: None)
        assert library.get("c-2").case.review.status == "draft"


def test_a_reviewers_note_is_looked_at(tmp_path) -> None:
    from tests.curation.test_review import surveyed

    with create_database(str(tmp_path / "l.db")) as library:
        library.add(surveyed("a"), who="KM")
        with pytest.raises(review.NotApprovable, match=r"review\.teaching_note"):
            review.approve(
                library, "a", who="t", teaching_note="as for Mrs Ashcombe", contradictions=lambda _: []
            )
        with pytest.raises(UnfitText):
            review.approve(library, "a", who="t", reason="Mrs Ashcombe asked", contradictions=lambda _: [])
        with pytest.raises(UnfitText):
            looked_at.look_at(library, "a", who="t", note="it is only Mrs Ashcombe")


@pytest.mark.parametrize("who", ["Mrs Ashcombe", "Anna Schmidt", "19510203", "tel 0161 496 0735"])
def test_who_is_a_role_or_initials(who: str) -> None:
    from recommender.precedents.store.gate import checked_who

    with pytest.raises(UnfitText, match="role or initials"):
        checked_who(who)
    assert [checked_who(said) for said in ("KM", "tutor", "Lab 2", "senior technician")]


@pytest.mark.parametrize(
    "alias", ["anna.schmidt", "Anna Schmidt", "ada@example.org", "AnnaSchmidt", "1951-02-03"]
)
def test_an_alias_names_nobody(alias: str) -> None:
    with pytest.raises(UnfitText):
        gate.checked_alias(alias)
    assert gate.checked_alias("blue heron") == "blue heron"


@pytest.mark.parametrize(
    "case_id", ["anna-schmidt", "mueller-hans-2", "Mrs-Ashcombe_4", "19510203-a", "JurgenThielemann"]
)
def test_ids_are_read_as_words(case_id: str) -> None:
    assert [hit.field for hit in hits(BARE.model_copy(update={"id": case_id}))] == ["id"]


@pytest.mark.parametrize(
    "case_id", ["harbour-0012", "c-7", "upper-left-3", "lab-4820917", "A-48291", "made-0002", "long-span-12"]
)
def test_plain_ids_are_left_alone(case_id: str) -> None:
    assert hits(BARE.model_copy(update={"id": case_id})) == []


def test_a_table_without_headings_is_not_remembered(tmp_path) -> None:
    from recommender.precedents.store.importing.mappings import remember

    with (
        create_database(str(tmp_path / "l.db")) as library,
        pytest.raises(UnfitText, match="a row of headings"),
    ):
        remember(library, ["Mrs Ashcombe", "15 16"], {}, who="KM")
