"""Where the templates of the papers stand, and how they are filled: text from a case is always escaped."""

from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from jinja2 import Environment

TEMPLATES = Path(__file__).parent / "templates"


@cache
def environment() -> "Environment":
    """The page templates; a name that is not given is an error."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    return Environment(loader=FileSystemLoader(TEMPLATES), autoescape=True, undefined=StrictUndefined)
