"""Where the packaged data lies: the project's ``shared/`` and the demo library.

In a checkout both stand at the top level; in an installed wheel they are packed under ``_data``.
"""

from functools import cache
from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent


@cache
def _root() -> Path:
    packed = _PACKAGE / "_data"
    return packed if packed.is_dir() else _PACKAGE.parent


def shared(*parts: str) -> Path:
    """Path of a file or folder in the project's ``shared/``, e.g. ``shared("rules", "rests.yaml")``."""
    return _root().joinpath("shared", *parts)


def demo_library() -> Path:
    """Folder of the packaged demo library (read-only, invented cases)."""
    return _root() / "cases_demo"


def app_script() -> Path:
    """The Streamlit entry script."""
    return _root() / "app.py"
