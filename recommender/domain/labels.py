"""What words and fields of the case format are called for people (``shared/vocabulary.yaml``)."""

import re
from collections.abc import Callable
from functools import cache
from typing import Any

from recommender.domain.dentition import is_tooth
from recommender.domain.numbering import display
from recommender.resources import read_yaml, shared

_SITES = re.compile(r"\[(\d+)\]")


@cache
def _document() -> dict[str, Any]:
    document: dict[str, Any] = read_yaml(shared("vocabulary.yaml").read_bytes())
    return document


def word_label(kind: str, word: str) -> str:
    """Label of a word of a closed list, e.g. ``word_label("ridge", "flat")``; the word where it has none."""
    entry = _document()["lists"].get(kind, {}).get(word, word)
    return str(entry["label"]) if isinstance(entry, dict) else str(entry)


def field_label(path: str, system: str = "iso", shown: Callable[[int], str] | None = None) -> str:
    """A path in words: ``tooth 14, undercut, distofacial`` for ``abutments[14].undercuts_mm.distofacial``.

    ``system`` is the tooth numbering of the label, ``shown`` how a tooth is written where that is not enough. An
    unknown path comes back as it is.
    """
    write = shown or (lambda number: display(number, system))
    fields = _document()["fields"]
    plain = _SITES.sub("", path)
    parts = plain.split(".")
    for length in range(len(parts), 0, -1):
        entry = fields.get(".".join(parts[:length]))
        if entry is not None:
            sites = [int(number) for number in _SITES.findall(path)]
            where = [f"tooth {write(site)}" for site in sites if is_tooth(site)]
            if where and parts[0] == "spans":
                where[0] = "space at " + where[0].removeprefix("tooth ")
            return ", ".join(
                [*where, str(entry["label"]), *(part.replace("_", " ") for part in parts[length:])]
            )
    record = _document()["record"]
    if plain not in record and parts[0] not in record:
        return path
    numbers = [int(number) for number in re.findall(r"\d+", path)]
    of = [f"tooth {write(number)}" for number in numbers if is_tooth(number)]
    if plain in record:
        return ", ".join([*of, str(record[plain])])
    rest = [part.replace("_", " ") for part in parts[1:] if not part.isdigit()]
    return ", ".join([*of, str(record[parts[0]]), *rest])


def field_unit(path: str) -> str:
    """Unit of a field (``mm``, ``years``, ``degrees``, …), or an empty text."""
    parts = _SITES.sub("", path).split(".")
    for length in range(len(parts), 0, -1):
        entry = _document()["fields"].get(".".join(parts[:length]))
        if entry is not None:
            return str(entry.get("unit", ""))
    return ""
