"""Forms that were filled in: boxes that are ticked or not, and lines of dots between a heading and what it says.

A pass over the tokens before tables are read: what stands beside an empty box is not said, a line of dots is a colon.
"""

from collections.abc import Iterator, Sequence
from functools import cache
from itertools import pairwise

from recommender.domain import lexicon as lx
from recommender.orders.phrases import match
from recommender.orders.text import Token, lines_of, mark

_BRACKETS = {"[": "]", "(": ")"}
_LEADERS = frozenset("._…")
_BESIDE_HEADING = frozenset("/&()-+")
_LINE = "\n"
_ENDS_LABEL = (",", ";", "|", _LINE)
# What may stand on the line beneath its heading; teeth are read there as they are.
_HEADED = ("occlusion.", "records.", "palate.", "floor.", "patient.", "prescription.alloy", "prescription.connector")
_LONG_LEADER, _LEAST_LINES, _LONGEST_HEADING, _GAP = 4, 2, 8, 2


def filled_in(tokens: Sequence[Token]) -> list[Token]:
    """The tokens with what is ticked and without what is not, dots after a heading as a colon."""
    lines = [_boxed(line) for line in lines_of(tokens)]
    ends = [_leader(line) for line in lines]
    kept = sum(end is not None for end in ends) >= _LEAST_LINES
    made: list[Token] = []
    lines = _beneath_headings(lines)
    for line, end in zip(lines, ends, strict=True):
        if end is not None and (kept or _length(line, *end) >= _LONG_LEADER):
            line = [*line[: end[0]], mark(":", line[end[1]].start), *line[end[1] :]]
        made += _paired(line)
    return made


# boxes


def _boxes(line: Sequence[Token]) -> list[tuple[int, int, bool]]:
    """Where the boxes of a line begin and end, and which are ticked."""
    found: list[tuple[int, int, bool]] = []
    at = 0
    while at < len(line):
        text, end = line[at].text, at + 1
        if text in _BRACKETS:
            ticked = end < len(line) and line[end].text in _signs("ticks")
            end += ticked
            if end < len(line) and line[end].text == _BRACKETS[text]:
                found.append((at, end + 1, ticked))
                end += 1
        elif text in _signs("ticked_boxes") or text in _signs("empty_boxes"):
            found.append((at, end, text in _signs("ticked_boxes")))
        at = end
    return found


@cache
def _signs(section: str) -> frozenset[str]:
    return frozenset(lx.document("order")[section])


def _boxed(line: list[Token]) -> list[Token]:
    """A line with boxes as what is ticked, parted by commas."""
    boxes = _boxes(line)
    if not boxes or not any(line[start].text in _BRACKETS or not ticked for start, _, ticked in boxes):
        return line
    made: list[Token] = []
    start = 0
    for end in [*_headings_after(line, boxes), len(line)]:
        inside = [(a - start, b - start, ticked) for a, b, ticked in boxes if start <= a < end]
        if made and start < len(line) and line[start].text not in (";", _LINE):
            made.append(mark(";", line[start].start))
        made += _segment(line[start:end], inside) if inside else line[start:end]
        start = end
    return made


def _headings_after(line: Sequence[Token], boxes: Sequence[tuple[int, int, bool]]) -> Iterator[int]:
    """Where headings begin after a box: another line of boxes, or words, follow on the same line."""
    for at, token in enumerate(line):
        before = [end for _, end, _ in boxes if end <= at]
        if token.text != ":" or not before:
            continue
        start = next((i for i in range(at - 1, before[-1], -1) if _gap(line, i) >= _GAP), None)
        first = start if start is not None else at - 1 if _leads(line, boxes) else before[-1]
        if before[-1] <= first < at:
            yield first


def _gap(line: Sequence[Token], at: int) -> int:
    return line[at].start - line[at - 1].end


def _leads(line: Sequence[Token], boxes: Sequence[tuple[int, int, bool]]) -> bool:
    """Whether boxes stand before their labels ("[x] upper [ ] lower") and not behind ("upper [x] lower [ ]")."""
    lead = line[: boxes[0][0]]
    if not lead or lead[-1].text in (":", ",", ";", "|", "-"):
        return True
    if any(token.text == ":" for token in lead) or all(token.text == _LINE for token in line[boxes[-1][1] :]):
        return False
    return lx.lookup("arch", " ".join(token.text for token in lead)) is None and not _headed_by(lead)


def _headed_by(label: Sequence[Token]) -> int:
    """How many tokens of a label are a heading that a word follows ("Sex M ( ) F (x)")."""
    if _heading(label) is not None:
        return 0
    return next((end for end in range(len(label) - 1, 0, -1) if _heading(label[:end])), 0)


def _heading(words: Sequence[Token]) -> lx.Heading | None:
    """The field that words name exactly."""
    guessed = lx.guess_heading(" ".join(token.text for token in words))
    return guessed if guessed is not None and guessed.exact else None


def _segment(line: Sequence[Token], boxes: Sequence[tuple[int, int, bool]]) -> list[Token]:
    before = _leads(line, boxes)
    dropped: set[int] = set()
    breaks: set[int] = set()
    for place, (start, end, ticked) in enumerate(boxes):
        dropped.update(range(start, end))
        bound = (boxes[place + 1][0] if place + 1 < len(boxes) else len(line)) if before else start
        first = end if before else boxes[place - 1][1] if place else 0
        label = range(first, bound)
        if before:
            stop = next((i for i in label if line[i].text in _ENDS_LABEL), bound)
            label = range(first, stop)
        else:
            last = max((i for i in label if line[i].text in (*_ENDS_LABEL, ":")), default=first - 1)
            label = range(last + 1, start)
            if place == 0 and (headed := _headed_by(line[label.start : start])):
                label = range(label.start + headed, start)
        if ticked:
            breaks.add(label.start if before else end)
        else:
            dropped.update(label)
    if not any(ticked for _, _, ticked in boxes) and before:
        # a heading of which nothing is ticked says nothing
        return [token for token in line if token.text == _LINE]
    made: list[Token] = []
    for at, token in enumerate(line):
        left = next((line[i].text for i in range(at - 1, -1, -1) if i not in dropped), _LINE)
        if at in breaks and left not in (":", ",", ";", _LINE) and token.text != _LINE:
            made.append(mark(",", token.start))
        if at not in dropped and not (token.text == ":" and _one_phrase(line, at, dropped)):
            made.append(token)
    return made


def _one_phrase(line: Sequence[Token], at: int, dropped: set[int]) -> bool:
    """Whether a heading and what is ticked are one phrase ("Bügel: lingual")."""
    label = [
        token for place, token in enumerate(line) if place > at and place not in dropped and token.is_word
    ]
    heading = [token for token in line[:at] if token.is_word]
    for words in ([*heading, *label], [*label, *heading]):
        found = match(words, 0, lx.LANGUAGES[1:5])
        if found is not None and found.end == len(words) and found.of("connector") is not None:
            return bool(heading and label)
    return False


# headings above what they head


def _beneath_headings(lines: Sequence[list[Token]]) -> list[list[Token]]:
    """A line that is a heading, and the line beneath it, as a heading and its value."""
    made = [*lines]
    for at, (head, value) in enumerate(pairwise(lines)):
        above = head[-1].text == _LINE and _stands_above(head[:-1]) and value[0].text != _LINE
        if above and ":" not in [token.text for token in value] and _heading(value) is None:
            made[at] = [*head[:-1], mark(":", head[-1].start)]
    return made


def _stands_above(words: Sequence[Token]) -> bool:
    if not words or len(words) > _LONGEST_HEADING or not all(token.is_word for token in words):
        return False
    named = _heading(words)
    return named is not None and named.path.startswith(_HEADED)


# dots


def _leader(line: Sequence[Token]) -> tuple[int, int] | None:
    """Where dots between a heading and what it says begin and end."""
    start = next((at for at, token in enumerate(line) if set(token.text) <= _LEADERS), 0)
    end = start
    while end < len(line) and set(line[end].text) <= _LEADERS and (end == start or line[end].glued):
        end += 1
    worded = all(token.is_word or token.text in _BESIDE_HEADING for token in line[:start])
    if not (0 < start <= _LONGEST_HEADING and worded and end < len(line) and line[end].text != _LINE):
        return None
    spaced = not line[start].glued and not line[end].glued
    said = line[end].is_word or line[end].is_number or line[end].text == "#"
    return (start, end) if said and (spaced or _length(line, start, end) >= _LONG_LEADER) else None


def _length(line: Sequence[Token], start: int, end: int) -> int:
    return sum(len(token.text) for token in line[start:end])


def _paired(line: list[Token]) -> list[Token]:
    """``Age / sex: 58 / F``: two headings and two values, each beside its own."""
    for at, token in enumerate(line):
        if token.text != ":":
            continue
        start, end = _reach(line, at, -1), _reach(line, at, 1)
        heads, values = list(_at_slashes(line[start:at])), list(_at_slashes(line[at + 1 : end]))
        if len(values) == 1 and len(values[0]) == len(heads):
            values = [[value] for value in values[0]]  # "Age/sex: 44 F"
        known = [lx.guess_heading(" ".join(token.text for token in head)) for head in heads]
        if len(heads) > 1 and None not in known and len({one.path for one in known if one}) == 1:
            return [*line[:start], *heads[-1], *line[at:]]  # "Ganchos / clasps:": one field in two languages
        if len(heads) < 2 or len(heads) != len(values) or None in known:
            continue
        made: list[Token] = []
        for head, value in zip(heads, values, strict=True):
            made += [*([mark(";", head[0].start)] if made else []), *head, mark(":", head[-1].end), *value]
        return [*line[:start], *made, *line[end:]]
    return line


def _reach(line: Sequence[Token], at: int, step: int) -> int:
    """How far words, numbers and slashes run beside a colon: up to a mark or a wide gap."""
    at += max(step, 0)
    while 0 <= (place := at - (step < 0)) < len(line):
        said = line[place].is_word or line[place].is_number or line[place].text == "/"
        wide = (
            0 < at < len(line)
            and line[at - 1].text != ":"
            and line[at].text != ":"
            and _gap(line, at) >= _GAP
        )
        if not said or wide:
            break
        at += step
    return at


def _at_slashes(tokens: Sequence[Token]) -> Iterator[list[Token]]:
    ends = [-1, *(at for at, token in enumerate(tokens) if token.text == "/"), len(tokens)]
    for start, end in pairwise(ends):
        if end > start + 1:
            yield list(tokens[start + 1 : end])
