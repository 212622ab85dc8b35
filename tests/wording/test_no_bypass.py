"""No sentence about a case is built outside the room ``wording``: a walk through the code of the rooms below it."""

import ast
import re
from pathlib import Path

import pytest

import recommender

PACKAGE = Path(recommender.__file__).parent
BELOW = ("mechanics", "survey", "facts", "advice", "documents")
ABOVE = ("screens", "cli")  # they frame what is said, and name a tooth only by way of the words
_SENTENCE = re.compile(r"[a-z]{2,} [a-z]{2,} [a-z]{2,} [a-z]{2,}")
# Messages for whoever writes rules or calls a function wrongly are no sentences about a case.
FOR_RULE_WRITERS = {"advice/frameworks/rules/book.py"}
# A pattern that finds what the typesetter complains of.
PATTERNS = {"documents/typesetting.py"}
_NO_SENTENCE = (ast.Raise, ast.Assert)


def _skipped(tree: ast.AST) -> set[int]:
    found: set[int] = set()
    for node in ast.walk(tree):
        if isinstance(node, _NO_SENTENCE):
            found |= {id(inner) for inner in ast.walk(node)}
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            found.add(id(node.value))  # docstrings
    return found


def _literals(text: ast.JoinedStr) -> list[str]:
    """What an f-string says besides its values."""
    return [str(part.value) for part in text.values if isinstance(part, ast.Constant)]


def _sentences(path: Path) -> list[str]:
    if path.relative_to(PACKAGE).as_posix() in FOR_RULE_WRITERS | PATTERNS:
        return []
    tree = ast.parse(path.read_text(encoding="utf-8"))
    skipped = _skipped(tree)
    found = []
    for node in ast.walk(tree):
        if id(node) in skipped:
            continue
        text = ""
        if isinstance(node, ast.JoinedStr):
            text = " ".join(_literals(node))
        elif isinstance(node, ast.Constant) and isinstance(node.value, str):
            text = node.value
        if _SENTENCE.search(text):
            found.append(f"{path.relative_to(PACKAGE)}:{node.lineno}: {text[:70]}")
    return found


@pytest.mark.parametrize("room", BELOW)
def test_no_room_below_the_words_holds_a_sentence(room: str) -> None:
    assert not [line for path in sorted((PACKAGE / room).rglob("*.py")) for line in _sentences(path)]


def _bare_teeth(source: str) -> list[int]:
    """Lines of text for people that hold a tooth as a bare number; ``data-`` attributes are for a page's script."""
    found = []
    for node in ast.walk(ast.parse(source)):
        if not isinstance(node, ast.JoinedStr):
            continue
        text = "".join(_literals(node))
        values = [part.value for part in node.values if isinstance(part, ast.FormattedValue)]
        names = {value.id if isinstance(value, ast.Name) else getattr(value, "attr", "") for value in values}
        if " " in text.strip() and "data-" not in text and names & {"tooth", "teeth"}:
            found.append(node.lineno)
    return found


@pytest.mark.parametrize("room", ABOVE)
def test_no_page_or_verb_names_a_tooth_past_the_words(room: str) -> None:
    files = sorted((PACKAGE / room).rglob("*.py"))
    assert not [
        (path.name, lines) for path in files if (lines := _bare_teeth(path.read_text(encoding="utf-8")))
    ]
    assert _bare_teeth('st.write(f"a rest on {entry.tooth}")') == [1]
    assert _bare_teeth('st.write(f"a rest on {words.tooth(entry.tooth)}")') == []


# Words joined to a value in the code: letters beside a gap of an f-string, or a text that is added to another.
_WORD = re.compile(r"[A-Za-z]{2,}")
# Markup and paths are written in these, no words for a reader; `chart` tells a tooth's state in words of its own data.
MARKUP = {
    "documents/drawing/svg.py",
    "documents/drawing/lettering.py",
    "documents/drawing/legend.py",
    "documents/chart.py",
    "documents/writing.py",
    "documents/typesetting.py",
    "documents/answers/form.py",
}
_KEY = re.compile(r"[a-z_.:]*")  # a code, a decision's key, a field's path


def _joined(path: Path) -> list[str]:
    """F-strings with words in them, and words added to a value, that are no codes or keys."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    skipped = _skipped(tree)
    found = []
    for node in ast.walk(tree):
        if id(node) in skipped:
            continue
        texts: list[str] = []
        if isinstance(node, ast.JoinedStr):
            texts = _literals(node)
        elif isinstance(node, ast.BinOp) and isinstance(node.op, ast.Add):
            sides = (node.left, node.right)
            texts = [
                side.value for side in sides if isinstance(side, ast.Constant) and isinstance(side.value, str)
            ]
        if any(_WORD.search(text) and not _KEY.fullmatch(text) for text in texts):
            found.append(f"{path.relative_to(PACKAGE)}:{node.lineno}: {' … '.join(texts)[:70]}")
    return found


def test_papers_join_no_words_in_code() -> None:
    """Letter, ticket, form and the words of the drawing come from templates, the shortest phrase included."""
    looked_at = [
        path
        for path in sorted((PACKAGE / "documents").rglob("*.py"))
        if path.relative_to(PACKAGE).as_posix() not in MARKUP and "results" not in path.parts
    ]
    assert len(looked_at) > 30
    assert not [line for path in looked_at for line in _joined(path)]


def test_joined_words_would_be_found(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("tests.wording.test_no_bypass.PACKAGE", tmp_path)
    held = tmp_path / "paper.py"
    held.write_text(
        'def f(x):\n    return f"Frame: {x}; made", "Arms: " + x, f"letter.{x}", f"retainer:{x}"\n'
    )
    assert len(_joined(held)) == 2


def test_a_sentence_would_be_found(tmp_path: Path) -> None:
    held = PACKAGE / "advice" / "analysis.py"
    assert not _sentences(held)
    tree = ast.parse('def f(tooth):\n    return f"there is no rest at {tooth} for want of room"\n')
    assert not _skipped(tree) & {id(node) for node in ast.walk(tree) if isinstance(node, ast.JoinedStr)}
    assert _SENTENCE.search("there is no rest at  for want of room")
    assert not _SENTENCE.search("further tooth ")  # a key, not a sentence
