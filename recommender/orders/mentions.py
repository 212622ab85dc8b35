"""One mention of a tooth, or of a few by name: numbers, names, quadrant marks, sides, what stands in brackets."""

from collections.abc import Sequence
from dataclasses import replace

from recommender.domain import lexicon as lx
from recommender.domain.dentition import arch_of, is_tooth, position, quadrant
from recommender.domain.numbering import to_iso
from recommender.orders.items import Item, past
from recommender.orders.refs import LAST_POSITION, LAST_UNIVERSAL, QUADRANTS_OF, Ref
from recommender.orders.text import Token
from recommender.orders.vocabulary import listed

_LAST_TOOTH = 48
_THIRD = 8
_NAMES = ("number", "name", "group", "filler")
_MODIFIERS = ("quadrant", "side", "arch")
# A premolar or molar of which the order says no more: the one beside the space.
_ONE = {"one_molar": (6, 7), "one_premolar": (4, 5)}
# Words before a German name of a tooth that make it one tooth.
_OF_ONE = ("der", "den", "dem", "des", "ein", "einen", "einem", "am", "im", "vom", "zum", "ok", "uk")
_PLURALS = ("pramolaren", "molaren", "muelas", "premiers", "premieres", "primeros", "incisives")


def single_mention(
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
        or (items[at].kind == "only" and items[at - 1].kind in ("quadrant", "side", "colon") and at > start)
        or (items[at].kind == "colon" and items[at - 1].kind in ("quadrant", "side") and at > start)
    ):
        colon = colon or items[at].kind == "colon"
        known = modified(known, items[at], tokens)
        at += 1
    if at >= len(items) or items[at].kind not in ("number", "name", "group", "relative"):
        return None
    if items[at].kind == "relative" and items[at].value == "around":
        at = past(items, at + 1, 1, ("filler", "from", "on", "to"))
        inner = single_mention(items, at, tokens, before)
        return (replace(inner[0], start=items[start].start, relative="around"), inner[1]) if inner else None
    apart = any(tokens[one.start].folded == "que" for one in items[start + 1 : at])
    if (
        items[start].kind == "arch"
        and apart
        and items[at].kind == "number"
        and items[at].value > LAST_POSITION
    ):
        return None  # "there are left in the upper only 13 to 23": the arch stands for itself
    if _is_elsewhere(items, start, at):
        known = replace(known, arch=None)
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
    if after < len(items) and tokens[items[after].start].folded in listed("position_words") and ref.number:
        after += items[after].kind in ("word", "filler")  # "in the 37 position"
    ref = replace(ref, start=items[start].start, end=items[after - 1].end)
    if before is not None and ref.number is not None:
        ref = _inherits(ref, before, tokens)
    elif (
        before is not None
        and before.by_name
        and not (ref.quadrant or ref.side)
        and not (ref.many and ref.names == (_THIRD,))  # "the wisdom teeth" are those of both sides
        and not (ref.is_pair and not (before.many and len(before.names) == 1))
    ):
        ref = replace(ref, quadrant=before.quadrant, side=before.side, arch=ref.arch or before.arch)
    return ref, after


def _is_elsewhere(items: Sequence[Item], start: int, at: int) -> bool:
    """``oben bei 35``, ``arriba en el 46``: a tooth of the arch that the order names elsewhere, which no numbering puts
    into the one before it: which end of the tooth is meant, not the arch."""
    before, item = items[start:at], items[at]
    words = [one for one in before if one.kind == "arch"]
    place = any(one.kind == "on" for one in before[1:])
    if len(words) != 1 or not place or item.kind != "number" or not is_tooth(int(item.value)):
        return False
    read = {arch_of(int(item.value))}
    read |= {arch_of(to_iso(int(item.value)))} if 0 < int(item.value) <= LAST_UNIVERSAL else set()
    return words[0].value not in read and any(one.kind == "arch" and one.value in read for one in items)


def _leads_to_tooth(items: Sequence[Item], at: int) -> bool:
    """Whether articles and the word "tooth" run on to a number, a name or a modifier of one."""
    for item in items[at : at + 4]:
        if item.kind in ("number", "name", "group", "quadrant", "relative"):
            return True
        if item.kind not in ("filler", "side", "arch", "all"):
            return False
    return False


def modified(ref: Ref, item: Item, tokens: Sequence[Token]) -> Ref:
    """A mention with what a quadrant, side, arch, number sign or "all" says of it."""
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
    article = tokens[item.start - 2].folded if item.start > 1 else ""
    if alike and before.endswith("en") and article in listed("articles_before_several"):
        return True  # "die oberen Achter"
    return alike and before not in _OF_ONE and not before.endswith(("er", "en"))


def _plural(item: Item, tokens: Sequence[Token]) -> bool:
    words = [token.meant or token.folded for token in tokens[item.start : item.end] if token.is_word]
    return any(
        word.endswith(
            ("ts", "iern", "rern", "chsern", "nern", "fern", "eiern", "chtern", "zahne", "zahnen", "teeth")
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
    if (
        item.kind in _MODIFIERS
        and not both
        and (not _begins_mention(items, inner) or _each_placed(items, inner, ref))
    ):
        said_twice = item.kind == "side" and ref.side == "both" and ref.many and ref.by_name
        if (
            ref.quadrant is None and (ref.side is None or said_twice) and not _elsewhere(items, inner, ref)
        ) or (item.kind == "arch" and ref.arch is None and not ref.quadrant):
            made = replace(modified(ref, item, tokens), after=True)
    elif (
        item.kind == "name"
        and ref.number is not None
        and not ref.names
        and not _begins_mention(items, inner)
        and not (
            opened and item.match is not None and _plural(item, tokens)
        )  # "45-46 (the second molars stand)"
        and (
            opened or inner == at or _is_named(ref, int(item.value))
        )  # "26, 27 the wisdom teeth are gone too"
    ):
        made = replace(ref, names=(int(item.value),))
    elif item.kind == "number" and ref.by_name and len(ref.names) == 1 and (opened or not ref.many):
        made = _core(item, ref, tokens)
    if made is None:
        return None
    after = inner + 1
    if opened:
        while after < len(items) and items[after].kind in (*_MODIFIERS, "filler"):
            made = modified(made, items[after], tokens)
            after += 1
        if after >= len(items) or items[after].kind != "close":
            return None
        after += 1
    return made, after


def _each_placed(items: Sequence[Item], at: int, ref: Ref) -> bool:
    """``la 7 droite la 4 gauche``: the digit after a side has its own side behind it, and so has this one."""
    bare = not (ref.quadrant or ref.side) and ref.number is not None and ref.number <= LAST_POSITION
    after = past(items, at + 1, 1, ("filler",))
    own = (
        after + 1 < len(items)
        and items[after].kind == "number"
        and items[after + 1].kind in ("side", "quadrant")
    )
    return bare and own and items[at].kind in ("side", "quadrant")


def _leads_only(items: Sequence[Item], at: int) -> bool:
    """Whether a word for "only" and a number follow a side or quadrant."""
    following = [item for item in items[at + 1 : at + 4] if item.kind != "filler"]
    return [item.kind for item in following[:2]] == ["only", "number"]


def _is_named(ref: Ref, name: int) -> bool:
    """Whether the number of a mention is a tooth of that name in either numbering."""
    number = ref.number or 0
    read = [number] if is_tooth(number) else []
    read += [to_iso(number)] if 0 < number <= LAST_UNIVERSAL else []
    return not read or name in {position(tooth) for tooth in read}


def _elsewhere(items: Sequence[Item], at: int, ref: Ref) -> bool:
    """Whether a side after a number lies on the other side in either numbering and goes on ("36 right all there")."""
    item = items[at]
    if (ref.number or 0) > LAST_POSITION and _leads_only(items, at):
        return True  # "all from 14 to 17, left only 26"
    if at + 1 >= len(items) or items[at + 1].kind not in ("filler", "all", "only", "word"):
        return False
    if (
        item.kind != "side"
        or item.value not in QUADRANTS_OF
        or ref.number is None
        or ref.number <= LAST_POSITION
    ):
        return False
    read = [ref.number] if is_tooth(ref.number) else []
    read += [to_iso(ref.number)] if ref.number <= LAST_UNIVERSAL else []
    return bool(read) and not any(quadrant(tooth) in QUADRANTS_OF[str(item.value)] for tooth in read)


def _named_in_brackets(
    items: Sequence[Item], at: int, tokens: Sequence[Token], ref: Ref
) -> tuple[Ref, int] | None:
    """``14 (upper left first molar)``: place and name that say in brackets which tooth the number is."""
    made, named = ref, False
    while at < len(items) and items[at].kind in (*_MODIFIERS, "filler", "name"):
        if items[at].kind == "name":
            if items[at].match is not None and _plural(items[at], tokens):
                return None  # "45-46 (the second molars stand)"
            made, named = replace(made, names=(int(items[at].value),)), True
        else:
            made = modified(made, items[at], tokens)
        at += 1
    closed = at < len(items) and items[at].kind == "close"
    return (made, at + 1) if named and closed and ref.number is not None and not ref.names else None


def _begins_mention(items: Sequence[Item], at: int) -> bool:
    """Whether a modifier or a name belongs to what follows it: a number or a name comes next."""
    following = past(items, at + 1, 1, (*_MODIFIERS, "filler", "all", "only"))
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
