"""Mentions of teeth read off the items of an order: lists, ranges, quadrant marks, names, numbers in brackets."""

from collections.abc import Sequence
from dataclasses import replace
from itertools import takewhile

from recommender.domain import lexicon as lx
from recommender.domain.dentition import is_tooth, quadrant
from recommender.domain.numbering import to_iso
from recommender.orders.items import Item
from recommender.orders.refs import LAST_POSITION, Ref, Teeth
from recommender.orders.text import Token
from recommender.orders.vocabulary import listed

_LAST_TOOTH = 48
_THIRD = 8
_NAMES = ("number", "name", "group", "filler")
_MODIFIERS = ("quadrant", "side", "arch")
_QUADRANTS = {"right": (1, 4), "left": (2, 3)}
_LAST_UNIVERSAL = 32
# A premolar or molar of which the order says no more: the one beside the space.
_ONE = {"one_molar": (6, 7), "one_premolar": (4, 5)}
# Words before a German name of a tooth that make it one tooth.
_OF_ONE = ("der", "den", "dem", "des", "ein", "einen", "einem", "am", "im", "vom", "zum", "ok", "uk")
_PLURALS = ("pramolaren", "molaren", "muelas", "premiers", "premieres", "primeros", "incisives")


def with_teeth(items: Sequence[Item], tokens: Sequence[Token]) -> list[Item]:
    """The items with every list of teeth as one item of kind ``teeth``."""
    made: list[Item] = []
    at = 0
    while at < len(items):
        found = _list(items, at, tokens)
        if found is None:
            made.append(items[at])
            at += 1
            continue
        teeth, after = found
        teeth.upto = _only_end(made)
        made.append(Item("teeth", items[at].start, items[after - 1].end, teeth))
        at = after
    _place_bare(made)
    return _spelt_out(made)


def _only_end(before: Sequence[Item]) -> bool:
    """Whether "up to" stands before a list that no other tooth begins ("replace up to the second molars")."""
    left = [item for item in before if item.kind not in ("filler", "and", "mark")]
    ends = len(left) > 1 and left[-1].kind == "to" and left[-2].kind != "teeth"
    return ends and _says_up_to(left[-1])


def _says_up_to(item: Item) -> bool:
    """Whether a word of ranges says how far by itself; a dash, the French and Spanish "to" say more than that."""
    phrase = item.phrase
    return any(letter.isalpha() for letter in phrase) and phrase not in ("à", "au", "a", "al")


def _spelt_out(items: list[Item]) -> list[Item]:
    """``back teeth (36, 37)``: numbers in brackets right after a group say which of it are meant."""
    made: list[Item] = []
    at = 0
    while at < len(items):
        run = items[at : at + 4]
        if [item.kind for item in run] == ["teeth", "open", "teeth", "close"] and all(
            ref.by_name and len(ref.names) > 1 for ref in run[0].value.refs
        ):
            numbers: Teeth = run[2].value
            numbers.refs[0] = replace(numbers.refs[0], start=run[0].start)
            numbers.refs[-1] = replace(numbers.refs[-1], end=run[3].end)
            made.append(Item("teeth", run[0].start, run[3].end, numbers))
            at += 4
        elif (
            [item.kind for item in run[:3]] == ["open", "teeth", "close"]
            and all(ref.by_name and ref.many for ref in run[1].value.refs)
            and _number_before(made)
        ):  # "23-26 missing (lower incisors)"
            at += 3
        else:
            made.append(items[at])
            at += 1
    return made


def _number_before(items: Sequence[Item]) -> bool:
    """Whether numbers of teeth stand before, with at most a word that says something of them between."""
    for item in reversed(items[-3:]):
        if item.kind == "teeth":
            return all(ref.number is not None for ref in item.value.refs)
        if item.kind not in ("role", "filler", "arch"):
            return False
    return False


def _needs_place(ref: Ref) -> bool:
    """Whether a mention is nothing without a quadrant: a bare digit, or a name."""
    digit = ref.number is not None and ref.number <= LAST_POSITION
    return not (ref.quadrant or ref.side) and (ref.by_name or digit or bool(ref.relative))


def _place_bare(items: Sequence[Item]) -> None:
    """A quadrant or side apart from its list: ``upper right are missing 4, 5, 6``, or ``14 and 15, upper right``."""
    known: Item | None = None
    carried: Item | None = None
    both: Item | None = None
    last: Teeth | None = None
    place: Item | None = None
    for index, item in enumerate(items):
        if item.kind in ("hard", "stop", "line"):
            known = last = carried = both = place = None
        elif item.kind in ("quadrant", "side"):
            following = next((one.kind for one in items[index + 1 :] if one.kind != "mark"), "stop")
            unplaced = last is not None and any(not (ref.quadrant or ref.side) for ref in last.refs)
            if last is not None and unplaced and following in ("stop", "hard", "line", "comma"):
                last.refs = [
                    ref if ref.quadrant or ref.side else _modified(ref, item, ()) for ref in last.refs
                ]
                both = item if item.value == "both" and last.refs[-1].by_name else None
            else:
                known = item
        elif item.kind == "teeth":
            if known is None and both is not None and item.value.refs[0].by_name:
                known = both
            if known is None and carried is not None and index and items[index - 1].kind in ("on", "filler"):
                known = carried if _joined_by_and(items, index) else None
            if last is not None and _placed_after(item.value) and _joined_by_and(items, index):
                placed = item.value.refs[-1]
                last.refs = [
                    replace(ref, quadrant=placed.quadrant, side=placed.side, arch=ref.arch or placed.arch)
                    if ref.by_name and not (ref.quadrant or ref.side)
                    else ref
                    for ref in last.refs
                ]
            if known is None and place is not None and all(ref.is_digit for ref in item.value.refs):
                known = place  # "upper right 3 (wire) and 6 (Akers)"
            if known is not None:
                bare = list(takewhile(_needs_place, item.value.refs))
                item.value.refs[: len(bare)] = [_modified(ref, known, ()) for ref in bare]
            ref = item.value.refs[-1]
            placed_digit = ref.quadrant is not None and ref.number is not None and ref.number <= LAST_POSITION
            place = Item("quadrant", 0, 0, ref.quadrant) if placed_digit else None
            side = ref.side if ref.side in ("right", "left") else None
            carried = Item("side", 0, 0, side) if side and ref.by_name else None
            both = Item("side", 0, 0, "both") if ref.side == "both" and ref.by_name else None
            carried = Item("quadrant", 0, 0, ref.quadrant) if ref.quadrant and ref.by_name else carried
            known, last = None, item.value


def _placed_after(teeth: Teeth) -> bool:
    """Whether one tooth is named with its side or quadrant after it, as one word for a list may have it."""
    ref = teeth.refs[-1]
    return len(teeth.refs) == 1 and ref.by_name and ref.after and bool(ref.quadrant or ref.side)


def _joined_by_and(items: Sequence[Item], at: int) -> bool:
    """Whether only "and", articles and prepositions stand between a list of teeth and the one before it."""
    at -= 1
    joined = False
    while at >= 0 and items[at].kind in ("and", "on", "filler"):
        joined = joined or items[at].kind == "and"
        at -= 1
    return joined and at >= 0 and items[at].kind == "teeth"


def _list(items: Sequence[Item], at: int, tokens: Sequence[Token]) -> tuple[Teeth, int] | None:
    first = _range(items, at, tokens, None)
    if first is None:
        return None
    ref, after = first
    teeth = Teeth([ref], [frozenset()])
    while after < len(items):
        seen = after
        joint: set[str] = set()
        while seen < len(items) and (
            items[seen].kind in ("comma", "and", "or", "nor")
            or (items[seen].kind == "mark" and items[seen].value in "|¦")
            or (items[seen].kind == "to" and seen == after and teeth.refs[-1].upto is not None)
            or (items[seen].kind == "unit" and items[seen].value == "unit" and tokens[items[seen].start].text in "x×")
or (items[seen].kind == "filler" and seen > after)
            or (items[seen].kind == "filler" and tokens[items[seen].start].text in "#") or items[seen].value == "/"
            or (items[seen].kind == "mark" and items[seen].value in "./" and tokens[items[seen].start].glued)
        ):  # fmt: skip
            joint.add("and" if items[seen].value in ("/", "&", "+") else items[seen].kind)
            seen += 1
        following = _range(items, seen, tokens, teeth.refs[-1])
        fresh = (
            {"comma", "filler"} <= joint
            and "and" not in joint
            and not any("filler" in one for one in teeth.joints)
        )
        if following is None or (fresh and len(teeth.refs) > 1 and not following[0].by_name):
            break  # an article after a comma begins a list of its own
        if following[0].relative == "all" and "and" not in joint:
            break  # "33 to 43 stand, all behind is replaced"
        if following[0].relative and not joint & {"and", "comma"}:
            break  # "all but 13 and 23 all teeth are gone"
        if joint & {"and", "comma"} and _begins_clause(items, at, following[1], tokens):
            break  # "Akers on 25 and the canine gets a rest"
        ref, after = following
        last = teeth.refs[-1]
        if last.way_too or (last.way and items[at].kind in ("behind", "onward", "from")):
            ref = replace(ref, way_too=last.way_too or last.way) if joint == {"and"} and not ref.way else ref
        teeth.refs.append(ref)
        teeth.joints.append(frozenset(joint))
        teeth.alternative = teeth.alternative or "or" in joint
    teeth.refs = _spread(teeth.refs)
    return teeth, after


def _begins_clause(items: Sequence[Item], first: int, after: int, tokens: Sequence[Token]) -> bool:
    """Whether a verb of one tooth follows a mention, and words before the list already say what it is for."""
    verb = after < len(items) and tokens[items[after].start].folded in listed("singular_verbs")
    before = next((one for one in reversed(items[:first]) if one.kind != "filler"), None)
    return verb and before is not None and before.kind == "on"


def _spread(refs: list[Ref]) -> list[Ref]:
    """``4, 5, 6 upper right``, ``second premolar and first molar on the left``: a place said at the end of a list
    belongs to the bare digits, or to the names, before it too."""
    last = refs[-1]
    if (
        last.by_name
        and last.after
        and all(ref.by_name and not (ref.quadrant or ref.side) for ref in refs[:-1])
    ):
        placed = (
            replace(ref, quadrant=last.quadrant, side=last.side, arch=ref.arch or last.arch)
            for ref in refs[:-1]
        )
        return [*placed, last]
    if (
        last.number is None
        or last.number > LAST_POSITION
        or not (last.quadrant or last.side)
        or last.compact
        or not last.after
    ):
        return refs
    if all(
        ref.number is not None and ref.number <= LAST_POSITION and not (ref.quadrant or ref.side)
        for ref in refs[:-1]
    ):
        return [
            *(replace(ref, quadrant=last.quadrant, side=last.side, arch=last.arch) for ref in refs[:-1]),
            last,
        ]
    return refs


def _is_to(items: Sequence[Item], at: int, after: int, tokens: Sequence[Token]) -> bool:
    """Whether a preposition ends a range that "from" began ("de la 14 à la 24")."""
    begun = any(
        item.kind == "from" or tokens[item.start].folded == "de" for item in items[max(0, at - 2) : after]
    )
    return begun and items[after].kind == "on" and tokens[items[after].start].folded == "a"


def _range(
    items: Sequence[Item], at: int, tokens: Sequence[Token], before: Ref | None
) -> tuple[Ref, int] | None:
    way = ""
    start = at
    while at < len(items) and items[at].kind in ("from", "behind", "onward"):
        way = way or (items[at].kind if items[at].kind != "from" else "")
        at += 1
    single = _single(items, at, tokens, before)
    if single is None:
        return None
    ref, after = single
    if way or start != at:
        ref = replace(ref, start=items[start].start, way=way)
    to = after < len(items) and (items[after].kind == "to" or (_is_to(items, at, after, tokens)))
    if to and not way:
        end = _single(items, after + 1, tokens, ref)
        if end is not None and _needs_place(
            ref
        ):  # "4-6 right": the first of a range lies where its last does
            ref = replace(ref, quadrant=end[0].quadrant, side=end[0].side, arch=ref.arch or end[0].arch)
        if end is not None:
            return replace(ref, upto=end[0], end=end[0].end), end[1]
    if after < len(items) and items[after].kind == "onward" and not way:
        return replace(ref, way="onward", end=items[after].end), after + 1
    return ref, after


def _single(
    items: Sequence[Item], at: int, tokens: Sequence[Token], before: Ref | None
) -> tuple[Ref, int] | None:
    """One mention: modifiers, a number or a name, modifiers."""
    start, known = at, Ref(0, 0)
    colon = False
    while at < len(items) and (
        items[at].kind in _MODIFIERS
        or (items[at].kind in ("filler", "all", "on", "from") and at > start)
        or (
            items[at].kind == "filler" and (tokens[items[at].start].text == "#" or _leads_to_tooth(items, at))
        )
        or items[at].kind == "all"
        or (items[at].kind == "colon" and items[at - 1].kind in ("quadrant", "side") and at > start)
    ):
        colon = colon or items[at].kind == "colon"
        known = _modified(known, items[at], tokens)
        at += 1
    if at >= len(items) or items[at].kind not in ("number", "name", "group", "relative"):
        return None
    if items[at].kind == "relative" and items[at].value == "around":
        at += 1
        while at < len(items) and items[at].kind in ("filler", "from", "on", "to"):
            at += 1
        inner = _single(items, at, tokens, before)
        return (replace(inner[0], start=items[start].start, relative="around"), inner[1]) if inner else None
    apart = any(tokens[one.start].folded == "que" for one in items[start + 1 : at])
    if (
        items[start].kind == "arch"
        and apart
        and items[at].kind == "number"
        and items[at].value > LAST_POSITION
    ):
        return None  # "there are left in the upper only 13 to 23": the arch stands for itself
    ref = _core(items[at], known, tokens)
    if ref is None:
        return None
    after = at + 1
    while after < len(items):
        step = _suffix(items, after, tokens, ref)
        if step is None:
            break
        ref, after = step
    if ref.digits and not (ref.quadrant or ref.side):
        return None
    ref = replace(ref, start=items[start].start, end=items[after - 1].end)
    if before is not None and ref.number is not None:
        ref = _inherits(ref, before, tokens)
    elif (
        before is not None
        and before.by_name
        and not (ref.quadrant or ref.side)
        and not (ref.many and ref.names == (_THIRD,))  # "the wisdom teeth" are those of both sides
    ):
        ref = replace(ref, quadrant=before.quadrant, side=before.side, arch=ref.arch or before.arch)
    return ref, after


def _leads_to_tooth(items: Sequence[Item], at: int) -> bool:
    """Whether articles and the word "tooth" run on to a number, a name or a modifier of one."""
    for item in items[at : at + 4]:
        if item.kind in ("number", "name", "group", "quadrant", "relative"):
            return True
        if item.kind not in ("filler", "side", "arch", "all"):
            return False
    return False


def _modified(ref: Ref, item: Item, tokens: Sequence[Token]) -> Ref:
    if item.kind == "quadrant":
        return replace(ref, quadrant=int(item.value))
    if item.kind == "side":
        return replace(ref, side=item.value, many=ref.many or item.value == "both")
    if item.kind == "arch":
        return replace(ref, arch=item.value)
    if item.kind == "all":
        return replace(ref, many=True)
    return replace(ref, hashed=ref.hashed or tokens[item.start].text == "#")


def _core(item: Item, ref: Ref, tokens: Sequence[Token]) -> Ref | None:
    if item.kind == "relative" and item.value == "around":
        return None
    if item.kind == "relative":
        return (
            replace(ref, relative=str(item.value), many=True, names=())
            if item.value not in _ONE
            else replace(ref, relative="beside", names=_ONE[str(item.value)])
        )
    if item.kind == "name":
        plural = bool(item.extra.get("plural")) or (item.match is not None and _plural(item, tokens))
        guessed = not plural and not ref.many and _either_number(item, tokens)
        return replace(ref, names=(int(item.value),), many=ref.many or plural or guessed, guessed=guessed)
    if item.kind == "group":
        entry = lx.document("teeth")["groups"][int(item.value)]
        return replace(
            ref,
            names=tuple(entry["positions"]),
            third=bool(entry.get("third")),
            unsided=tuple(entry.get("unsided", ())),
            many=True,
        )
    written = tokens[item.start].text
    if item.extra.get("bar"):
        digits = tuple(int(digit) for digit in str(item.value))
        return replace(ref, digits=digits, side=item.extra["bar"], compact=True)
    if item.value > _LAST_TOOTH and ref.quadrant is None:
        if len(written) < 3 or not all(digit in "12345678" for digit in written):
            return None
        return replace(ref, digits=tuple(int(digit) for digit in written), compact=True)
    glued = (
        tokens[item.start].glued
        and item.start > 0
        and tokens[item.start - 1].is_word
        and ref.quadrant is not None
    )
    if item.extra.get("plural"):  # "the 4s": on both sides
        return replace(ref, number=item.value, side=ref.side if ref.quadrant is None and ref.side else "both")
    if item.extra.get("dotted"):
        return replace(ref, number=item.value, dotted=True)
    run = len(written) > 1 and all(digit in "12345678" for digit in written) and (glued or len(written) > 2)
    if ref.quadrant is not None and run:
        return replace(ref, digits=tuple(int(digit) for digit in written), compact=True)
    return replace(ref, number=item.value, compact=glued and item.value <= LAST_POSITION)


def _either_number(item: Item, tokens: Sequence[Token]) -> bool:
    """Whether a German name of a tooth may be one or more ("Siebener fehlen"): no article says that it is one."""
    word = tokens[item.end - 1]
    alike = item.end - item.start <= 2 and (word.meant or word.folded).endswith("er")
    before = tokens[item.start - 1].folded if item.start else ""
    return alike and before not in _OF_ONE and not before.endswith(("er", "en"))


def _plural(item: Item, tokens: Sequence[Token]) -> bool:
    words = [token.meant or token.folded for token in tokens[item.start : item.end] if token.is_word]
    return any(
        word.endswith(
            ("ts", "iern", "chsern", "nern", "ufern", "eiern", "chtern", "zahne", "zahnen", "teeth")
        )
        or word in _PLURALS
        for word in words
    ) or (words[-1].endswith("s"))


def _suffix(items: Sequence[Item], at: int, tokens: Sequence[Token], ref: Ref) -> tuple[Ref, int] | None:
    """What follows a number or name and belongs to it: side, quadrant, a name beside the number, in brackets too."""
    item = items[at]
    opened = item.kind == "open"
    inner = at + 1 if opened else at
    if inner >= len(items):
        return None
    if opened and (named := _named_in_brackets(items, inner, tokens, ref)) is not None:
        return named
    while (
        inner < len(items)
        and items[inner].kind == "filler"
        and _leads_to_tooth(items, inner)
        and inner - at < 3
    ):
        inner += 1
    item = items[inner]
    made: Ref | None = None
    both = item.kind == "side" and item.value == "both" and (ref.number or 0) > LAST_POSITION
    if item.kind in _MODIFIERS and not both and not _begins_mention(items, inner):
        said_twice = item.kind == "side" and ref.side == "both" and ref.many and ref.by_name
        if (
            ref.quadrant is None and (ref.side is None or said_twice) and not _elsewhere(items, inner, ref)
        ) or (item.kind == "arch" and ref.arch is None and not ref.quadrant):
            made = replace(_modified(ref, item, tokens), after=True)
    elif (
        item.kind == "name" and ref.number is not None and not ref.names and not _begins_mention(items, inner)
    ):
        made = replace(ref, names=(int(item.value),))
    elif item.kind == "number" and ref.by_name and len(ref.names) == 1 and (opened or not ref.many):
        made = _core(item, ref, tokens)
    if made is None:
        return None
    after = inner + 1
    if opened:
        while after < len(items) and items[after].kind in (*_MODIFIERS, "filler"):
            made = _modified(made, items[after], tokens)
            after += 1
        if after >= len(items) or items[after].kind != "close":
            return None
        after += 1
    return made, after


def _elsewhere(items: Sequence[Item], at: int, ref: Ref) -> bool:
    """Whether a side after a number lies on the other side in either numbering and goes on ("36 right all there")."""
    item = items[at]
    if at + 1 >= len(items) or items[at + 1].kind not in ("filler", "all", "word"):
        return False
    if (
        item.kind != "side"
        or item.value not in _QUADRANTS
        or ref.number is None
        or ref.number <= LAST_POSITION
    ):
        return False
    read = [ref.number] if is_tooth(ref.number) else []
    read += [to_iso(ref.number)] if ref.number <= _LAST_UNIVERSAL else []
    return bool(read) and not any(quadrant(tooth) in _QUADRANTS[str(item.value)] for tooth in read)


def _named_in_brackets(
    items: Sequence[Item], at: int, tokens: Sequence[Token], ref: Ref
) -> tuple[Ref, int] | None:
    """``14 (upper left first molar)``: place and name that say in brackets which tooth the number is."""
    made, named = ref, False
    while at < len(items) and items[at].kind in (*_MODIFIERS, "filler", "name"):
        if items[at].kind == "name":
            made, named = replace(made, names=(int(items[at].value),)), True
        else:
            made = _modified(made, items[at], tokens)
        at += 1
    closed = at < len(items) and items[at].kind == "close"
    return (made, at + 1) if named and closed and ref.number is not None and not ref.names else None


def _begins_mention(items: Sequence[Item], at: int) -> bool:
    """Whether a modifier or a name belongs to what follows it: a number or a name comes next."""
    following = at + 1
    while following < len(items) and items[following].kind in (*_MODIFIERS, "filler", "all"):
        following += 1
    if items[at].kind == "name":
        return False
    colon = (
        following + 1 < len(items)
        and items[following].kind == "colon"
        and items[following + 1].kind in _NAMES
    )
    return following < len(items) and (
        items[following].kind in ("number", "name", "group", "relative") or colon
    )


def _inherits(ref: Ref, before: Ref, tokens: Sequence[Token]) -> Ref:
    """A bare digit after ``UR4`` counts in the same quadrant; after ``14`` it may be short for ``1x``."""
    if ref.quadrant or ref.side or ref.number is None or ref.dotted:
        return ref
    if (
        ref.number <= LAST_POSITION
        and (before.quadrant or before.side)
        and (before.digits or (before.number or 99) <= 8)
    ):
        return replace(
            ref,
            quadrant=before.quadrant,
            side=before.side,
            arch=ref.arch or before.arch,
            compact=before.compact,
        )
    last = before.upto or before
    if ref.number <= LAST_POSITION and not ref.hashed and ((last.number or 0) > 10 or last.short):
        return replace(ref, short=True)
    return ref
