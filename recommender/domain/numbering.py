"""Tooth numbers as people write them: ISO 3950 two-digit designations, or the universal system (1-32).

The universal system counts round the mouth from the upper right third molar (1) to the upper left (16), on to
the lower left third molar (17) and round to the lower right (32). ISO 3950:2016, Dentistry - Designation
system for teeth and areas of the oral cavity; American Dental Association, universal tooth designation.
"""

import re
from collections.abc import Callable

from recommender.domain.dentition import ARCH_ORDER

_ROUND = (*ARCH_ORDER["maxilla"], *reversed(ARCH_ORDER["mandible"]))
# A decision named in a text field, as ``retainer:14`` or ``retainers.14``.
_DECISION = re.compile(r"((?:retainer|rest|replacement|indirect_retainer)s?[:.])(\d{1,2})")
_TO_ISO: dict[int, int] = dict(enumerate(_ROUND, start=1))
_TO_UNIVERSAL: dict[int, int] = {iso: universal for universal, iso in _TO_ISO.items()}


def to_iso(universal: int) -> int:
    """ISO 3950 designation of a universal number; ``ValueError`` for anything but 1-32."""
    if universal not in _TO_ISO:
        raise ValueError(f"{universal} is not a universal tooth number (1-32)")
    return _TO_ISO[universal]


def to_universal(iso: int) -> int:
    """Universal number of an ISO 3950 designation; ``ValueError`` where that is no permanent tooth."""
    if iso not in _TO_UNIVERSAL:
        raise ValueError(f"{iso} is not an ISO 3950 permanent-tooth designation")
    return _TO_UNIVERSAL[iso]


def display(tooth: int, system: str = "iso") -> str:
    """An ISO tooth as the user's preferred ``system`` (``iso`` or ``universal``) writes it."""
    return str(to_universal(tooth)) if system == "universal" else str(tooth)


def renumbered(text: str, change: Callable[[int], int]) -> str:
    """A decision such as ``retainer:14`` with its tooth changed; any other text as it is.

    A number that ``change`` refuses (``ValueError``) or does not know (``KeyError``) stays.
    """
    match = _DECISION.fullmatch(text)
    if match is None:
        return text
    try:
        return f"{match.group(1)}{change(int(match.group(2)))}"
    except (ValueError, KeyError):
        return text
