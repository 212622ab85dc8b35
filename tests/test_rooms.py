"""The rooms of DEVELOPERS.md: data goes one way, so an import that runs back up is a fault."""

import ast
from pathlib import Path

import pytest

import recommender

PACKAGE = Path(recommender.__file__).parent
# Each room may import itself and those named.
_BELOW_WORDS = {"domain", "mechanics", "facts", "knowledge", "precedents", "advice"}
_PAPERS = _BELOW_WORDS | {"wording", "survey"}
_CURATION = _PAPERS | {"documents", "privacy"}
ALLOWED = {
    "domain": set(),
    "privacy": {"domain"},
    "mechanics": {"domain"},
    "survey": {"domain"},
    "facts": {"domain", "mechanics"},
    "knowledge": {"domain", "facts", "privacy"},
    "orders": {"domain", "privacy"},
    "precedents": {"domain", "facts", "privacy"},
    "advice": {"domain", "mechanics", "facts", "knowledge", "precedents"},
    "wording": {"domain", "knowledge"},
    "documents": _PAPERS,
    "curation": _CURATION,
    "api": _CURATION | {"curation", "orders"},
    "screens": _CURATION | {"curation", "orders", "api"},
    "cli": _CURATION | {"curation", "orders", "api", "screens"},
}
# What a room must not know, whatever it imports from.
FORBIDDEN = {
    "domain": {"networkx", "streamlit", "sqlalchemy", "pandas", "sklearn"},
    "privacy": {"networkx", "streamlit", "sqlalchemy", "pandas", "sklearn"},
    "mechanics": {"networkx", "streamlit", "sqlalchemy", "pandas", "sklearn", "pydantic"},
    "survey": {"networkx", "streamlit", "sqlalchemy", "pandas", "sklearn", "pydantic"},
    "facts": {"networkx", "streamlit", "sqlalchemy", "pandas", "sklearn"},
    "orders": {"networkx", "streamlit", "sqlalchemy", "pandas", "sklearn"},
    "knowledge": {"streamlit", "sqlalchemy", "pandas", "sklearn"},
    "precedents": {"streamlit", "networkx", "sklearn"},
    "advice": {"streamlit", "sqlalchemy"},
    "wording": {"streamlit", "sqlalchemy", "pandas", "sklearn"},
    "documents": {"streamlit", "sqlalchemy"},
    "curation": {"streamlit"},
    "api": {"streamlit", "sqlalchemy"},
    "screens": set(),
    "cli": set(),
}


def imports(path: Path) -> set[str]:
    """Every module that a file imports, wherever in it, save what only a type checker reads."""
    found: set[str] = set()
    tree = ast.parse(path.read_text(encoding="utf-8"))
    skipped = {
        id(inner)
        for node in ast.walk(tree)
        if isinstance(node, ast.If) and isinstance(node.test, ast.Name) and node.test.id == "TYPE_CHECKING"
        for inner in ast.walk(node)
    }
    for node in ast.walk(tree):
        if id(node) in skipped:
            continue
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            found.add(node.module)
    return found


@pytest.mark.parametrize("room", sorted(ALLOWED))
def test_no_import_runs_back_up(room: str) -> None:
    faults = []
    for path in sorted((PACKAGE / room).rglob("*.py")):
        for module in imports(path):
            parts = module.split(".")
            if parts[0] == "recommender" and len(parts) > 1 and parts[1] in ALLOWED:
                if parts[1] != room and parts[1] not in ALLOWED[room]:
                    faults.append(f"{path.relative_to(PACKAGE)} imports {module}")
            elif parts[0] in FORBIDDEN[room]:
                faults.append(f"{path.relative_to(PACKAGE)} knows {parts[0]}")
    assert not faults, "\n".join(faults)


def test_every_folder_of_the_package_is_a_room() -> None:
    folders = {path.name for path in PACKAGE.iterdir() if path.is_dir() and not path.name.startswith("_")}
    assert folders == set(ALLOWED)


def every_import(path: Path, name: str, known: frozenset[str]) -> set[str]:
    """Modules of the package that a file imports in any way: deferred, relative and for types alone included."""
    package = name if path.name == "__init__.py" else name.rpartition(".")[0]
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            parts = package.split(".")
            above = ".".join(parts[: len(parts) - node.level + 1]) if node.level else ""
            base = ".".join(part for part in (above, node.module) if part)
            found |= {f"{base}.{alias.name}" if f"{base}.{alias.name}" in known else base for alias in node.names}
    return (found & known) - {name}


def circles(root: Path) -> list[list[str]]:
    """Every set of modules that import each other in a circle."""
    import networkx as nx

    files = {}
    for path in root.rglob("*.py"):
        parts = path.relative_to(root.parent).with_suffix("").parts
        files[".".join(parts[:-1] if parts[-1] == "__init__" else parts)] = path
    known = frozenset(files)
    graph = nx.DiGraph((name, other) for name, path in files.items() for other in every_import(path, name, known))
    return sorted(sorted(found) for found in nx.strongly_connected_components(graph) if len(found) > 1)


def test_no_modules_import_each_other_in_a_circle() -> None:
    assert circles(PACKAGE) == []


def test_a_circle_would_be_found(tmp_path: Path) -> None:
    package = tmp_path / "house"
    package.mkdir()
    (package / "__init__.py").write_text("")
    for_types = "from typing import TYPE_CHECKING\nif TYPE_CHECKING:\n    from house.two import x\n"
    (package / "one.py").write_text(for_types)
    (package / "two.py").write_text("def f():\n    from .one import y\n")
    assert circles(package) == [["house.one", "house.two"]]
