"""No sentence about a case is built outside the room ``wording``: a walk through the code of the rooms below it."""

import ast
import re
from pathlib import Path

import pytest

import recommender

PACKAGE = Path(recommender.__file__).parent
BELOW = ("mechanics", "facts", "advice")
_SENTENCE = re.compile(r"[a-z]{2,} [a-z]{2,} [a-z]{2,} [a-z]{2,}")
# Messages for whoever writes rules or calls a function wrongly are no sentences about a case.
FOR_RULE_WRITERS = {"advice/frameworks/rules/book.py"}
_NO_SENTENCE = (ast.Raise, ast.Assert)


def _skipped(tree: ast.AST) -> set[int]:
    found: set[int] = set()
    for node in ast.walk(tree):
        if isinstance(node, _NO_SENTENCE):
            found |= {id(inner) for inner in ast.walk(node)}
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            found.add(id(node.value))  # docstrings
    return found


def _sentences(path: Path) -> list[str]:
    if path.relative_to(PACKAGE).as_posix() in FOR_RULE_WRITERS:
        return []
    tree = ast.parse(path.read_text(encoding="utf-8"))
    skipped = _skipped(tree)
    found = []
    for node in ast.walk(tree):
        if id(node) in skipped:
            continue
        text = ""
        if isinstance(node, ast.JoinedStr):
            text = " ".join(str(part.value) for part in node.values if isinstance(part, ast.Constant))
        elif isinstance(node, ast.Constant) and isinstance(node.value, str):
            text = node.value
        if _SENTENCE.search(text):
            found.append(f"{path.relative_to(PACKAGE)}:{node.lineno}: {text[:70]}")
    return found


@pytest.mark.parametrize("room", BELOW)
def test_no_room_below_the_words_holds_a_sentence(room: str) -> None:
    assert not [line for path in sorted((PACKAGE / room).rglob("*.py")) for line in _sentences(path)]


def test_a_sentence_would_be_found(tmp_path: Path) -> None:
    held = PACKAGE / "advice" / "analysis.py"
    assert not _sentences(held)
    tree = ast.parse('def f(tooth):\n    return f"there is no rest at {tooth} for want of room"\n')
    assert not _skipped(tree) & {id(node) for node in ast.walk(tree) if isinstance(node, ast.JoinedStr)}
    assert _SENTENCE.search("there is no rest at  for want of room")
    assert not _SENTENCE.search("further tooth ")  # a key, not a sentence
