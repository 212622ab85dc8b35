"""Tooth numbers: ISO 3950 beside the universal system, and documents in universal numbers."""

import pytest

from recommender.domain import numbering
from recommender.domain.errors import CaseError
from recommender.domain.reader import read_text

# ISO 3950:2016 (two-digit designation) beside the universal system, tooth by tooth as the tables of the
# American Dental Association print them (1 upper right third molar ... 32 lower right third molar).
CORRESPONDENCE = {
    1: 18, 2: 17, 3: 16, 4: 15, 5: 14, 6: 13, 7: 12, 8: 11,
    9: 21, 10: 22, 11: 23, 12: 24, 13: 25, 14: 26, 15: 27, 16: 28,
    17: 38, 18: 37, 19: 36, 20: 35, 21: 34, 22: 33, 23: 32, 24: 31,
    25: 41, 26: 42, 27: 43, 28: 44, 29: 45, 30: 46, 31: 47, 32: 48,
}  # fmt: skip


@pytest.mark.parametrize(("universal", "iso"), CORRESPONDENCE.items())
def test_every_tooth(universal: int, iso: int) -> None:
    assert numbering.to_iso(universal) == iso
    assert numbering.to_universal(iso) == universal
    assert numbering.display(iso, "universal") == str(universal)
    assert numbering.display(iso) == str(iso)


@pytest.mark.parametrize("wrong", [0, 33, 51, -1])
def test_what_is_no_universal_number(wrong: int) -> None:
    with pytest.raises(ValueError, match="universal"):
        numbering.to_iso(wrong)


@pytest.mark.parametrize("wrong", [0, 19, 20, 49, 51])
def test_what_is_no_permanent_tooth(wrong: int) -> None:
    with pytest.raises(ValueError, match="ISO 3950"):
        numbering.to_universal(wrong)


ISO = """
format: 1
id: same
arch: maxilla
missing: [15, 16, 24]
absent: [18, 28]
planned_extractions: [24]
future_loss_likely: [17]
patient: {last_tooth_in_smile: 15}
occlusion: {contacts: {15: [closing, lateral]}}
spans:
- {teeth: [15, 16], clearance_mm: {15: 5.0, 16: 6.5}}
abutments: [{tooth: 14, mobility: 1}, {tooth: 17}]
prescription:
  {retainers: {14: i_bar, 27: circumferential}, replacements: {15: tube_tooth}, rests: {14: mesial}}
design:
  retainers: [{tooth: 14, assembly: i_bar}, {tooth: 26, assembly: embrasure, partner: 27}]
  rests: {14: mesial, 23: cingulum}
  indirect_retainers: [{tooth: 23, rest: cingulum}]
  minor_connectors: [{tooth: 14, site: mesial}]
  proximal_plates: [{tooth: 14, surface: distal, height_mm: 3}]
  plating: [{teeth: [13, 23]}]
  bases: [{teeth: [15, 16]}]
  replacements: {15: tube_tooth}
  preparation: [{tooth: 14, surface: distal, action: guiding_plane}]
dentist_answer: [{item: "retainer:14", answer: accepted}, {item: connector, answer: changed}]
outcome: {events: [{month: 9, event: clasp_fracture, tooth: 14}]}
"""
UNIVERSAL = """
format: 1
id: same
numbering: universal
arch: maxilla
missing: [4, 3, 12]
absent: [1, 16]
planned_extractions: [12]
future_loss_likely: [2]
patient: {last_tooth_in_smile: 4}
occlusion: {contacts: {4: [closing, lateral]}}
spans:
- {teeth: [4, 3], clearance_mm: {4: 5.0, 3: 6.5}}
abutments: [{tooth: 5, mobility: 1}, {tooth: 2}]
prescription:
  {retainers: {5: i_bar, 15: circumferential}, replacements: {4: tube_tooth}, rests: {5: mesial}}
design:
  retainers: [{tooth: 5, assembly: i_bar}, {tooth: 14, assembly: embrasure, partner: 15}]
  rests: {5: mesial, 11: cingulum}
  indirect_retainers: [{tooth: 11, rest: cingulum}]
  minor_connectors: [{tooth: 5, site: mesial}]
  proximal_plates: [{tooth: 5, surface: distal, height_mm: 3}]
  plating: [{teeth: [6, 11]}]
  bases: [{teeth: [4, 3]}]
  replacements: {4: tube_tooth}
  preparation: [{tooth: 5, surface: distal, action: guiding_plane}]
dentist_answer: [{item: "retainer:5", answer: accepted}, {item: connector, answer: changed}]
outcome: {events: [{month: 9, event: clasp_fracture, tooth: 5}]}
"""


def test_every_number_of_a_universal_document_is_converted() -> None:
    assert read_text(UNIVERSAL) == read_text(ISO)


def problems(text: str) -> list[str]:
    with pytest.raises(CaseError) as caught:
        read_text(text, "c.yaml")
    return [str(problem) for problem in caught.value.problems]


def test_a_file_that_mixes_the_systems_is_refused() -> None:
    (problem,) = problems("format: 1\nid: a\nnumbering: universal\narch: mandible\nmissing: [19, 46]\n")
    assert "c.yaml:5:15" in problem
    assert "never mixed" in problem


def test_universal_numbers_are_never_guessed() -> None:
    (problem,) = problems("format: 1\nid: a\narch: maxilla\nmissing: [4]\n")
    assert "say numbering: universal" in problem


def test_errors_quote_the_number_that_was_written() -> None:
    (problem,) = problems("format: 1\nid: a\nnumbering: universal\narch: maxilla\nmissing: [19]\n")
    assert "found 19, a tooth of the mandible; allowed a tooth of the maxilla: 1-16" in problem


def test_an_unknown_numbering_is_refused() -> None:
    (problem,) = problems("format: 1\nid: a\nnumbering: palmer\narch: maxilla\nmissing: [15]\n")
    assert "allowed iso | universal" in problem
