"""Where words meet values in code: the walk that ``test_no_bypass`` makes through the package.

A sentence about a case is one that says something else of another case: words joined to a value (:func:`joined`), or a
whole sentence chosen by a condition (:func:`chosen`). A text that is the same whatever the case is (a heading, a
button, help) is neither, and may stand in a page or a verb.

Every way of joining counts: f-strings, ``+``, ``%``, ``format``, ``join``, ``replace``, ``substitute``, several things
printed in a row, words handed to a statement as one of its arguments; and words are words wherever they are kept: in
the expression, under a name, in a table, as a default. Let through are a *label* (at most four words and a colon before
what is said), a flag in capitals, markup, keys and paths, comments of a file that is written, complaints about input or
use (what is raised, refused or warned of), help of an option, and what Python prints of a value.
"""

import ast
import re
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

_WORD = re.compile(r"[A-Za-z]{2,}")
_TAG = re.compile(r"<[^<>]*>|<[^<>]*$|^[^<>]*>|&\w+;")
# a style sheet, or a rule of one
_SHEET = re.compile(r"\s*<style>|[^{}]*\{[a-z-]+: [^{}]*\}\s*$")
_KEY = re.compile(r"[A-Za-z0-9_.:/|(){}\[\]#-]*")
_ATTRIBUTE = re.compile(r"[a-z-]+=(?:\"[^\"]*\"|'[^']*'|\0)|--[a-z-]+")
_GAP = "\0"
_PRINTING = {"write", "print", "echo"}
_COMPLAINING = {"_refuse", "warn", "UsageError", "BadParameter", "Problem", "CaseError", "__init__"}
_STATING = {"say", "told", "Said"}
_LABEL = re.compile(r"\W*(?:[A-Za-z'-]+ ){0,3}[A-Za-z'-]+: ?[^A-Za-z]*")
_FLAG = re.compile(r"[^a-z]*")
_SENTENCE = re.compile(r"[a-z']{2,},? [a-z']{2,},? [a-z']{2,},? [a-z']{2,}")
_CHOOSING = (ast.IfExp, ast.BoolOp, ast.Return, ast.arguments, ast.NamedExpr, ast.Subscript)
# What says teeth, options and decisions of a case.
SAYING = {
    "tooth",
    "teeth",
    "option",
    "decision",
    "choice",
    "title",
    "step",
    "path",
    "field",
    "gap",
    "path_title",
}

Constants = Mapping[str, frozenset[str]]


@dataclass(frozen=True)
class Joined:
    """Words joined to a value: the line, the words with a gap for each value, whether a value is clinical."""

    line: int
    text: str
    clinical: bool


def joined(source: str, elsewhere: Constants | None = None) -> list[Joined]:
    """Every place of a module where words for a reader are joined to a value.

    ``elsewhere``: texts kept in capital names of other modules (:func:`capitals`).
    """
    walk = _Walk(ast.parse(source), elsewhere or {})
    return sorted(walk.found(), key=lambda each: each.line)


def chosen(source: str) -> list[tuple[int, str]]:
    """Every whole sentence that a condition, a function's outcome, a default or a name inside a function picks."""
    tree = ast.parse(source)
    skipped = _let_through(tree)
    held = {id(each): node for node in ast.walk(tree) for each in ast.iter_child_nodes(node)}
    found = []
    for node in ast.walk(tree):
        if id(node) in skipped or not isinstance(node, ast.Constant) or not isinstance(node.value, str):
            continue
        if not _SENTENCE.search(_TAG.sub(" ", node.value)):
            continue
        above, listed = held[id(node)], False
        while isinstance(above, (ast.List, ast.Tuple, ast.Dict, ast.JoinedStr)):
            listed = listed or isinstance(above, (ast.List, ast.Tuple))  # headings of a table
            above = held[id(above)]
        inside = isinstance(above, (ast.Assign, ast.AnnAssign)) and not listed
        if (inside and not isinstance(held[id(above)], ast.Module)) or isinstance(above, _CHOOSING):
            found.append((node.lineno, node.value))
    return found


def _let_through(tree: ast.Module) -> set[int]:
    """Complaints about input or use, help of options, docstrings, and what Python prints of a value."""
    found: set[int] = set()
    for node in ast.walk(tree):
        away = (
            isinstance(node, (ast.Raise, ast.Assert))
            or (isinstance(node, ast.FunctionDef) and node.name == "__repr__")
            or (isinstance(node, ast.Call) and _called(node) in _COMPLAINING)
            or (isinstance(node, ast.keyword) and node.arg == "help")
            or (isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant))
        )
        found |= {id(inner) for inner in ast.walk(node)} if away else set()
    return found


def _called(call: ast.Call) -> str:
    return call.func.attr if isinstance(call.func, ast.Attribute) else str(getattr(call.func, "id", ""))


def capitals(sources: Iterable[str]) -> Constants:
    """The texts that modules keep under names in capitals."""
    found: dict[str, set[str]] = defaultdict(set)
    for source in sources:
        for node in ast.parse(source).body:
            for name, value in _bindings(node):
                if name.isupper():
                    found[name] |= set(_plain_texts(value))
    return {name: frozenset(texts) for name, texts in found.items() if texts}


def files(root: Path, *rooms: str) -> list[Path]:
    """The modules of rooms, folders or single files under the package."""
    found: list[Path] = []
    for room in rooms:
        place = root / room
        found += [place] if place.is_file() else sorted(place.rglob("*.py"))
    return found


def _bindings(node: ast.AST) -> Iterator[tuple[str, ast.expr]]:
    if isinstance(node, ast.Assign):
        yield from ((target.id, node.value) for target in node.targets if isinstance(target, ast.Name))
    elif (
        isinstance(node, (ast.AnnAssign, ast.NamedExpr)) and isinstance(node.target, ast.Name) and node.value
    ):
        yield node.target.id, node.value
    elif isinstance(node, (ast.FunctionDef, ast.Lambda)):
        arguments = node.args
        placed = [*arguments.posonlyargs, *arguments.args]
        given = [*zip(placed[len(placed) - len(arguments.defaults) :], arguments.defaults, strict=True)]
        given += [
            (argument, default)
            for argument, default in zip(arguments.kwonlyargs, arguments.kw_defaults, strict=True)
            if default is not None
        ]
        yield from ((argument.arg, default) for argument, default in given)


def _plain_texts(value: ast.AST) -> Iterator[str]:
    """The texts that a value is made of: itself, either side of a choice, the entries of a table."""
    if isinstance(value, ast.Constant) and isinstance(value.value, str):
        if not _SHEET.match(value.value):
            yield value.value
    elif isinstance(value, ast.IfExp):
        yield from _plain_texts(value.body)
        yield from _plain_texts(value.orelse)
    elif isinstance(value, (ast.BoolOp, ast.Dict)):
        for each in value.values:
            yield from _plain_texts(each)
    elif isinstance(value, (ast.Tuple, ast.List)):
        for each in value.elts:
            yield from _plain_texts(each)


class _Walk:
    def __init__(self, tree: ast.Module, elsewhere: Constants) -> None:
        self.tree = tree
        self.elsewhere = elsewhere
        self.kept: dict[str, set[str]] = defaultdict(set)
        self.skipped = _let_through(tree)
        for node in ast.walk(tree):
            for name, value in _bindings(node):
                self.kept[name] |= set(_plain_texts(value))

    def found(self) -> Iterator[Joined]:
        for node in ast.walk(self.tree):
            if id(node) in self.skipped:
                continue
            if isinstance(node, ast.Call) and _called(node) in _STATING:
                yield from self._handed_over(node)
            parts = self._parts(node)
            if parts is None:
                continue
            text = "".join("|".join(self._texts(part)) or _GAP for part in parts)
            values = [part for part in parts if not self._literal(part)]
            if values and _worded(text):
                yield Joined(node.lineno, text.replace(_GAP, "…"), any(map(_says, values)))  # type: ignore[attr-defined]

    def _handed_over(self, call: ast.Call) -> Iterator[Joined]:
        """Words of the code's own among the arguments of a statement."""
        given = [keyword.value for keyword in call.keywords]
        given += call.args if _called(call) == "Said" else call.args[1:]
        for part in given:
            texts = [text for text in self._texts(part) if " " in text.strip()]
            if texts:
                yield Joined(call.lineno, f"{_called(call)}(…{texts[0]}…)", clinical=True)

    def _parts(self, node: ast.AST) -> list[ast.expr] | None:
        """What a joining expression joins; ``None`` for any other."""
        if isinstance(node, ast.JoinedStr):
            return [part.value if isinstance(part, ast.FormattedValue) else part for part in node.values]
        if isinstance(node, ast.BinOp) and isinstance(node.op, (ast.Add, ast.Mod)):
            sides = [node.left, node.right]
            return sides if any(map(self._texts, sides)) else None
        adds = isinstance(node, ast.AugAssign) and isinstance(node.op, ast.Add)
        if adds and not isinstance(node.value, (ast.List, ast.Tuple)) and self._texts(node.value):  # type: ignore[attr-defined]
            return [ast.copy_location(ast.Name("_", ast.Load()), node), node.value]
        if not isinstance(node, ast.Call):
            return None
        given = [*node.args, *(keyword.value for keyword in node.keywords)]
        name = _called(node)
        if isinstance(node.func, ast.Attribute) and name in {"format", "format_map", "replace", "substitute"}:
            return [node.func.value, *given]
        if isinstance(node.func, ast.Attribute) and name == "join" and node.args:
            row = node.args[0]
            inside = list(row.elts) if isinstance(row, (ast.List, ast.Tuple)) else [row]
            return [node.func.value, *inside]
        return list(node.args) if name in _PRINTING and len(node.args) > 1 else None

    def _texts(self, part: ast.AST) -> list[str]:
        """The words that a part of a joined text brings from the code itself."""
        if isinstance(part, ast.Name):
            return sorted(self.kept.get(part.id, set()) | set(self.elsewhere.get(part.id, ())))
        if isinstance(part, ast.Attribute):
            return sorted(self.elsewhere.get(part.attr, ()))
        if isinstance(part, ast.Subscript):
            return self._texts(part.value)
        if isinstance(part, ast.Call) and getattr(part.func, "attr", "") in {
            "get",
            "lower",
            "upper",
            "capitalize",
        }:
            return self._texts(part.func.value)  # type: ignore[attr-defined]
        if isinstance(part, ast.Call) and _called(part) == "Template":
            return [text for each in part.args for text in self._texts(each)]
        if isinstance(part, ast.IfExp):
            return self._texts(part.body) + self._texts(part.orelse)
        return list(_plain_texts(part))

    def _literal(self, part: ast.AST) -> bool:
        """Whether a part says the same whatever the case is."""
        if isinstance(part, ast.Constant):
            return True
        return isinstance(part, (ast.Name, ast.Attribute)) and bool(self._texts(part))


def _worded(text: str) -> bool:
    bare = _ATTRIBUTE.sub(" ", _TAG.sub(" ", text) if "<" in text or ">" in text else text)
    if not _WORD.search(bare.replace(_GAP, " ")) or _FLAG.fullmatch(bare):
        return False
    head, colon, rest = bare.partition(":")
    if colon and all(_LABEL.fullmatch(f"{each}:{rest}") for each in head.split("|")):  # any of a table's words
        return False
    if text.startswith("#") and all(line.startswith(("#", _GAP)) for line in text.splitlines()):
        return False
    return bool(re.search(r"\s", bare)) or not _KEY.fullmatch(bare.replace(_GAP, ""))


def _says(part: ast.AST) -> bool:
    for node in ast.walk(part):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr in SAYING:
            return True
    return False
