"""Where the packaged data lies (the project's ``shared/`` and the demo library), and how other figures count instead.

In a checkout both stand at the top level; in an installed wheel they are packed under ``_data``.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from functools import cache
from pathlib import Path
from typing import Any, Generic, TypeVar

F = TypeVar("F")

_PACKAGE = Path(__file__).resolve().parent


@cache
def _root() -> Path:
    packed = _PACKAGE / "_data"
    return packed if packed.is_dir() else _PACKAGE.parent


def shared(*parts: str) -> Path:
    """Path of a file or folder in the project's ``shared/``, e.g. ``shared("rules", "rests.yaml")``."""
    return _root().joinpath("shared", *parts)


def read_yaml(content: bytes | str) -> Any:
    """What a YAML text of our own says, by the fast safe loader. Raises ``yaml.YAMLError``."""
    import yaml

    return yaml.load(content, getattr(yaml, "CSafeLoader", yaml.SafeLoader))


def demo_library() -> Path:
    """Folder of the packaged demo library (read-only, invented cases)."""
    return _root() / "cases_demo"


def app_script() -> Path:
    """The Streamlit entry script."""
    return _root() / "app.py"


class InForce(Generic[F]):
    """Figures that count instead of the packaged ones for a while: a draft is tried without a word to the functions in
    between."""

    def __init__(self, name: str) -> None:
        self._kept: ContextVar[F | None] = ContextVar(name, default=None)
        self.get: Callable[[], F | None] = self._kept.get
        """The figures put in force, ``None`` where the packaged ones count."""

    @contextmanager
    def __call__(self, figures: F | None) -> Iterator[None]:
        """These figures count inside the block, in this thread; ``None`` changes nothing."""
        if figures is None:
            yield
            return
        token = self._kept.set(figures)
        try:
            yield
        finally:
            self._kept.reset(token)
