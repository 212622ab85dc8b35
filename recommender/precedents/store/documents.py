"""A case as the text that is kept, and what is worked out from it for the query columns.

The text is JSON with sorted keys and no absent fields, so the same case is always the same bytes on every
database, and a checksum over it says whether it was changed behind the program's back.
"""

import hashlib
import re
from collections.abc import Iterator
from dataclasses import dataclass
from threading import local
from typing import TYPE_CHECKING, Any, TypeGuard

import orjson

from recommender.domain.case import Case
from recommender.domain.dentition import ARCH_ORDER, in_arch_order
from recommender.precedents.store.errors import UnfitText

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

# what a situation and its design consist of; the rest is about the record (its name, review, later fate)
_ABOUT_THE_RECORD = frozenset({"id", "title", "review", "source", "outcome", "dentist_answer", "format"})
_SCAN_LINKS = ("sha256", "triangles", "edge_mm", "roughness_mm")
_CONTROL = re.compile(rb"(?<!\\)(?:\\\\)*\\(?:u00[01][0-9a-f]|[bf])")
_PLAIN = frozenset((str, int, float, bool))
_TEETH_OF = {arch: frozenset(teeth) for arch, teeth in ARCH_ORDER.items()}
_DELETE = re.compile("[\x7f\x80-\x84\x86-\x9f]")


def as_data(case: Case) -> dict[str, Any]:
    """The case as plain JSON values, absent fields left out, tooth keys as text."""
    data: dict[str, Any] = case.model_dump(mode="json", exclude_none=True)
    return data


def for_library(case: Case) -> Case:
    """The case as a library may keep it: without what links it to the scan that its figures were read from.

    A mesh is as telling as a photograph, and so is whatever finds it again: its checksum, its count of triangles,
    its grain, and points on the cast.
    """
    survey = case.survey
    if survey is None:
        return case
    scan, path = survey.scan, survey.path
    if scan is not None:
        scan = scan.model_copy(update=dict.fromkeys(_SCAN_LINKS))
    if path is not None:
        path = path.model_copy(update={"tripod": None})
    return case.model_copy(update={"survey": survey.model_copy(update={"scan": scan, "path": path})})


def dump(case: Case, data: dict[str, Any] | None = None) -> str:
    """The text that is kept.

    Raises ``UnfitText`` for control characters, which no form of export could carry.
    """
    text = orjson.dumps(
        as_data(case) if data is None else data, option=orjson.OPT_SORT_KEYS | orjson.OPT_NON_STR_KEYS
    )
    decoded = text.decode()
    if _holds_control(text, decoded):
        raise UnfitText(f"case {case.id}: a text holds a control character; take it out and save again")
    return decoded


def _holds_control(text: bytes, decoded: str) -> bool:
    # the quick looks come first: nearly every case ends there
    escaped = b"\\u0" in text or b"\\b" in text or b"\\f" in text
    if escaped and _CONTROL.search(text):
        return True
    return (not decoded.isascii() or "\x7f" in decoded) and _DELETE.search(decoded) is not None


def load(text: str) -> Case:
    """The case kept as that text."""
    return Case.model_validate(orjson.loads(text))


def checksum(text: str) -> str:
    """SHA-256 of the kept text, in hexadecimal."""
    return hashlib.sha256(text.encode()).hexdigest()


def is_sound(document: object, kept: str) -> TypeGuard[str]:
    """Whether a document is the text that was saved with this checksum."""
    return isinstance(document, str) and checksum(document) == kept


def flatten(value: Any, path: str = "") -> Iterator[tuple[str, Any]]:
    """Leaves of a JSON value as (path, value); an empty object or list is a leaf of its own."""
    if isinstance(value, dict) and value:
        for key, inner in value.items():
            yield from flatten(inner, f"{path}.{key}" if path else str(key))
    elif isinstance(value, list) and any(isinstance(item, (dict, list)) for item in value):
        names = [_name(item, index) for index, item in enumerate(value)]
        if len(set(names)) < len(names):
            names = list(range(len(value)))
        for name, inner in zip(names, value, strict=True):
            yield from flatten(inner, f"{path}[{name}]")
    else:
        yield path, value


def _name(item: Any, index: int) -> Any:
    found = named_by(item)
    return index if found is None else found


def named_by(item: Any) -> Any:
    """The tooth by which an entry of a list is known, a space by its first tooth; ``None`` where it has none."""
    if isinstance(item, dict):
        if isinstance(item.get("tooth"), int):
            return item["tooth"]
        teeth = item.get("teeth")
        if isinstance(teeth, list) and teeth:
            return teeth[0]
    return None


def differences(first: Case, second: Case) -> list[tuple[str, Any, Any]]:
    """Every field in which two cases differ: (path, value in the first, value in the second); ``None`` = not
    recorded.
    """
    return differences_of(as_data(first), as_data(second))


def differences_of(first: dict[str, Any], second: dict[str, Any]) -> list[tuple[str, Any, Any]]:
    """The same of two cases as plain values."""
    here, there = dict(flatten(first)), dict(flatten(second))
    return [
        (path, here.get(path), there.get(path))
        for path in sorted({*here, *there})
        if here.get(path) != there.get(path)
    ]


def content_fingerprint(case: Case, data: dict[str, Any] | None = None) -> str:
    """SHA-256 of findings, prescription and design, whatever the case is called and however it is reviewed."""
    content = _content(as_data(case) if data is None else data)
    return hashlib.sha256(
        orjson.dumps(content, option=orjson.OPT_SORT_KEYS | orjson.OPT_NON_STR_KEYS)
    ).hexdigest()


def _digest(leaf: str) -> bytes:
    return hashlib.blake2b(leaf.encode(), digest_size=8).digest()


class _Place:
    """A path of the format: the digests of what stood there (most leaves recur from case to case), and what lies
    below."""

    __slots__ = ("below", "leaves", "path")

    def __init__(self, path: str) -> None:
        self.path = path
        self.leaves: dict[tuple[Any, ...], bytes] = {}
        self.below: dict[Any, _Place] = {}

    def field(self, key: str) -> "_Place":
        """The place of a field."""
        found = self.below.get(key)
        if found is None:
            found = self.below[key] = _Place(f"{self.path}.{key}" if self.path else key)
        return found

    def entry(self, name: Any) -> "_Place":
        """The place of an entry of a list."""
        found = self.below.get((name,))
        if found is None:
            found = self.below[(name,)] = _Place(f"{self.path}[{name}]")
        return found


class _Leaves:
    """Digests of leaves, by place; forgotten when there are too many."""

    MOST = 1 << 15

    def __init__(self) -> None:
        self.root, self.known = _Place(""), 0

    def of(self, data: dict[str, Any]) -> bytes:
        """The digests of the content of a case, one after the other."""
        if self.known > self.MOST:
            self.root, self.known = _Place(""), 0
        found: list[bytes] = []
        for key, value in data.items():
            if key not in _ABOUT_THE_RECORD:
                self._gather(value, self.root.field(str(key)), found)
        return b"".join(found)

    def _gather(self, value: Any, place: _Place, found: list[bytes]) -> None:
        # as ``flatten``, for whole libraries: a list that is filled is several times quicker than nested generators
        kind = value.__class__
        if kind is dict and value:
            leaves = place.leaves
            for key, inner in value.items():
                sort = inner.__class__
                if sort in _PLAIN:
                    # 1, 1.0 and true are equal, as are 0.0 and -0.0, and their digests are not
                    said = (key, sort, inner or (repr(inner),))
                    leaf = leaves.get(said)
                    if leaf is None:
                        self.known += 1
                        leaf = leaves[said] = _digest(f"{place.path}.{key}={inner!r}")
                    found.append(leaf)
                else:
                    self._gather(inner, place.field(key), found)
        elif kind is list and any(item.__class__ in (dict, list) for item in value):
            names = [_name(item, index) for index, item in enumerate(value)]
            if len(set(names)) < len(names):
                names = list(range(len(value)))
            for name, inner in zip(names, value, strict=True):
                self._gather(inner, place.entry(name), found)
        else:
            text = repr(value)
            leaf = place.leaves.get((text,))
            if leaf is None:
                self.known += 1
                leaf = place.leaves[(text,)] = _digest(f"{place.path}={text}")
            found.append(leaf)


_LEAVES = local()  # of each thread


def leaf_digests(data: dict[str, Any]) -> "npt.NDArray[np.uint64]":
    """Sorted 64-bit digests of the leaves of situation, prescription and design, for telling near-duplicates."""
    import numpy as np

    known: _Leaves | None = getattr(_LEAVES, "known", None)
    if known is None:
        known = _LEAVES.known = _Leaves()
    found = np.frombuffer(known.of(data), dtype=">u8").astype(np.uint64)
    found.sort()
    fresh = np.ones(len(found), dtype=bool)
    np.not_equal(found[1:], found[:-1], out=fresh[1:])
    return found[fresh]


def _content(data: dict[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in data.items() if key not in _ABOUT_THE_RECORD}


def overlap(first: "npt.NDArray[np.uint64]", second: "npt.NDArray[np.uint64]") -> float:
    """Share of common leaves among all leaves of both (Jaccard, 0-1), from their digests."""
    import numpy as np

    together = np.concatenate((first, second))
    together.sort()
    both = int(np.count_nonzero(together[1:] == together[:-1]))
    union = len(together) - both
    return both / union if union else 1.0


def sketch(digests: "npt.NDArray[np.uint64]") -> int:
    """A 64-bit similarity sketch (Charikar 2002, simhash) of the content, as a signed integer, from its leaves.

    Cases that share most leaves have sketches that differ in few bits, so near-duplicates are found among a
    hundred thousand without reading their documents; what the sketch proposes is then compared in full.
    """
    import numpy as np

    bits = np.unpackbits(digests.astype(">u8").view(np.uint8).reshape(-1, 8), axis=1)
    majority = (2 * np.add.reduce(bits, axis=0, dtype=np.int32) > len(bits)).astype(np.uint8)
    return int.from_bytes(np.packbits(majority).tobytes(), "big", signed=True)


def dentition(case: Case) -> str:
    """Which teeth are gone, as one text: ``maxilla:15 16|18`` (to be replaced | absent)."""
    gone = " ".join(str(tooth) for tooth in _ordered(case.arch, case.missing))
    absent = " ".join(str(tooth) for tooth in _ordered(case.arch, case.absent or []))
    return f"{case.arch}:{gone}|{absent}"


def _ordered(arch: str, teeth: list[int]) -> list[int]:
    try:
        return in_arch_order(arch, set(teeth))
    except KeyError:  # a tooth of the other arch: a draft may hold one until it is put right
        return sorted(set(teeth))


@dataclass(frozen=True, slots=True)
class Columns:
    """What stands beside the document so that a query need not open it."""

    id: str
    arch: str
    kennedy: str | None
    status: str
    outcome_known: bool
    age: str | None
    fingerprint: str
    format: int
    title: str | None
    dentition: str
    sketch: int

    def row(self) -> dict[str, Any]:
        """As a row to be written."""
        return {name: getattr(self, name) for name in self.__slots__}


def columns(
    case: Case, data: dict[str, Any] | None = None, leaves: "npt.NDArray[np.uint64] | None" = None
) -> Columns:
    """The query columns of a case. A case without a review state counts as a draft."""
    data = as_data(case) if data is None else data
    age = case.patient.age if case.patient else None
    return Columns(
        id=case.id,
        arch=case.arch,
        kennedy=kennedy_label(case),
        status=status(case),
        outcome_known=outcome_known(case),
        age=None if age is None else str(age),
        fingerprint=content_fingerprint(case, data),
        format=case.format,
        title=case.title,
        dentition=dentition(case),
        sketch=sketch(leaf_digests(data) if leaves is None else leaves),
    )


def status(case: Case) -> str:
    """``draft``, ``approved`` or ``retired``; not recorded counts as ``draft``."""
    return (case.review.status if case.review else None) or "draft"


def outcome_known(case: Case) -> bool:
    """Whether anything at all was recorded of how the case fared."""
    return case.outcome is not None and bool(case.outcome.model_dump(exclude_none=True))


def kennedy_label(case: Case) -> str | None:
    """``Class II, modification 1`` and so on; ``None`` where the dentition has no class."""
    from recommender.domain.kennedy import classify
    from recommender.domain.spaces import gone_teeth, kennedy_class, label, spaces

    try:
        if not gone_teeth(case) <= _TEETH_OF[case.arch]:
            return classify(case).label or None
        return label(*kennedy_class(spaces(case))) or None
    except (ValueError, KeyError):
        return None
