"""Rows of a table that no bars part: ``tooth; clasp; rest``, ``35 : Akers : mesial``; and columns that only count rows.

A pass over the tokens before tables are read: what parts the cells of such lines becomes a bar or, where nothing heads
them, what parts a tooth from what is said of it.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise

from recommender.orders.text import Token, lines_of
from recommender.orders.vocabulary import listed

BARS = ("|", "¦", "│")
_SIGNS = (";", ":", ",", "/")
_LINE, _TAB = "\n", "\t"
_LEAST_SIGNS, _LEAST_ROWS, _LONGEST_CELL, _SHORTEST_ROW = 2, 2, 4, 3


def rowed(tokens: Sequence[Token], text: str) -> list[Token]:
    """The tokens with the cells of rows parted by bars, and without numbers that only count rows."""
    lines = list(lines_of(tokens))
    made: list[Token] = []
    at = 0
    while at < len(lines):
        for rows in (_headed(lines, at), _unheaded(lines, at)):
            if rows:
                lines[at : at + len(rows)] = rows
                break
        counted = _without_count(lines, at, text)
        if counted:
            lines[at : at + len(counted)] = counted
        made += lines[at]
        at += 1
    return made


def _held(line: Sequence[Token]) -> list[Token]:
    return [token for token in line if token.text != _LINE]


def _cells(line: Sequence[Token], sign: str) -> list[list[Token]]:
    cells: list[list[Token]] = [[]]
    for token in _held(line):
        if token.text == sign:
            cells.append([])
        else:
            cells[-1].append(token)
    return cells


def of_teeth(cell: Sequence[Token]) -> bool:
    """Whether the heading of a column says that teeth stand in it."""
    return " ".join(token.folded for token in cell if token.is_word) in listed("tooth_column")


def _headed(lines: Sequence[list[Token]], at: int) -> list[list[Token]]:
    """A line of headings, one of them "tooth", and the rows below it that have as many cells."""
    for sign in _SIGNS:
        head = _cells(lines[at], sign)
        named = [place for place, cell in enumerate(head) if of_teeth(cell)]
        plain = all(
            0 < len(cell) <= _LONGEST_CELL and not any(one.is_number for one in cell) for cell in head
        )
        if len(head) < _LEAST_SIGNS or not named or not plain:
            continue
        end = at + 1
        while end < len(lines) and _is_row(_cells(lines[end], sign), len(head), named[0]):
            end += 1
        if end - at > _LEAST_ROWS - (sign == ";"):
            return [[_barred(token, sign) for token in line] for line in lines[at:end]]
    return []


def _is_row(cells: Sequence[Sequence[Token]], width: int, place: int) -> bool:
    return len(cells) == width and bool(cells[place]) and cells[place][0].is_number


def _barred(token: Token, sign: str) -> Token:
    return replace(token, text=BARS[0], folded=BARS[0]) if token.text == sign else token


def _unheaded(lines: Sequence[list[Token]], at: int) -> list[list[Token]]:
    """``36; Akers; mesial``: lines that each begin with a tooth."""
    made: list[list[Token]] = []
    for line in lines[at:]:
        row = said_of_tooth(line, (";",))
        if row is None:
            break
        made.append(row)
    return made if len(made) >= _LEAST_ROWS else []


def said_of_tooth(line: Sequence[Token], signs: Sequence[str] = BARS) -> list[Token] | None:
    """A row that begins with a tooth, which a colon parts from what is said of it; ``None`` for any other line."""
    if len(line) < _SHORTEST_ROW or not line[0].is_number or line[1].text not in signs:
        return None
    if not line[2].is_word or (line[1].text in BARS and line[1].glued):
        return None
    return [_said_of(token, place, signs) for place, token in enumerate(line)]


def _said_of(token: Token, place: int, signs: Sequence[str]) -> Token:
    if token.text not in signs:
        return token
    text = ":" if place == 1 else ","
    return replace(token, text=text, folded=text)


# columns that count


def _without_count(lines: Sequence[list[Token]], at: int, text: str) -> list[list[Token]]:
    """A table without the column that only counts its rows, under a heading that does not name teeth."""
    head = _first_cell(lines[at], text)
    if head is None or any(one.is_number for one in lines[at][: head]) or of_teeth(lines[at][: head]):
        return []
    made = [lines[at][_after(lines[at], head) :]]
    for count, line in enumerate(lines[at + 1 :], 1):
        end = _first_cell(line, text)
        numbers = [token for token in line[:end] if token.text not in BARS] if end is not None else []
        if [token.text.lstrip("0") for token in numbers] != [str(count)]:
            break
        made.append(line[_after(line, end or 0) :])
    return made if len(made) > _LEAST_ROWS else []


def _first_cell(line: Sequence[Token], text: str) -> int | None:
    """Where the first cell of a line of at least three ends, with the bar or gap that opens it."""
    ends = list(_ends(line, text))
    opened = bool(line) and line[0].text in BARS
    ends = ends[opened:]
    return ends[0] if len(ends) > 1 and ends[0] > opened else None


def _ends(line: Sequence[Token], text: str) -> Iterator[int]:
    held = _held(line)
    if any(token.text in BARS for token in held):
        yield from (at for at, token in enumerate(held) if token.text in BARS)
        return
    for at, (before, after) in enumerate(pairwise(held), 1):
        if _TAB in text[before.end : after.start]:
            yield at


def _after(line: Sequence[Token], end: int) -> int:
    return end + (end < len(line) and line[end].text in BARS)
