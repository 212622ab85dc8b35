"""Text in a workbook: what XML would change is written as ``_xHHHH_`` (ECMA-376, ST_Xstring)."""

import re

_NEEDS = re.compile(r"\r|_(?=x[0-9A-Fa-f]{4}_)")
_ESCAPED = re.compile(r"_x([0-9A-Fa-f]{4})_")


def escaped(text: str) -> str:
    """A text that survives being written to a workbook."""
    return _NEEDS.sub(lambda found: f"_x{ord(found.group()):04X}_", text)


def unescaped(text: str) -> str:
    """The text as it was before ``escaped``."""
    return _ESCAPED.sub(lambda found: chr(int(found.group(1), 16)), text)
