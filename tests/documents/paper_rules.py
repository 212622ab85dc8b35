"""What a bench and a surgery would send back, as rules over a letter or a ticket. Each gives its faults in words.

Where a rule has a source it is named; the others are common practice, no source.
"""

import re
from collections.abc import Iterator
from typing import Any

from recommender.advice.analysis import CaseAnalysis
from recommender.documents.blocks import Document
from recommender.documents.proposal import Proposal
from recommender.domain.case import Case

# Landmarks of one arch (Glossary of Prosthodontic Terms, 10th ed., J Prosthet Dent 2023;130:e1-e126: maxillary
# tuberosity, retromolar pad, mylohyoid ridge, genial tubercle; from memory).
UPPER = re.compile(r"tuberosity|palat|rugae|vibrating line|incisive papilla", re.IGNORECASE)
LOWER = re.compile(r"pear-shaped|retromolar|mylohyoid|floor of the mouth|genial|lingual bar|lower ridge", re.IGNORECASE)
_TABLE_CODE = re.compile(r"\b(?:CONN|RET|SPC|PREP|VIS|MECH)-\d+")
_POINTS = re.compile(r"gives up|gains:|of score|\d points?\b|likeness|\balike\b", re.IGNORECASE)
_A_BEFORE_VOWEL = re.compile(r"\ba (?!one|eu)(?:[aeio]|I-bar|RPA|RPI)", re.IGNORECASE)
_AN_BEFORE_CONSONANT = re.compile(r"\ban (?:[bcdfgjkpqtvwz])", re.IGNORECASE)
_CASE_ID = re.compile(r"\b[a-z]+-\d{4}\b")


def texts(value: Any, key: str = "") -> Iterator[str]:
    """Every text of a document but the pictures."""
    if isinstance(value, str):
        if key not in ("svg", "kind"):
            yield value
    elif isinstance(value, dict):
        for name, inner in value.items():
            yield from texts(inner, name)
    elif isinstance(value, (list, tuple)):
        for inner in value:
            yield from texts(inner, key)


def of_letter(document: Document, case: Case, ids: set[str]) -> list[str]:
    """Faults of a letter."""
    own = case.prescription.note if case.prescription and case.prescription.note else ""
    found = []
    for text in texts(document.blocks):
        if own and text == own:
            continue
        if _TABLE_CODE.search(text):
            found.append(f"code of a table: {text}")
        if _POINTS.search(text):
            found.append(f"points or likeness: {text}")
        if set(_CASE_ID.findall(text)) & (ids - {case.id}):
            found.append(f"another case by its id: {text}")
    found += _grammar(document)
    if not any(block["kind"] == "answer" and "empty is no consent" in block["signing"] for block in document.blocks):
        found.append("nothing says what is signed")
    return found + _other_arch(document, case)


def of_ticket(document: Document, proposal: Proposal, analysis: CaseAnalysis) -> list[str]:
    """Faults of a ticket."""
    case, design = proposal.case, proposal.design
    said = list(texts(document.blocks))
    found = [f"speaks of the ticket on the ticket: {text}" for text in said if "on the ticket" in text.lower()]
    found += _other_arch(document, case)
    found += _ridges_on_front_rests(document)
    found += _levers(said)
    for block in document.blocks:
        lines = block.get("items", ())
        found += [f"the same line twice: {line}" for line in set(lines) if lines.count(line) > 1]
    notes = [line.partition(": ")[2] for line in _under(document, "Notes for these parts")]
    found += [f"the same note for several teeth: {note}" for note in set(notes) if notes.count(note) > 1]
    first = " ".join(texts(first_page(document)))
    if any(r.assembly == "rigid_rotational" for r in design.retainers or ()) and not (
        "Path 1" in first and "Path 2" in first and "tripod 1" in first and "tripod 2" in first
    ):
        found.append("a rotational design without both surveys and both tripods")
    return found + _not_to_build_from(document, proposal) + _grammar(document)


def _under(document: Document, heading: str) -> list[str]:
    """The lines of the list under a heading."""
    titles = [block.get("text") if block["kind"] == "heading" else None for block in document.blocks]
    if heading not in titles:
        return []
    lines: list[str] = document.blocks[titles.index(heading) + 1]["items"]
    return lines


def first_page(document: Document) -> list[dict[str, Any]]:
    """What stands before the first page break."""
    kinds = [block["kind"] for block in document.blocks]
    return list(document.blocks[: kinds.index("page")])


def _not_to_build_from(document: Document, proposal: Proposal) -> list[str]:
    """A bench builds from the first page: every part with its tooth, tip, depth and rest, frame, alloy and allergy."""
    design, page = proposal.design, first_page(document)
    said = " ".join(texts(page))
    tables = [block for block in page if block["kind"] == "table"]
    rows = {row[0]: " ".join(row[1:]) for table in tables for row in table["rows"]}
    found = []
    for retainer in design.retainers or ():
        if retainer.assembly == "none":
            continue
        row = rows.get(str(retainer.tooth), "")
        if not row:
            found.append(f"{retainer.tooth} is not on the first page")
        elif retainer.undercut is not None:
            depth = "depth not recorded" if retainer.undercut.mm is None else f"{retainer.undercut.mm:.2f} mm"
            if depth not in row or retainer.undercut.zone not in row:
                found.append(f"{retainer.tooth}: no tip or depth on the first page: {row}")
    found += [f"{t}: its rest is not on the first page" for t in design.rests or {} if str(t) not in rows and
              (design.rests or {})[t] != "none"]  # fmt: skip
    for word in ("FRAME:", "allerg", "Path"):
        if word.lower() not in said.lower():
            found.append(f"{word} is not on the first page")
    for block in page:
        if block["kind"] in ("paragraph", "list", "table") and not block.get("large"):
            found.append(f"small type on the first page: {block}")
    return found


def _ridges_on_front_rests(document: Document) -> list[str]:
    tables = [block for block in document.blocks if block["kind"] == "table"]
    rows = [row for table in tables for row in table["rows"]]
    return [
        f"a ridge on a rest that has none: {row}"
        for row in rows
        if row[0].startswith(("cingulum rest", "incisal rest")) and "ridge" in " ".join(row)
    ]


def _levers(said: list[str]) -> list[str]:
    """One seat has one lever."""
    found = {lever for text in said for lever in re.findall(r"[Ll]ever (?:about )?([\d.]+) mm", text)}
    seats = len([text for text in said if "indirect retainer, lever" in text])
    return [f"several levers for {seats} seats: {sorted(found)}"] if len(found) > max(seats, 0) else []


def _other_arch(document: Document, case: Case) -> list[str]:
    wrong = LOWER if case.arch == "maxilla" else UPPER
    return [f"a landmark of the other arch: {text}" for text in texts(document.blocks) if wrong.search(text)
            and "Carr AB" not in text and "ental" not in text and "onnectors (" not in text]  # fmt: skip


def _grammar(document: Document) -> list[str]:
    found = []
    for text in texts(document.blocks):
        if _A_BEFORE_VOWEL.search(text) or _AN_BEFORE_CONSONANT.search(text):
            found.append(f"article: {text}")
        if re.search(r"\.\.|  | ,| \.|\(\)|None\b|\{|_", text.replace("______", "0")) and "http" not in text:
            found.append(f"slip: {text}")
    return found
