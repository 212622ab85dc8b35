"""Missing teeth told by those that bound them ("gap between 43 and 47", "behind 34 nothing is left")."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

from recommender.orders.items import SENTENCE, Item, beside
from recommender.orders.refs import Ref, Teeth
from recommender.orders.text import Token
from recommender.orders.vocabulary import listed

_GONE = ("missing", "nothing", "others")
_QUADRANT = 10
_SAID_INSIDE = ("missing", "nothing", "standing", "others")


def bounded(items: Sequence[Item], at: int, tokens: Sequence[Token]) -> None:
    """``between 33 and 37 all is missing``, ``behind 34 nothing is left``: the teeth named bound those gone."""
    teeth: Teeth = items[at].value
    pairs = _pairs(teeth, tokens)
    if not pairs and teeth.refs[0].way != "behind":
        return
    _name_space(items, at, tokens, bool(pairs) and _leaves_room(teeth, pairs))
    around = [*_run(items, at, -1), *_run(items, at, 1)]
    gone = [
        one
        for one in around
        if (one.kind == "role" and one.value in _GONE)
        or (one.match is not None and any(m.phrase in listed("nothing_there") for m in one.match.meanings))
    ]
    if not gone and pairs and _one_more(items, at):
        items[at].value = _between(teeth, pairs)
    if not gone:
        return
    if gone[0].value != "missing":
        gone[0].kind, gone[0].value = "role", "missing"
    for one in around:
        if one.kind == "teeth":
            one.kind = "filler"
    if pairs:
        items[at].value = _between(teeth, pairs)
        _hush_brackets(items, at)


def _leaves_room(teeth: Teeth, pairs: set[int]) -> bool:
    """Whether numbers of one quadrant that bound a space are no neighbours: teeth stood between them."""
    ends = [(teeth.refs[place].number or 0, teeth.refs[place + 1].number or 0) for place in pairs]
    return all(
        first // _QUADRANT == last // _QUADRANT and min(first, last) > _QUADRANT and abs(last - first) > 1
        for first, last in ends
    )


def _name_space(items: Sequence[Item], at: int, tokens: Sequence[Token], room: bool) -> None:
    """``36 is missing, and the space between 44 and 47``: beside lost teeth a word for a space means one, and so it
    does where teeth stood between those that bound it."""
    before = next((one for one in reversed(items[:at]) if one.kind != "filler"), None)
    lost = any(
        one.kind == "role" and one.value == "missing" for one in (*items[:at], *beside(items, at, SENTENCE))
    )
    if before is None or before.kind != "word" or not (lost or room):
        return
    place = items.index(before)
    named = next(
        (
            one
            for one in items[max(0, place - 1) : place + 1]
            if tokens[one.end - 1].folded in listed("spaces")
        ),
        None,
    )
    if named is not None and named.kind == "word":  # "one more space", "un espace supplémentaire"
        before.kind, before.value = "role", "missing"


def _one_more(items: Sequence[Item], at: int) -> bool:
    """``a gap between 34 and 37 and the one on the right between 45 and 47``: after one space another."""
    for item in reversed(items[:at]):
        if item.kind == "teeth":
            return any(ref.inner for ref in item.value.refs)
        if item.kind not in ("filler", "side", "and", "comma", "only", "hard", "on"):
            return False
    return False


def _pairs(teeth: Teeth, tokens: Sequence[Token]) -> set[int]:
    """The places of the mentions that begin a space, the next one ending it."""
    found: set[int] = set()
    for place, (first, last) in enumerate(zip(teeth.refs, teeth.refs[1:], strict=False)):
        begins = _says_between(first, tokens) or (
            place - 2 in found and teeth.joints[place] <= {"and", "filler"}
        )
        plain = not any(ref.upto or ref.way or ref.relative for ref in (first, last))
        joined = "and" in teeth.joints[place + 1] and teeth.joints[place + 1] <= {"and", "filler"}
        if begins and plain and joined and place - 1 not in found and not _says_between(last, tokens):
            found.add(place)
    return found


def _says_between(ref: Ref, tokens: Sequence[Token]) -> bool:
    words = {token.folded for token in tokens[ref.start : ref.end]}
    return bool(words & listed("between"))


def _between(teeth: Teeth, pairs: set[int]) -> Teeth:
    """The list with each pair as the space between its teeth."""
    refs: list[Ref] = []
    joints: list[frozenset[str]] = []
    for place, ref in enumerate(teeth.refs):
        if place - 1 in pairs:
            refs[-1] = replace(refs[-1], upto=ref, inner=True, end=ref.end)
        else:
            refs.append(ref)
            joints.append(teeth.joints[place])
    return Teeth(refs, joints, minus=teeth.minus)


def _hush_brackets(items: Sequence[Item], at: int) -> None:
    """``gap between 43 and 47 (nothing left there)``: brackets right after only say it once more."""
    if at + 1 >= len(items) or items[at + 1].kind != "open":
        return
    inside: list[Item] = []
    for item in items[at + 2 :]:
        if item.kind == "close":
            break
        inside.append(item)
    said = any(item.kind == "role" and item.value in _SAID_INSIDE for item in inside)
    if said and not any(item.kind in ("teeth", "retainer", "rest") for item in inside):
        for item in inside:
            item.kind = item.value = "filler"


def _run(items: Sequence[Item], at: int, step: int) -> Iterator[Item]:
    """From a list of teeth in one direction the words that can say that something, or all, is gone there."""
    at += step
    said = False
    while 0 <= at < len(items):
        item = items[at]
        everything = item.kind == "teeth" and [ref.relative for ref in item.value.refs] == ["all"]
        if (
            everything
            or (item.kind == "role" and not said)
            or (item.kind == "filler" and item.match is not None)
        ):
            yield item
        elif item.kind not in ("filler", "all", "counted", "side") and item.kind not in (
            ("comma", "colon") if step > 0 else ("colon", "line")
        ):
            return
        said = said or item.kind == "role"
        at += step
