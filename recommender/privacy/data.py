"""The lists in ``shared/privacy/``, read when a text is first looked at."""

import re
from collections.abc import Iterable
from functools import cache
from typing import Any

from recommender.privacy.folding import flat, fold
from recommender.resources import shared


@cache
def _lists() -> dict[str, Any]:
    import yaml

    loader = getattr(yaml, "CBaseLoader", yaml.BaseLoader)  # every word a text, ``no`` and ``on`` as well
    data = yaml.load(shared("privacy", "words.yaml").read_text(encoding="utf-8"), Loader=loader)
    return dict(data)


def listed(section: str) -> list[str]:
    """The words of a section of ``words.yaml``, of all its languages together."""
    value = _lists()[section]
    every = [word for part in value.values() for word in part] if isinstance(value, dict) else value
    return list(dict.fromkeys(str(word) for word in every))


@cache
def folded(section: str) -> frozenset[str]:
    """The words of a section in folded form."""
    return frozenset(fold(word) for word in listed(section))


@cache
def either(section: str) -> str:
    """A pattern for any word of a section, the longest first, as it stands in flat text."""
    return any_of(listed(section))


def any_of(words: Iterable[str]) -> str:
    """A pattern for any of these words in flat text; spaces and stops within may vary, a single
    stop at the end may not."""
    forms = sorted({flat(word) for word in words}, key=lambda word: (-len(word), word))
    return "|".join(_pattern(form) for form in forms)


def _pattern(form: str) -> str:
    last = form[-1] == "." and form.count(".") == 1
    inner = re.escape(form.removesuffix(".")).replace(r"\ ", r"\s+").replace(r"\.", r"\.?\s?")
    return inner + (r"\." if last else r"\.?" if form[-1] == "." else "")


@cache
def names(section: str) -> frozenset[str]:
    """A list of ``shared/privacy/names/``."""
    return frozenset(shared("privacy", "names", f"{section}.txt").read_text(encoding="utf-8").split("\n")) - {
        ""
    }
