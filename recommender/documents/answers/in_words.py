"""What a dentist wrote beside a "yes": a fact of the case where the words say one, else words for its note."""

import re

from recommender.documents.answers.points import Point
from recommender.domain import lexicon
from recommender.domain.case import Case
from recommender.domain.fields import get_field, with_field
from recommender.domain.statement import Said, say
from recommender.wording.words import words_in

_BETWEEN = re.compile(r"[,;/&+\n]|\b(?:and|und|et|y|e|ed)\b")
_ALLERGY = "patient.allergy"
# A yes that is its own answer where the question is about one tooth.
_PLAIN_YES: dict[str, object] = {"mobility": 3}


def taken(case: Case, point: Point, words: str) -> tuple[Case, tuple[str, ...], str]:
    """The case with what "yes" and the words beside it say, the paths of the fields, and the words that no field holds.

    An allergy to something that the format does not name is recorded as ``other``. Of several teeth the words do not
    tell which is meant without a numbering, so they stay words.
    """
    words = words.strip()
    if point.fields == (_ALLERGY,):
        if get_field(case, _ALLERGY) is not None:
            return case, (), words
        pieces = [piece.strip() for piece in _BETWEEN.split(words) if piece.strip()]
        known = [lexicon.lookup("allergen", piece) for piece in pieces]
        strange = None in known or not known
        named = dict.fromkeys([*(one for one in known if one), *(["other"] if strange else [])])
        return with_field(case, _ALLERGY, list(named)), (_ALLERGY,), words if strange else ""
    if len(point.fields) != 1 or get_field(case, point.fields[0]) is not None:
        return case, (), words
    path = point.fields[0]
    name = path.rpartition(".")[2]
    value = _PLAIN_YES.get(name) or (lexicon.lookup("disease", words) if name == "disease" else None)
    if value is None:
        return case, (), words
    return with_field(case, path, value), (path,), "" if name not in _PLAIN_YES else words


def noted(case: Case, point: Point, words: str) -> Case:
    """The case with words of the dentist in the note of its prescription, after the question that they answer."""
    before = get_field(case, "prescription.note")
    added = words_in().text(say("answer.noted_text", question=point.cells[0], words=Said(words)))
    return with_field(case, "prescription.note", f"{before}\n{added}" if before else added)
