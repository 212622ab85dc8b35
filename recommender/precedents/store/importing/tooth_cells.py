"""Teeth in the cells of a table: lists, ranges, what is said of which tooth; and which numbering a whole table uses."""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from recommender.domain import dentition, numbering
from recommender.precedents.store.cells import CellError

SYSTEMS = ("iso", "universal")
_QUADRANT = {"ur": 10, "ul": 20, "ll": 30, "lr": 40}
_ONE = r"(?:(?P<{0}q>U[RL]|L[RL])\s?(?P<{0}p>[1-8])|\#?(?P<{0}n>\d{{1,2}}))(?!\d)"
_RANGE = re.compile(
    rf"(?<!\d){_ONE.format('a')}(?:\s*(?:-|–|\.\.|\bto\b|\bbis\b|\bà\b|\ba\b)\s*{_ONE.format('b')})?",
    re.IGNORECASE,
)
# a tooth as quadrant and place with a stop between them, 1.5 for 15: two-digit ISO 3950, and never two teeth
_STOPPED = re.compile(r"(?<![\d.])([1-4])\.([1-8])(?![\d.])")
# a number with decimals is no tooth; two digits on each side of a stop are two teeth
_MEASURE = re.compile(r"(?<![\d.])(?:\d\.\d{1,3}|\d\d\.(?:\d|\d{3})|0\d?\.\d+)(?![\d.])")
_PARTS = re.compile(r"\s*[;\n]\s*")
# a comma within a number: after a sign that a value follows, or after a nought
_DECIMAL = re.compile(r"([:=]\s*\d{1,2}|(?<!\d)0),(\d{1,3})(?!\d*\s*[:=(])")
_COMMA = re.compile(r"\s*[,/&+]\s*|\s+(?:and|und|et|y)\s+")


@dataclass(frozen=True, slots=True)
class Said:
    """What a cell says of some teeth, as it was written."""

    teeth: str
    words: str


def teeth_in(text: str, system: str, arch: str | None) -> list[int]:
    """The teeth of a cell in the numbering of the table: lists, ranges (``14-17``, ``#2-#5``), ``UR6`` and ``1.6``.

    Raises ``CellError`` where something else stands in it.
    """
    inner = _STOPPED.sub(r"\1\2", text.strip().strip("[]")) if system == "iso" else text.strip().strip("[]")
    if not _only_teeth(inner):
        raise CellError(f'"{text}"', "tooth numbers alone, e.g. 15, 16 or 14-17")
    found: list[int] = []
    for match in _RANGE.finditer(inner):
        first, last = _number(match, "a", system), _number(match, "b", system)
        assert first is not None
        found += [first] if last is None else _between(first, last, system, arch, text)
    return found


def has_stopped(text: str) -> bool:
    """Whether a tooth is written as quadrant and place with a stop between them."""
    return _STOPPED.search(text) is not None


def _only_teeth(text: str) -> bool:
    rest = _RANGE.sub(" ", _MEASURE.sub("measure", text))
    return not re.sub(r"[\s,;/&+#.|]|\b(?:and|und|et|y|e)\b", "", rest)


def _number(match: re.Match[str], which: str, system: str) -> int | None:
    quadrant, place, number = (match.group(f"{which}{part}") for part in "qpn")
    if quadrant:
        tooth = _QUADRANT[quadrant.lower()] + int(place)
        return tooth if system == "iso" else numbering.to_universal(tooth)
    return int(number) if number else None


def _between(first: int, last: int, system: str, arch: str | None, text: str) -> list[int]:
    if system == "universal":
        return list(range(min(first, last), max(first, last) + 1))
    try:
        order = dentition.ARCH_ORDER[arch or dentition.arch_of(first)]
        start, end = sorted((order.index(first), order.index(last)))
    except (KeyError, ValueError):
        raise CellError(f'"{text}"', "a range of teeth of one arch") from None
    return list(order[start : end + 1])


def pairs(text: str) -> list[Said]:
    """What is said of which teeth: ``14: 1; 24: 0``, ``14 I-bar, 24 Akers``, ``Akers 14, 24``; one entry for words
    without teeth, and one for teeth without words."""
    found: list[Said] = []
    for part in _PARTS.split(_DECIMAL.sub(r"\1.\2", text.strip())):
        pieces = [piece for piece in _COMMA.split(part) if piece]
        waiting: list[str] = []
        leading = bool(pieces) and not _RANGE.match(pieces[0])
        for piece in pieces:
            teeth, words = _apart(piece)
            if teeth and not words and leading and found:
                found.append(Said(teeth, found[-1].words))
            elif teeth and not words:
                waiting.append(teeth)
            elif words and not teeth and found and not waiting and not leading:
                found[-1] = Said(found[-1].teeth, f"{found[-1].words}, {words}")
            else:
                found += [Said(one, words) for one in (*waiting, *([teeth] if teeth or not waiting else []))]
                waiting = []
        found += [Said(teeth, "") for teeth in waiting]
    return found


def _apart(piece: str) -> tuple[str, str]:
    """The teeth of a piece and its words: the teeth stand before a colon, an equals sign or a bracket, else where they
    are."""
    split = re.fullmatch(r"\s*(.+?)\s*(?:[:=]\s*(.+)|\((.+)\))\s*", piece)
    if split and not re.search(r"[^\W\d]{3,}", split.group(1)):
        return split.group(1), split.group(2) or split.group(3)
    measures = [match.span() for match in _MEASURE.finditer(piece)]
    every = [match.span() for match in _RANGE.finditer(piece)]
    places = [one for one in every if not any(start <= one[0] < end for start, end in measures)]
    if not places:
        return "", piece.strip()
    if piece[: places[0][0]].strip():  # words first: the last numbers are the teeth
        start = places[-1][0]
        return piece[start : places[-1][1]], (piece[:start] + piece[places[-1][1] :]).strip(" :=()@")
    first = places[0]
    return piece[first[0] : first[1]], piece[first[1] :].strip(" :=()-")


def numbers_in(text: str, *, listed: bool = False) -> Iterator[int]:
    """Every plain tooth number of a cell that holds teeth, with or without words; ``listed``: of a column of teeth
    alone, where a space parts them as well."""
    whole = listed and _only_teeth(_STOPPED.sub(" ", text))
    for said in [Said(_STOPPED.sub(" ", text), "")] if whole else pairs(text):
        for match in _RANGE.finditer(said.teeth):
            yield from (int(match.group(name)) for name in ("an", "bn") if match.group(name))


@dataclass(slots=True)
class Evidence:
    """What the numbers of a whole table say about its numbering: the first place that speaks for each system."""

    places: dict[str, str] = field(default_factory=dict)
    open: str = ""

    def take_cell(self, text: str, arch: str | None, place: str, *, listed: bool) -> None:
        """Looks at a cell; ``listed`` as in ``numbers_in``."""
        stopped = _STOPPED.search(text) if listed else None
        if stopped is not None:
            self.places.setdefault("iso", f"{stopped.group()} in {place}")
        self.take(numbers_in(text, listed=listed), arch, place)

    def take(self, numbers: Iterable[int], arch: str | None, place: str) -> None:
        """Looks at the numbers of one row."""
        for number in numbers:
            system = speaks_for(number, arch)
            if system is not None:
                self.places.setdefault(system, f"{number} in {place}")
            elif not self.open and 1 <= number <= 48:
                self.open = f"{number} in {place}"

    @property
    def settled(self) -> str | None:
        """The one system that the table can be in; ``None`` where it could be either, or where it holds both."""
        if len(self.places) == 1:
            return next(iter(self.places))
        return None if self.places or self.open else "iso"

    def why_not(self, name: str) -> str:
        """Why the numbering is not settled, with what to do."""
        said = (
            f"tooth numbers of both systems ({self.places['iso']} is two-digit, {self.places['universal']} counts "
            "1 to 32); the two are never mixed in one table"
            if self.places
            else f"every tooth number fits both systems (two-digit ISO 3950, and 1 to 32), first {self.open}"
        )
        return f"{name}: {said}. Say which it is: --numbering iso or --numbering universal"


def speaks_for(number: int, arch: str | None) -> str | None:
    """The only system in which this is a tooth, of this arch where it is known; ``None`` where it is in both."""
    for known in (arch, None):
        fits = [system for system in SYSTEMS if _fits(number, system, known)]
        if len(fits) == 1:
            return fits[0]
        if fits:
            return None
    return None


def _fits(number: int, system: str, arch: str | None) -> bool:
    if system == "iso":
        return dentition.is_tooth(number) and arch in (None, dentition.arch_of(number))
    return 1 <= number <= 32 and arch in (None, dentition.arch_of(numbering.to_iso(number)))
