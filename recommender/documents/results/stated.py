"""Statements in a JSON document: the text in the reader's numbering, and the statement itself beside it."""

from collections.abc import Iterable

from recommender.domain.statement import Statement, statement_document
from recommender.wording.words import Words


def stated(words: Words, statement: Statement) -> dict[str, object]:
    """``text`` and ``statement``."""
    return {"text": words.text(statement), "statement": statement_document(statement)}


def listed(words: Words, key: str, statements: Iterable[Statement]) -> dict[str, object]:
    """A list of plain texts under ``key``, and the statements under ``key_statements``, in the same order."""
    found = tuple(statements)
    return {
        key: [words.text(statement) for statement in found],
        f"{key}_statements": [statement_document(statement) for statement in found],
    }
