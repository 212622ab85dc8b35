"""How an order is laid out: numbers that only count its points, and tables, written out as plain lines.

A pass over the tokens before anything else is read. Cells of a table are said of the tooth of their row (or column),
with the heading of their column (or row) before them; what is repeated stands at its cell and covers no letters there.
"""

from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from itertools import pairwise

from recommender.domain import lexicon as lx
from recommender.orders.forms import filled_in
from recommender.orders.midline import with_midlines
from recommender.orders.rows import BARS, of_teeth, rowed, said_of_tooth
from recommender.orders.text import Token, lines_of, mark
from recommender.orders.wraps import unwrapped

_COLUMN = BARS
_GAP = ("\t", "   ")
_DASHES = frozenset("-–—_=+:|¦│/.")
_LEAST_POINTS, _LEAST_CELLS, _LETTERS = 2, 3, "abcdefghij"
_LINE = "\n"
_BETWEEN_NUMBERS = frozenset(",-–+&")
_BEFORE_POINT, _ENDS = (":", ";"), (".", ";")
_ORDINAL = ("º", "ª", "°")
_CLOSES = (")", ".", "/", *_ORDINAL)


def laid_out(tokens: Sequence[Token], text: str) -> list[Token]:
    """The tokens without the numbers of points, tables written out line by line."""
    return _tables(rowed(_without_points(with_midlines(filled_in(unwrapped(tokens, text)))), text), text)


# points


def _without_points(tokens: list[Token]) -> list[Token]:
    """``1) 34 RPI``, ``(b) 45 Akers``: the number of a point is no tooth; it begins a line."""
    points: list[tuple[int, int]] = []
    last = {"number": 0, "letter": 0}
    at = 0
    while at < len(tokens):
        end, count, kind = _point(tokens, at) or (at, 0, "number")
        goes_on = last["number"] if kind == "below" else last[kind] + 1
        if count and count in (1, goes_on, last["number"] + 1 if kind == "below" else 1):  # 1: a list begins anew
            points.append((at, end))
            last["number" if kind == "below" else kind] = count
            at = end
        at += 1
    if len(points) < _LEAST_POINTS:
        return tokens
    made, done = [], 0
    for start, end in points:
        made += tokens[done:start]
        if start and tokens[start - 1].text != _LINE:
            made.append(mark(_LINE, tokens[start].start))
        done = end
    return [*made, *tokens[done:]]


def _point(tokens: Sequence[Token], at: int) -> tuple[int, int, str] | None:
    """Where the mark of a point ends that begins here, which point it counts, and by what."""
    if (below := _below_point(tokens, at)) is not None:
        return below
    opened = tokens[at].text == "("
    place = at + opened
    begins = at == 0 or tokens[at - 1].text == _LINE or (opened and tokens[at - 1].text in _BEFORE_POINT)
    if place >= len(tokens) or (tokens[at].glued and not begins):
        return None
    word = tokens[place]
    count = int(word.text) if word.is_number and len(word.text) < 3 else _LETTERS.find(word.folded) + 1
    end = place + 1
    while end < len(tokens) and tokens[end].glued and tokens[end].text in _CLOSES:
        end += 1
    closed = end > place + 1 and tokens[end - 1].text in (")", "/")
    if tokens[end - 1].text in _ORDINAL:
        closed = begins and word.is_number and not _names_tooth(tokens, end)
    spaced = end >= len(tokens) or not tokens[end].glued or tokens[end].text == _LINE
    dotted = end > place + 1 and begins and word.is_number and not opened and tokens[end - 1].text == "."
    if not count or not spaced or len(word.text) > 2 or not (dotted or (closed and (begins or not opened))):
        return None
    return end, count, "number" if word.is_number else "letter"


def _below_point(tokens: Sequence[Token], at: int) -> tuple[int, int, str] | None:
    """Where the mark of a point below another ends (``1a)``, ``2.b)``), and the number of the point above it."""
    run = tokens[at : at + 5]
    if not run[0].is_number or len(run[0].text) > 2 or (at and tokens[at - 1].text not in (_LINE, *_ENDS)):
        return None
    place = 1 + (len(run) > 1 and run[1].text == ".")
    letter, closed = run[place : place + 1], run[place + 1 : place + 2]
    below = bool(letter) and letter[0].glued and letter[0].folded in tuple(_LETTERS)
    if not below or not closed or not closed[0].glued or closed[0].text not in (")", "."):
        return None
    return at + place + 2, int(run[0].text), "below"


def _names_tooth(tokens: Sequence[Token], at: int) -> bool:
    """Whether an ordinal belongs to the name of a tooth ("2º premolar") and counts no point."""
    return at < len(tokens) and tokens[at].key in _counted_teeth()


@cache
def _counted_teeth() -> frozenset[str]:
    """The last words of the names of teeth that are counted from the front."""
    named = lx.document("teeth")["positions"].values()
    return frozenset(lx.stem(lx.fold(phrase.split()[-1])) for entry in named for _, phrase in lx.spoken(entry))


# tables


def _tables(tokens: list[Token], text: str) -> list[Token]:
    lines = list(lines_of(tokens))
    cells = [_cells(line, text) for line in lines]
    made: list[Token] = []
    at = 0
    while at < len(lines):
        end = at + 1
        wide = bool(cells[at]) and len(cells[at]) >= _LEAST_CELLS - of_teeth(cells[at][0])
        while end < len(lines) and wide and _goes_on(cells[at], cells[end]):
            end += 1
        rows = [row for row in cells[at:end] if not all(_is_empty(cell) for cell in row)]
        written = _written(rows) if len(rows) > 1 else None
        apart = [_apart(line, cell) for line, cell in zip(lines[at:end], cells[at:end], strict=True)]
        made += written if written is not None else [token for line in apart for token in line]
        at = end
    return made


def _cells(line: Sequence[Token], text: str) -> list[list[Token]]:
    """The cells of a line: between bars, or several slashes with spaces, else between tabs or wide gaps."""
    held = [token for token in line if token.text != _LINE]
    spaced = (at for at in range(1, len(held) - 1) if not held[at].glued and not held[at + 1].glued)
    slashes = {
        at
        for at in spaced
        if held[at].text == "/"
        and not (held[at - 1].is_number and held[at + 1].is_number and not _heads_cell(held, at + 1))
    }  # "15 / 17 / 25" is a list, "Akers 27 / 23: no clasp" is none
    if len(slashes) > 1:
        held = [replace(token, text=_COLUMN[0]) if at in slashes else token for at, token in enumerate(held)]
    barred = any(token.text in _COLUMN for token in held)
    cells: list[list[Token]] = [[]]
    for before, token in pairwise([None, *held]):
        assert token is not None
        if barred and token.text in _COLUMN:
            cells.append([])
            continue
        between = text[before.end : token.start] if before is not None else ""
        if not barred and before is not None and any(gap in between for gap in _GAP):
            cells += [[] for _ in range(max(1, between.count("\t")))]
        cells[-1].append(token)
    if barred:  # "| 14 | Akers |": the bars at both ends part nothing
        cells = cells[not cells[0] : len(cells) - (not cells[-1] and len(cells) > 1)]
    return cells


def _heads_cell(line: Sequence[Token], at: int) -> bool:
    """Whether numbers from here run on to a colon, behind which something is said of them."""
    while at < len(line) and (line[at].is_number or line[at].text in _BETWEEN_NUMBERS):
        at += 1
    return at < len(line) and line[at].text == ":"


def _goes_on(head: Sequence[Sequence[Token]], row: Sequence[Sequence[Token]]) -> bool:
    return 1 < len(row) <= len(head)


def _is_empty(cell: Sequence[Token]) -> bool:
    return all(token.text in _DASHES for token in cell)


def _says_none(cell: Sequence[Token]) -> bool:
    return all(token.text in _DASHES or token.folded in _none() for token in cell)


@cache
def _none() -> frozenset[str]:
    order = lx.document("order")
    return frozenset(
        lx.fold(phrase)
        for entry in (order["negations"], order["roles"]["nothing"])
        for _, phrase in lx.spoken(entry)
    )


def _of_clasps(heading: Sequence[Token]) -> bool:
    guessed = lx.guess_heading(" ".join(token.text for token in heading))
    return guessed is not None and guessed.path == "prescription.retainers"


def _is_arch(cell: Sequence[Token]) -> bool:
    return lx.lookup("arch", " ".join(token.text for token in cell)) is not None


def _is_tooth(cell: Sequence[Token]) -> bool:
    return any(token.is_number for token in cell) and sum(token.is_word for token in cell) < _LEAST_CELLS


def _apart(line: list[Token], cells: Sequence[Sequence[Token]]) -> list[Token]:
    """A line of a table that is none of teeth: cells that only a gap parts become parts of a sentence."""
    if (row := said_of_tooth(line)) is not None:
        return row
    if any(token.text in _COLUMN for token in line):
        return [mark(_LINE, token.end) if _parts_cells(line, at) else token for at, token in enumerate(line)]
    if len(cells) < _LEAST_CELLS:
        lists = len(cells) > 1 and all(cells) and cells[0][-1].is_number and cells[1][0].is_number
        if not lists:
            return line  # else "35 36 37     38, 48 not replaced"
    made: list[Token] = []
    for place, cell in enumerate(cells):
        if place and cell:
            headed = place == 1 and not any(token.text == ":" or token.is_number for token in cells[0])
            made.append(mark(":" if headed else ";", cell[0].start))
        made += cell
    return [*made, *(token for token in line if token.text == _LINE)]


def _parts_cells(line: Sequence[Token], at: int) -> bool:
    """Whether a bar parts what is said, and is no midline between digits or lists of teeth."""
    bars = [
        place
        for place in range(1, len(line) - 1)
        if line[place].text in _COLUMN
        and not (line[place].glued or line[place + 1].glued)
        and not _joins_quadrants(line, place)
    ]
    only_lists = all(line[place - 1].is_number and line[place + 1].is_number for place in bars)
    return at in bars and not only_lists and any(token.is_word for token in line[:at])


def _joins_quadrants(line: Sequence[Token], at: int) -> bool:
    """``UR 7-5 | UL 5-7``: a bar between digits and the next quadrant with its own."""
    after = line[at + 1 : at + 3]
    return line[at - 1].is_number and len(after) > 1 and after[0].text in _quadrants() and after[1].is_number


@cache
def _quadrants() -> frozenset[str]:
    """Quadrant marks that belong to no language."""
    marked = lx.document("teeth")["quadrants"].values()
    return frozenset(phrase for entry in marked for phrase in entry["any"])


def _lists(cell: Sequence[Token]) -> bool:
    """``Clasps: 17 three-arm / 13 T-bar``: a heading with what it heads behind it begins a list and no table."""
    return any(one.text == ":" and other.is_number for one, other in pairwise(cell))


def _written(rows: Sequence[Sequence[Sequence[Token]]]) -> list[Token] | None:
    """A table as lines, one for each cell; ``None`` where neither its rows nor its columns are teeth."""
    head, body = rows[0], rows[1:]
    if _lists(head[0]):
        return None
    if not _is_tooth(head[0]) and all(_is_tooth(row[0]) for row in body):
        cells = [(row[0], head[place], row[place]) for row in body for place in range(1, len(row))]
    elif not _is_tooth(head[0]) and all(_is_tooth(cell) for cell in head[1:]):
        cells = [(head[place], row[0], row[place]) for row in body for place in range(1, len(row))]
    elif any(_is_arch(row[0]) for row in body):
        cells = [
            (row[0], head[place], row[place])
            for row in body
            for place in range(1, len(row))
            if _is_arch(row[0])
        ]
        plain: list[tuple[Sequence[Token], Sequence[Token], Sequence[Token]]] = [
            ([], row[0], [token for cell in row[1:] for token in cell])
            for row in body
            if not _is_arch(row[0])
        ]
        cells += [one for one in plain if one[2]]
    else:
        return None
    made: list[Token] = []
    for tooth, heading, cell in cells:
        if _is_empty(cell) or (_says_none(cell) and not _of_clasps(heading)):
            continue
        start = cell[0].start
        copies = [replace(token, start=start, end=start) for token in (*tooth, *heading)]
        if _says_none(cell):  # "clasp: none" is "no clasp"
            made += [*copies[: len(tooth)], *cell, *copies[len(tooth) :]]
        else:
            made += [*copies, *cell]
        made.append(mark(_LINE, cell[-1].end))
    return made
