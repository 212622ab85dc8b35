"""The lexicon: every word belongs to an identifier of the format, no phrase to two, and registers are understood."""

import pytest

from recommender.domain import lexicon as lx
from recommender.domain import vocabulary as v
from recommender.domain.catalogue import IDENTIFIERS
from recommender.domain.labels import _document
from recommender.domain.shape import case_shape

# A heading that serves a word and a measure alike: which is meant shows in the cells.
_SHARED_HEADINGS = {
    "occlusion.overbite",
    "occlusion.overbite_mm",
    "palate.future_loss_likely",
    "floor.future_loss_likely",
}


def test_every_identifier_is_one_of_the_format() -> None:
    lists = _document()["lists"]
    for entry in lx.lexicon().entries:
        if entry.kind == "heading":
            assert entry.identifier in ("identity", "numbering") or _is_path(entry.identifier), entry
        elif entry.kind == "flag":
            assert entry.identifier in ("true", "false")
        elif entry.kind == "site":
            assert entry.identifier in lists["rest_seat"]
        else:
            known = IDENTIFIERS.get(entry.kind) or tuple(lists[entry.kind])
            assert entry.identifier in known, entry
    for kind, items in lx.document("options")["unsettled"].items():
        for item in items:
            assert set(item["of"]) <= set(IDENTIFIERS[kind])


def test_findings_are_fields_and_values_of_the_format() -> None:
    for statement in lx.document("findings")["findings"]:
        path, value = statement.split("=")
        assert _is_path(path), path
        kind = lx.kind_of(path)
        plain = ("0", "1", "2", "3") if path == "abutments.mobility" else ("true", "false")
        known = plain if kind in ("", "flag") else tuple(_document()["lists"][kind])
        several = value.split() if path == "patient.allergy" else [value]
        assert set(several) <= set(known) or statement == "patient.allergy=none", statement


def test_no_phrase_of_a_list_names_two_things() -> None:
    held: dict[tuple[str, str], set[str]] = {}
    for entry in lx.lexicon().entries:
        for key in ("".join(entry.words), "".join(lx.stem(word) for word in entry.words)):
            held.setdefault((entry.kind, key), set()).add(entry.identifier)
    twice = {key: ids for key, ids in held.items() if len(ids) > 1 and not ids <= _SHARED_HEADINGS}
    assert not twice


@pytest.mark.parametrize("kind", ["retainer", "connector", "replacement", "rest", "alloy"])
def test_every_option_is_found_by_its_own_label(kind: str) -> None:
    from recommender.domain.catalogue import load

    for option in load().options[kind].values():
        for words in (option.label, *option.synonyms, option.id):
            assert lx.lookup(kind, words) == option.id, words


@pytest.mark.parametrize(
    ("kind", "words", "identifier"),
    [
        ("sex", "F", "female"), ("sex", "M", "male"), ("sex", "weiblich", "female"), ("sex", "kobieta", "female"),
        ("sex", "vrouw", "female"), ("alloy", "CoCr", "cobalt_chromium"), ("alloy", "Co-Cr", "cobalt_chromium"),
        ("alloy", "cromo-cobalto", "cobalt_chromium"), ("arch", "lower", "mandible"), ("arch", "OK", "maxilla"),
        ("arch", "żuchwa", "mandible"), ("arch", "bovenkaak", "maxilla"), ("arch", "superiore", "maxilla"),
        ("retainer", "I-bars", "i_bar"), ("retainer", "ibar", "i_bar"),
        ("retainer", "crochet d’Akers", "circumferential"),
        ("retainer", "grampo circunferencial", "circumferential"), ("retainer", "klamra pierścieniowa", "ring"),
        ("connector", "Lingualbuegel", "lingual_bar"), ("connector", "HORSESHOE", "u_shaped"),
        ("connector", "placca linguale", "linguoplate"), ("opposing", "full denture", "complete_denture"),
        ("flag", "oui", "true"), ("flag", "nein", "false"), ("hygiene", "mala", "poor"),
        ("zone", "MB", "mesiofacial"), ("allergen", "níquel", "nickel"),
        ("connector", "Gaumenplatte", None), ("alloy", "titanium", None), ("retainer", "spoon", None),
    ],
)  # fmt: skip
def test_words_of_registers(kind: str, words: str, identifier: str | None) -> None:
    assert lx.lookup(kind, words) == identifier


@pytest.mark.parametrize(
    ("heading", "path", "number"),
    [
        ("Missing teeth", "missing", None), ("fehlende Zähne", "missing", None), ("Sex", "patient.sex", None),
        ("SEXO", "patient.sex", None), ("Klammer 14", "prescription.retainers", 14),
        ("14 clasp", "prescription.retainers", 14),
        ("Major connector", "prescription.connector", None), ("Oral hygiene (OH)", "patient.hygiene", None),
        ("Linea del sorriso", "patient.smile_line", None), ("Leeftijd", "patient.age", None),
        ("Undercut 14 MB", "abutments.undercuts_mm", 14), ("Patient name", "identity", None),
        ("Date of birth", "identity", None), ("Geburtsdatum", "identity", None), ("colour of the box", None, None),
    ],
)  # fmt: skip
def test_headings_of_registers(heading: str, path: str | None, number: int | None) -> None:
    found = lx.guess_heading(heading)
    assert (found.path if found else None) == path
    assert (found.number if found else None) == number


def test_open_words_say_between_what() -> None:
    assert set(lx.choices("alloy", "titanium")) == {"titanium_cp", "titanium_alloy"}
    assert lx.choices("alloy", "CoCr") == ()


def test_misspelt_words_are_found_within_their_bound_and_not_beyond() -> None:
    close = lx.near("connector", "horshoe")
    assert close is not None
    assert (close.identifier, close.distance) == ("u_shaped", 2)
    close = lx.near("retainer", "circumferental")
    assert close is not None
    assert close.identifier == "circumferential"
    assert lx.near("connector", "umbrella") is None
    assert lx.near("sex", "f") is None


def test_every_closed_list_has_a_kind_for_its_fields() -> None:
    assert lx.kind_of("patient.smile_line") == "smile_line"
    assert lx.kind_of("patient.age") == ""
    assert lx.kind_of("prescription.note") == ""
    assert set(v.RESTS) == {entry.identifier for entry in lx.lexicon().of("rest")}


def _is_path(path: str) -> bool:
    """Whether a path without tooth numbers is one of the case format."""
    shape = case_shape()
    for step in path.split("."):
        while shape.kind in ("list", "map") and shape.item is not None:
            shape = shape.item
        fields = shape.fields or next((c.fields for c in shape.choices if c.fields), {})
        if step not in fields:
            return False
        shape = fields[step]
    return True
