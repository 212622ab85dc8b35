"""A short code for one design of one case: letter, ticket and form carry it, and a signature holds for it alone."""

import hashlib
import re
from collections.abc import Iterable
from typing import Any

import orjson

from recommender.advice.model import PreparationStep
from recommender.domain.case import Case
from recommender.domain.designs import Design

# Crockford's base 32 (https://www.crockford.com/base32.html): no I, L, O or U, so that a code that is read out or faxed
# is not misread.
_SIGNS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
_GROUPS, _GROUP, _SIGN_BITS = 3, 4, 5
CODE = re.compile(rf"[{_SIGNS}]{{{_GROUP}}}(?:-[{_SIGNS}]{{{_GROUP}}}){{{_GROUPS - 1}}}")


def fingerprint(case: Case, design: Design, preparation: Iterable[PreparationStep]) -> str:
    """The code of a design, as ``7K3M-Q2XP-904T``.

    A digest (SHA-256, its first 60 bits) of the case's id, arch and teeth to be replaced, of the prescription, the
    design and the preparation that it needs. The order in which parts are listed does not matter; anything else that
    changes in them gives another code. Facts that leave all of these as they are leave the code as it is.
    """
    told = {
        "case": case.id,
        "arch": case.arch,
        "missing": sorted(case.missing),
        "absent": sorted(case.absent or ()),
        "extractions": sorted(case.planned_extractions or ()),
        "prescription": case.prescription.model_dump(mode="json", exclude_none=True)
        if case.prescription
        else None,
        "design": design.model_dump(mode="json", exclude_none=True),
        "preparation": [[step.tooth, step.surface, step.action] for step in preparation],
    }
    digest = hashlib.sha256(_canonical(told)).digest()
    number = int.from_bytes(digest[:8], "big")
    length = _GROUPS * _GROUP
    signs = "".join(
        _SIGNS[(number >> (64 - _SIGN_BITS * (place + 1))) & 31] for place in range(length)
    )  # fmt: skip
    return "-".join(signs[start : start + _GROUP] for start in range(0, length, _GROUP))


def _canonical(value: Any) -> bytes:
    """JSON with sorted keys, and with the members of every list sorted by their own JSON."""
    return orjson.dumps(_ordered(value), option=orjson.OPT_SORT_KEYS | orjson.OPT_NON_STR_KEYS)


def _ordered(value: Any) -> Any:
    if isinstance(value, dict):
        return {str(key): _ordered(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return sorted((_ordered(inner) for inner in value), key=_canonical)
    return value
