"""Teeth said by their place ("on the abutments", "either side of the gap", "all but 13-23"), and what only sounds so.

Which teeth these are is settled when the missing teeth are known (``spaces``). Passes over the items of an order,
before and after their lists of teeth are made.
"""

from collections.abc import Sequence

from recommender.domain import lexicon as lx
from recommender.orders.items import SENTENCE, Item, is_role, parts
from recommender.orders.refs import Ref, Teeth
from recommender.orders.text import Token
from recommender.orders.vocabulary import listed

_NAMES = ("number", "name", "group")
_SAYS = ("retainer", "rest", "unsettled")
_QUIET = ("filler", "counted", "all", "colon")
# An English "left" that says that teeth are left, and what has to stand before the list for it.
_LEFT, _LEFT_AFTER = "left", ("only", "standing")
_WHERE = ("infront", "devant", "delante", "vorne", "front")
_TURNED_REST, _TWO = ("toward", "away"), 2
_OPPOSITE = {"right": "left", "left": "right"}
_NEITHER = ("weder", "neither", "ni")
_HAVING = ("has", "have", "had", "hat", "haben", "tiene", "conserva", "possede", "presente", "got")
_HAS = ("are", "has", "have", "just", "still", "is")


def with_relatives(items: list[Item], tokens: Sequence[Token]) -> list[Item]:
    """The items with words for places as items of kind ``relative``, or as the role that they have beside numbers."""
    for sentence in parts(items, SENTENCE):
        _ends_of_spaces(items, sentence)
        _respectively(items, sentence, tokens)
        _groups_beside(items, sentence)
        for at in sentence:
            item = items[at]
            where = item.kind == "group" and item.extra.get("written") in _WHERE
            if where and not _is_place_of_clasps(items, at, sentence):
                item.kind = "word"  # "the canine in front", "an Akers each, one in front": a place, no teeth
    for first, colon, second in zip(items, items[1:], items[2:], strict=False):
        if first.kind == second.kind == "arch" and colon.kind == "colon":
            first.kind = "filler"  # "Maxilar: inferior" is the name of the field
    _again(items)
    _bare(items)
    for sentence in parts(items, SENTENCE):
        _remaining(items, sentence, tokens)
        named = any(items[at].kind in _NAMES for at in sentence)
        says = any(items[at].kind in _SAYS or is_role(items[at], "clasp", "rest") for at in sentence)
        for at in sentence:
            item = items[at]
            if item.kind == "relative" and item.value == "beside" and _number_right_after(items, at):
                # "the teeth next to 46", but "the neighbouring teeth 45 and 47" names them
                joined = items[at + 1].kind in ("to", "from", "on")
                item.kind, item.value = ("relative", "around") if joined else ("filler", "filler")
            if item.kind == "relative" and item.value == "last":
                if _beside_number(items, at):
                    item.kind = "role"
                elif not says:
                    item.kind = "word"
            elif item.kind == "role" and item.value == "free_end" and _names_last(items, sentence):
                item.kind = "filler"  # which teeth these are is said by the last ones
            elif (
                item.kind == "relative" and item.value == "all" and _is_way(_next(items, at, 1, ("filler",)))
            ):
                item.kind = "filler"  # "all teeth behind 34"
            elif item.kind == "relative" and item.value == "all" and _all_stand(items, sentence, at):
                item.kind = item.value = "filler"
            elif item.kind == "relative" and item.value == "all" and not _is_gone(items, sentence):
                item.kind = "them" if says and not named else "word"
            elif _is_abutments(item) and says and not _followed_by_number(items, at):
                if _after_on(items, at) or not named:
                    item.kind, item.value = "relative", "abutments"
            elif item.kind == "side" and item.value == _LEFT and _nothing_left(items, at, tokens):
                item.kind, item.value = "filler", "filler"
            elif item.kind == "side" and item.value == _LEFT and _says_remaining(items, sentence, at, tokens):
                item.kind, item.value = "role", "standing"
    return items


def _ends_of_spaces(items: Sequence[Item], sentence: range) -> None:
    """``cingulum rest in front, mesial rest behind``: which of the two teeth beside a space each of two rests, or
    of two clasps, is for (``end`` of the item: ``front`` or ``back``)."""
    for kinds in (("rest", "site"), ("retainer",)):
        ends: dict[str, tuple[Item, Item]] = {}
        said = [at for at in sentence if items[at].kind in kinds and items[at].value not in _TURNED_REST]
        for at in said:
            after = at + 1
            while after < sentence.stop and items[after].kind in ("filler", "site", "role"):
                after += 1
            if after < sentence.stop and (end := _end_of_space(items, after, sentence)):
                ends.setdefault(end, (items[at], items[after]))
        if "front" not in ends or len(said) < len(ends) or len(said) > _TWO:
            continue
        other = next((items[at] for at in said if items[at] is not ends["front"][0]), None)
        if other is None or ("back" in ends and ends["back"][0] is not other):
            continue
        ends["front"][0].extra["end"], other.extra["end"] = "front", "back"
        for _, place in ends.values():
            place.kind = place.value = "filler"


def _respectively(items: Sequence[Item], sentence: range, tokens: Sequence[Token]) -> None:
    """``34, 37 with distal and mesial rests respectively``: the first of each two or three is for the first tooth
    (``nth`` of the item: its place and how many they are)."""
    for at in sentence:
        if items[at].kind != "respectively":
            continue
        items[at].kind = items[at].value = "filler"
        kinds: set[str] = set()
        run: list[Item] = []
        for place in range(at - 1, sentence.start - 1, -1):
            item = items[place]
            alike = {"retainer"} if item.kind == "retainer" else {"rest", "site"}
            if item.kind in ("rest", "site", "retainer") and (not kinds or kinds == alike):
                kinds = alike
                run.insert(0, item)
            elif item.kind not in ("filler", "and", "comma", "mark") and not is_role(item, "clasp", "rest"):
                break
        for place, item in enumerate(run):
            item.extra["nth"] = (place, len(run))


def _groups_beside(items: Sequence[Item], sentence: range) -> None:
    """``premolares y molares vecinos``: groups before words for the teeth beside the spaces name no others."""
    for at in sentence:
        if items[at].kind != "relative" or items[at].value != "beside":
            continue
        place = at - 1
        while place >= sentence.start and items[place].kind in ("group", "and", "filler", "name"):
            if items[place].kind in ("group", "name"):
                items[place].kind = items[place].value = "filler"
                for between in range(place + 1, at):
                    items[between].kind = items[between].value = "filler"
            place -= 1


def _end_of_space(items: Sequence[Item], at: int, sentence: range) -> str:
    """What a word for a place says that stands at the end of its part: ``front``, ``back`` or nothing."""
    following = items[at + 1].kind if at + 1 < sentence.stop else "stop"
    if following not in ("comma", "and", "close", "stop"):
        return ""
    item = items[at]
    if item.kind == "group" and item.extra.get("written") in _WHERE:
        return "front"
    return "back" if item.kind == "behind" else ""


def _is_place_of_clasps(items: Sequence[Item], at: int, sentence: range) -> bool:
    """Whether a word such as "in front" stands for the front teeth: clasps are ruled out there, or teeth are gone."""
    before = items[at - 1] if at else None
    if before is not None and before.kind in _NAMES:
        return False
    part = [items[i] for i in sentence if _same_part(items, i, at)]
    clasp = any(is_role(one, "clasp", "rest") or one.kind == "retainer" for one in part)
    return _is_gone(items, sentence) or (clasp and any(one.kind == "negation" for one in part))


def _bare(items: Sequence[Item]) -> None:
    """``lingual plate, no bar``: a bare word for a connector counts beside one that is named, or after its heading."""
    for sentence in parts(items, SENTENCE):
        named = any(items[at].kind == "connector" for at in sentence)
        headed = any(_names_connector(items[at]) for at in sentence)
        for at in sentence:
            item = items[at]
            if item.kind != "bare":
                continue
            around = (_next(items, at, -1), _next(items, at, 1, ("filler",)))
            denied = any(one is not None and one.kind == "negation" for one in around)
            if not ((named and denied) or (headed and not named)):
                clasp = item.value == "bar" and item.match is not None and item.match.of("role") is not None
                item.kind, item.value = ("role", "clasp") if clasp else ("word", item.value)


def _names_connector(item: Item) -> bool:
    return item.match is not None and any(
        one.kind == "heading" and one.identifier == "prescription.connector" for one in item.match.meanings
    )


def _again(items: list[Item]) -> None:
    """``an Akers on 26 and another on 16``, ``17 Akers, 15 ditto``, ``13 cingulum rest, no arm. Same on 23``: what was
    said last of teeth, once more, where teeth stand beside it."""
    said: list[Item] = []
    named = False
    at = 0
    while at < len(items):
        item = items[at]
        if item.kind in _NAMES:
            named = True
        elif item.kind in (*_SAYS, "site", "negation") or is_role(item, "clasp", "rest"):
            said = [*([] if named else said), item]
            named = False
        elif item.kind == "again":
            copies = _copies(item, said) if _teeth_beside(items, at) else []
            items[at : at + 1] = copies or [Item("filler", item.start, item.end, "filler", item.match)]
            at += len(copies)
        at += 1


def _copies(item: Item, said: Sequence[Item]) -> list[Item]:
    """What was said last at the place of the word for it; "another" is another clasp."""
    another = lx.fold(item.phrase) in listed("one_more")
    kept = [one for one in said if not another or one.kind == "retainer"]
    if not any(one.kind in ("retainer", "rest") for one in kept):
        return []
    made = [
        Item(one.kind, item.start, item.end, one.value, one.match, one.path, {**one.extra, "again": True})
        for one in kept
    ]
    parts = [
        [one] if one.kind in ("negation", "site") else [one, Item("comma", item.start, item.end, ",")]
        for one in made
    ]
    return [one for part in parts for one in part][:-1] if made[-1].kind not in ("negation", "site") else made


def _teeth_beside(items: Sequence[Item], at: int) -> bool:
    """Whether teeth follow a word, or go before it at the end of its part."""
    quiet = ("filler", "on", "from", "colon", "also", "counted")
    following = _next(items, at, 1, quiet)
    if following is not None and following.kind in (*_NAMES, "quadrant", "side"):
        return True
    before = _next(items, at, -1, quiet)
    ends = following is None or following.kind in (*SENTENCE, "comma", "close", "and")
    return ends and before is not None and before.kind in (*_NAMES, "quadrant", "side")


def _remaining(items: Sequence[Item], sentence: range, tokens: Sequence[Token]) -> None:
    """``he has 33 to 43 only``: an "only" beside numbers after a verb of having says which teeth stand."""
    for at in sentence:
        if items[at].kind != "only":
            continue
        before, after = (
            _next(items, at, -1),
            _next(items, at, 1, ("filler", "counted", "all", "colon", "on", "from")),
        )
        beside = [one for one in (before, after) if one is not None and one.kind in _NAMES]
        part = [items[i] for i in sentence if _same_part(items, i, at)]
        words = {tokens[i].folded for item in part for i in range(item.start, item.end)}
        said = any(item.kind in (*_SAYS, "role", "connector", "replacement", "measure") for item in part)
        if beside and not said and words & set(_HAVING):
            items[at].kind, items[at].value = "role", "standing"


def _same_part(items: Sequence[Item], one: int, other: int) -> bool:
    low, high = sorted((one, other))
    if any(items[i].kind in ("open", "close") for i in range(low, high)):
        return False
    between = [i for i in range(low, high) if items[i].kind == "comma"]
    return all(
        items[i - 1].kind in _NAMES and items[i + 1].kind in _NAMES for i in between if 0 < i < len(items) - 1
    )


def _names_last(items: Sequence[Item], sentence: range) -> bool:
    """Whether a sentence says by number which teeth are the last ones."""
    last = [at for at in sentence if items[at].value == "last" and items[at].kind in ("relative", "role")]
    return any(_beside_number(items, at) for at in last)


def _all_stand(items: Sequence[Item], sentence: range, at: int) -> bool:
    """``all other teeth are standing`` says nothing of those that are named; the word for it goes with it."""
    following = _next(items, at, 1, ("filler", "arch", "side", "counted"))
    if following is None or following.kind != "role" or following.value != "standing":
        return False
    following.kind = following.value = "filler"
    return True


def _is_gone(items: Sequence[Item], sentence: range) -> bool:
    return any(items[at].kind == "role" and items[at].value in ("missing", "others") for at in sentence)


def _is_abutments(item: Item) -> bool:
    return item.kind == "heading" and item.value == "abutments.tooth"


def _next(items: Sequence[Item], at: int, step: int, skipped: Sequence[str] = _QUIET) -> Item | None:
    at += step
    while 0 <= at < len(items) and items[at].kind in skipped:
        at += step
    return items[at] if 0 <= at < len(items) else None


def _followed_by_number(items: Sequence[Item], at: int) -> bool:
    following = _next(items, at, 1)
    return following is not None and following.kind in (*_NAMES, "quadrant")


def _is_way(item: Item | None) -> bool:
    return item is not None and item.kind in ("behind", "onward")


def _number_right_after(items: Sequence[Item], at: int) -> bool:
    following = _next(items, at, 1, ("filler", "to", "from", "on"))
    return following is not None and following.kind == "number"


def _beside_number(items: Sequence[Item], at: int) -> bool:
    before = _next(items, at, -1)
    return _followed_by_number(items, at) or (before is not None and before.kind in _NAMES)


def _after_on(items: Sequence[Item], at: int) -> bool:
    before = _next(items, at, -1, (*_QUIET, "side"))
    return before is not None and before.kind in ("on", "from", "to")


def _says_remaining(items: Sequence[Item], sentence: range, at: int, tokens: Sequence[Token]) -> bool:
    """Whether "left" after a list says that its teeth remain: something before it says so, and no tooth follows."""
    before = items[at - 1] if at else None
    alone = items[at].end - items[at].start == 1
    if not alone or tokens[items[at].start].folded != _LEFT or before is None or before.kind not in _NAMES:
        return False
    after = _next(items, at, 1, ("filler", "on"))
    if after is not None and after.kind in _NAMES:
        return False
    earlier = [items[place] for place in range(sentence.start, at)]
    words = {tokens[place].folded for item in earlier for place in range(item.start, item.end)}
    return any(item.kind in _LEFT_AFTER for item in earlier) or bool(words & set(_HAS))


def _nothing_left(items: Sequence[Item], at: int, tokens: Sequence[Token]) -> bool:
    """Whether a "left" only says that nothing remains ("nothing left behind 34")."""
    before = items[at - 1] if at else None
    return (
        tokens[items[at].start].folded == _LEFT
        and before is not None
        and before.kind == "role"
        and before.value == "nothing"
    )


def with_sides(items: list[Item]) -> list[Item]:
    """``on that side``, ``on the other side``: the side that was named before, or the opposite one."""
    last = ""
    for item in items:
        if item.kind == "side" and item.value in ("same", "other"):
            turned = last if item.value == "same" else _OPPOSITE.get(last, "")
            item.kind, item.value = ("side", turned) if turned else ("filler", "filler")
        if item.kind == "side" and item.value in _OPPOSITE:
            last = str(item.value)
        elif item.kind == "quadrant":
            last = "right" if int(item.value) in (1, 4) else "left"
    return items


def neither_moved(items: list[Item]) -> list[Item]:
    """``weder auf 13 noch auf 23 Klammern``: the denial is put before what it denies."""
    made = list(items)
    for sentence in parts(items, SENTENCE):
        for at in sentence:
            item = items[at]
            if item.kind != "negation" or item.phrase not in _NEITHER:
                continue
            after = _next(items, at, 1, ("filler", "on"))
            part = next((i for i in range(at, sentence.stop) if items[i].kind == "comma"), sentence.stop)
            named = [
                i
                for i in range(at + 1, part)
                if items[i].kind in (*_SAYS,) or is_role(items[i], "clasp", "rest")
            ]
            if after is None or after.kind not in (*_NAMES, "side", "quadrant") or not named:
                continue
            for place in range(at + 1, named[0]):
                if made[place].kind == "nor":
                    made[place] = Item("and", made[place].start, made[place].end, "and", made[place].match)
            moved = made.pop(at)
            made.insert(named[0] - 1, moved)
            return made
    return made


def with_exceptions(items: list[Item]) -> list[Item]:
    """``all molars missing except 27``: the teeth after "except" leave the list before it."""
    for sentence in parts(items, SENTENCE):
        for at in sentence:
            item = items[at]
            if (
                item.kind == "all_but"
                and _is_gone(items, sentence)
                and (spared := _teeth_after(items, at)) is not None
            ):
                _spare(items, at, spared, _everything(item))
            elif (
                item.kind == "except"
                and (after := _next(items, at, 1, ("filler",)))
                and after.kind == "connector"
            ):
                item.kind = "negation"  # "as you see fit but not a full plate"
            elif item.kind == "except" and (spared := _teeth_after(items, at)) is not None:
                earlier = [items[i] for i in range(at - 1, sentence.start - 1, -1)]
                owner = next((one for one in earlier if one.kind == "teeth"), None)
                if owner is None:  # "all but 13 and 23 all teeth are gone"
                    later = [items[i] for i in range(spared + 1, sentence.stop)]
                    owner = next((one for one in later if one.kind == "teeth" and one.value.relative), None)
                whole = next((one for one in earlier if one.kind == "all"), None)
                if owner is not None:
                    _spare(items, at, spared, owner)
                elif whole is not None and _is_gone(items, sentence):
                    _spare(items, at, spared, _everything(whole))
    return items


def _everything(item: Item) -> Item:
    item.kind, item.value = (
        "teeth",
        Teeth([Ref(item.start, item.end, relative="all", many=True)], [frozenset()]),
    )
    return item


def _teeth_after(items: Sequence[Item], at: int) -> int | None:
    at += 1
    while at < len(items) and items[at].kind in ("filler", "on", "from"):
        at += 1
    return at if at < len(items) and items[at].kind == "teeth" else None


def _spare(items: list[Item], at: int, spared: int, owner: Item) -> None:
    """Takes the teeth of one item out of those of another; a thing said of them right after keeps them."""
    teeth: Teeth = owner.value
    taken: Teeth = items[spared].value
    if teeth.minus is None:
        teeth.minus = Teeth([*taken.refs], [*taken.joints])
    else:
        teeth.minus.refs += taken.refs
        teeth.minus.joints += taken.joints
    if items[at].kind == "except":
        items[at].kind, items[at].extra["spares"] = "comma", True
    after: list[Item] = []
    for one in items[spared + 1 :]:
        if one.kind in SENTENCE:
            break
        after.append(one)
    following = next((one for one in after if one.kind in (*_SAYS, "role", "comma")), None)
    apart = any(one.kind in _SAYS or is_role(one, "clasp", "rest") for one in after) and not any(
        one.kind == "teeth" for one in after
    )
    if not apart and (following is None or following.kind not in _SAYS):
        items[spared].kind, items[spared].extra["spares"] = "filler", True
