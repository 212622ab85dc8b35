"""Every code that is said has its template, with the arguments that it needs; and every template is said somewhere."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import recommender
from recommender.wording.templates import DEFAULT, language

PACKAGE = Path(recommender.__file__).parent
TEMPLATES = language(DEFAULT).templates
_CODE = re.compile(r"[a-z_]+(\.[a-z_]+)*")


def sources() -> Iterator[tuple[Path, ast.Module]]:
    """Every module of the package with its tree, one after the other: all of them at once slow a process down."""
    for path in sorted(PACKAGE.rglob("*.py")):
        yield path, ast.parse(path.read_text(encoding="utf-8"))


def codes(node: ast.expr) -> Iterator[str]:
    """The codes that an expression can be, as far as they stand in it."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        yield node.value
    elif isinstance(node, ast.IfExp):
        yield from codes(node.body)
        yield from codes(node.orelse)


def said() -> Iterator[tuple[str, str, set[str], bool]]:
    """Place, code, names of the arguments, and whether all of them stand there."""
    for path, tree in sources():
        for node in ast.walk(tree):
            if not isinstance(node, ast.Call) or not node.args:
                continue
            name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
            if name in {"say", "told"}:
                given = {keyword.arg for keyword in node.keywords if keyword.arg}
                whole = all(keyword.arg for keyword in node.keywords)
                for code in codes(node.args[0]):
                    yield f"{path.relative_to(PACKAGE)}:{node.lineno}", code, given, whole


def test_every_code_that_is_said_has_a_template_and_its_arguments() -> None:
    found = [(place, code, given, whole) for place, code, given, whole in said() if _CODE.fullmatch(code)]
    assert len(found) > 400
    assert not [f"{place}: {code}" for place, code, _, _ in found if code not in TEMPLATES]
    assert not [
        f"{place}: {code} wants {', '.join(sorted(TEMPLATES[code].needed - given))}"
        for place, code, given, whole in found
        if whole and not TEMPLATES[code].needed <= given
    ]


def test_every_template_is_said_somewhere() -> None:
    """A code is written out, or made of the beginning that stands in an f-string."""
    texts, beginnings = set(), set()
    for _, tree in sources():
        for node in ast.walk(tree):
            if isinstance(node, ast.Constant) and isinstance(node.value, str):
                texts.add(node.value)
            if isinstance(node, ast.JoinedStr) and isinstance(node.values[0], ast.Constant):
                beginnings.add(str(node.values[0].value))
    made = tuple(text for text in beginnings if re.fullmatch(r"[a-z_]+\.[a-z_.]*", text))
    assert not [code for code in TEMPLATES if code not in texts and not code.startswith(made)]
