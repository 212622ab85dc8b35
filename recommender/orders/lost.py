"""Words about lost teeth that change each other: gone but not replaced, an extraction told in two words.

A pass over the items before their sentences are cut into phrases.
"""

from collections.abc import Sequence
from itertools import takewhile

from recommender.domain import lexicon as lx
from recommender.orders.bounded import bounded
from recommender.orders.items import PART, SENTENCE, Item, beside, is_role, parts, past, words_in
from recommender.orders.neighbours import SAYS
from recommender.orders.refs import Teeth
from recommender.orders.text import Token
from recommender.orders.vocabulary import listed

_BETWEEN = (
    "filler",
    "comma",
    "mark",
    "open",
    "close",
    "and",
    "word",
    "talk",
    "on",
    "only",
    "nor",
    "negation",
)

# That teeth are gone, whatever becomes of them.
_GONE = ("missing", "absent", "unformed")

# What may stand beside a list in a part that says no more than "only".
_BESIDE_ONLY = ("filler", "arch", "colon", "counted", "mark")

# A clause that two commas set off may stand between an auxiliary and its participle ("wird, bevor ..., gezogen").
_INNER_CLAUSE = 2


def replaces(item: Item) -> bool:
    """Whether a word for missing teeth says that they are replaced, not only that they are gone."""
    phrase = lx.fold(item.phrase)
    return any(part in phrase for part in listed("words_of_replacing"))


def with_losses(items: list[Item], tokens: Sequence[Token]) -> list[Item]:
    """The items with what is not replaced, or still to be extracted, said of the right teeth."""
    _enumerated(items, tokens)
    for at, item in enumerate(items):
        if item.kind == "teeth":
            bounded(items, at, tokens)
        following = items[at + 1].kind if at + 1 < len(items) else "stop"
        added = item.kind == "and" and at and items[at - 1].kind == "teeth" and tokens[item.start].is_word
        if added and following in (*SENTENCE, "comma"):
            item.kind = "also"  # "36 also"
    items = _only_there(items, tokens)
    _only_these(items, tokens)
    for at, item in enumerate(items):
        if item.kind != "role":
            continue
        if lx.fold(item.phrase) in listed("bears_teeth") and following != "teeth":
            item.kind = item.value = "filler"  # "the denture carries a bar"
            continue
        if item.value == "missing" and not replaces(item):
            _and_not(items, at)
            _each_of_them(items, at)
            _nor_those(items, at)
        if item.value == "missing" and replaces(item):
            _denied(items, at)
        if item.value == "absent":
            _nearest(items, at)
            _remarked(items, at)
        elif item.value == "missing" and _is_participle(item) and _in_future(items, at, tokens):
            item.value = "extraction"
        elif item.value == "extraction" and _long_ago(items, at, tokens):
            item.value = "missing"
    return items


def with_all_replaced(items: list[Item], tokens: Sequence[Token]) -> list[Item]:
    """``14, 15 and 24 lost, all to be replaced (but 24)``: no new list; an exception is not replaced."""
    gone = False
    for at, item in enumerate(items):
        gone = gone or (item.kind == "role" and item.value == "extraction") or _is_space(items, at, tokens)
        if item.kind != "role" or item.value not in ("missing", "others"):
            continue
        whole = [] if item.value == "others" else _whole(items, at, tokens)
        spared = _spared_after(items, max([at, *whole]))
        if item.value == "others" or (gone and whole):
            if spared is not None:
                for one in items[spared : spared + 3]:
                    if one.kind == "negation":
                        one.kind = one.value = "filler"
                items[spared].kind, items[spared].value = "role", "absent"
                items[spared].extra["excepted"] = True
                items[spared - 1].kind = (
                    "comma" if items[spared - 1].kind == "filler" else items[spared - 1].kind
                )
                item.extra["spares"] = True
            if item.value != "others":
                joint = {at - 1} if at and items[at - 1].kind in ("and", "comma") else set()
                for place in {at, *whole, *joint} - {spared}:
                    items[place].kind = items[place].value = "filler"
                if spared is not None:
                    item.kind = "comma"
                item.extra["all_replaced"] = spared is None
        gone = gone or item.value == "missing"
    return items


def _is_space(items: Sequence[Item], at: int, tokens: Sequence[Token]) -> bool:
    """Whether a word for a space stands right before teeth ("the space between 33 and 37")."""
    named = items[at].kind == "word" and tokens[items[at].end - 1].folded in listed("spaces")
    return named and at + 1 < len(items) and items[at + 1].kind == "teeth"


def _whole(items: Sequence[Item], at: int, tokens: Sequence[Token]) -> list[int]:
    """Where "all", "all three" or "them all" stands beside a word of replacing that names no teeth itself."""
    if not replaces(items[at]):
        return []
    found: list[int] = []
    for step in (-1, 1):
        place = at + step
        while 0 <= place < len(items) and (
            items[place].kind in ("filler", "all", "all_but", "counted", "side")
            or _counts_all(items, place, tokens)
        ):
            if items[place].kind != "filler" or _counts_all(items, place, tokens):
                found.append(place)
            place += step
            if found and items[found[-1]].kind == "all_but":
                return found
        if step > 0 and 0 <= place < len(items) and items[place].kind in ("teeth", "colon"):
            return []
    return (
        found
        if any(items[one].kind in ("all", "all_but") or _counts_all(items, one, tokens) for one in found)
        else []
    )


def _counts_all(items: Sequence[Item], at: int, tokens: Sequence[Token]) -> bool:
    """Whether an item only counts the teeth named before ("les 3", "los tres"), or says "all" of them."""
    item = items[at]
    everything = item.kind == "teeth" and [ref.relative for ref in item.value.refs] == ["all"]
    numeral = item.end - item.start == 1 and (
        tokens[item.start].folded in listed("numerals") or tokens[item.start].text in "23456789"
    )
    before = tokens[item.start - 1].folded if item.start else ""
    if item.kind == "teeth" and len(item.value.refs) == 1 and item.end - item.start == 2:
        before, numeral = tokens[item.start].folded, tokens[item.end - 1].text in "23456789"
    return everything or (
        item.kind in ("teeth", "filler", "number") and numeral and before in listed("of_several")
    )


def _spared_after(items: Sequence[Item], at: int) -> int | None:
    """The place of an "except" right after, teeth following it."""
    at += items[at].kind != "all_but"
    at = past(items, at, 1, ("filler", "comma", "all"))
    if at + 1 >= len(items) or items[at].kind not in ("except", "all_but"):
        return None
    after = past(items, at + 1, 1, ("filler", "on", "from", "negation"))
    return at if after < len(items) and items[after].kind == "teeth" else None


def _only_there(items: list[Item], tokens: Sequence[Token]) -> list[Item]:
    """``Saddle 15 to 17. Other side just the 26``: teeth lost on one side, then those of the other."""
    made: list[Item] = []
    lost = False
    for sentence in parts(items, SENTENCE):
        for at in sentence:
            item = items[at]
            lost = lost or _is_loss(item)
            only = item.kind == "only"
            begins = _says_only(item, tokens) and (not at or items[at - 1].kind in PART)
            if lost and (only or begins) and _is_own_part(items, at - begins, sentence):
                if only and _names_side(items, at):
                    item.kind, item.value = "role", "missing"
                elif begins:
                    understood = {"understood": True}
                    made.append(Item("role", item.start, item.start + 1, "missing", extra=understood))
            made.append(item)
        made += items[sentence.stop : sentence.stop + 1]
    return made


def _enumerated(items: Sequence[Item], tokens: Sequence[Token]) -> None:
    """``spaces: (a) between 13 and 16; (b) 22``: letters in brackets only count, and what they count goes on."""
    for first, letter, last in zip(items, items[1:], items[2:], strict=False):
        text = tokens[letter.start].text
        one = letter.end - letter.start == 1 and len(text) == 1 and text.isalpha()
        place = items.index(first)
        begins = not place or items[place - 1].kind in ("colon", *PART)
        if (first.kind, last.kind) != ("open", "close") or not one or not begins:
            continue
        for item in (first, letter, last):
            item.kind = item.value = "filler"
        if place and items[place - 1].kind == "hard":
            items[place - 1].kind = "and"


def _only_these(items: Sequence[Item], tokens: Sequence[Token]) -> None:
    """``Lower: 36 only.``: where that is all a part says, it is what the denture is for."""
    for part in parts(items, PART):
        said = [items[at] for at in part if items[at].kind not in _BESIDE_ONLY]
        words = [at for at in part if _says_alone(items[at], tokens)]
        kinds = [one.kind for one in said]
        if not words or kinds not in (["teeth"], ["teeth", "only"]):
            continue
        before = next((items[at] for at in range(words[0] - 1, -1, -1) if items[at].kind != "filler"), None)
        told = any(one.kind in ("teeth", "role", *SAYS) for one in _earlier(items, part.start))
        if before is said[0] and not told and all(ref.number is not None for ref in said[0].value.refs):
            items[words[0]].kind, items[words[0]].value = "role", "missing"
            items[words[0]].extra["understood"] = True


def _earlier(items: Sequence[Item], at: int) -> list[Item]:
    """The items of the same sentence before a place, the nearest first."""
    return list(takewhile(lambda one: one.kind not in SENTENCE, reversed(items[:at])))


def _says_alone(item: Item, tokens: Sequence[Token]) -> bool:
    words = " ".join(token.folded for token in tokens[item.start : item.end])
    return item.kind == "only" or words in listed("nothing_there")


def _says_only(item: Item, tokens: Sequence[Token]) -> bool:
    """Whether a list begins with a side and a word for "only" ("right only 46")."""
    if item.kind != "teeth":
        return False
    ref = item.value.refs[0]
    words = {token.folded for token in tokens[ref.start : ref.end]}
    return bool(ref.side or ref.quadrant) and bool(words & listed("only_words"))


def _is_own_part(items: Sequence[Item], at: int, sentence: range) -> bool:
    """Whether teeth follow and end their part, and what is said after has teeth of its own."""
    after = at + 1
    while after < sentence.stop and items[after].kind in ("filler", "on", "from"):
        after += 1
    if after >= sentence.stop or items[after].kind != "teeth":
        return False
    rest = [items[place] for place in range(after + 1, sentence.stop)]
    if rest and rest[0].kind not in ("comma", "and", "close", "open"):
        return False
    said = any(
        one.kind in SAYS or one.kind in ("site", "fact") or is_role(one, "clasp", "rest") for one in rest
    )
    return not said or any(one.kind == "teeth" for one in rest)


def _names_side(items: Sequence[Item], at: int) -> bool:
    """Whether a side stands right before a place, with nothing before it in its part."""
    place = at - 1
    while place >= 0 and items[place].kind in ("filler", "comma") and not _is_side(items[place]):
        place -= 1
    if place < 0 or not _is_side(items[place]):
        return False
    before = next((one for one in reversed(items[:place]) if one.kind not in ("filler", "mark", "on")), None)
    return before is None or before.kind in ("and", *PART)


def _is_side(item: Item) -> bool:
    named = item.match is not None and item.match.of("side", "quadrant") is not None
    return item.kind in ("side", "quadrant") or (item.kind == "filler" and named)


def _each_of_them(items: Sequence[Item], at: int) -> None:
    """``no longer has 14 or 15``: a loss told by a denial is that of each tooth."""
    words = {lx.fold(word) for word in items[at].phrase.split()}
    after = past(items, at + 1, 1, ("filler",))
    if words & listed("negations") and after < len(items) and items[after].kind == "teeth":
        teeth: Teeth = items[after].value
        teeth.alternative = False
        teeth.joints = [joint - {"or"} | {"and"} if "or" in joint else joint for joint in teeth.joints]


def _nor_those(items: Sequence[Item], at: int) -> None:
    """``n'a plus la 36, ni la 45``: what is joined so to lost teeth is lost too."""
    for place in range(at + 1, len(items)):
        item = items[place]
        if item.kind in (*SENTENCE, *SAYS, "negation") or is_role(item, "clasp", "rest"):
            return
        following = next((one for one in items[place + 1 :] if one.kind not in ("filler", "on")), None)
        if item.kind == "nor" and following is not None and following.kind == "teeth":
            item.kind = "and"


def _and_not(items: Sequence[Item], at: int) -> None:
    """``28 is gone and will not``: a denial that ends the sentence says that it is not replaced."""
    after = at + 1
    joined = False
    while after < len(items) and items[after].kind in ("and", "filler", "mark", "comma"):
        joined = joined or items[after].kind == "and"
        after += 1
    ends = after + 1 >= len(items) or items[after + 1].kind in SENTENCE
    if joined and after < len(items) and items[after].kind == "negation" and ends:
        items[at].value = "absent"
        items[after].kind = "filler"


def _denied(items: Sequence[Item], at: int) -> None:
    """``we do not replace``, ``ersetzen wir nicht``: a denial right beside a word of replacing turns it."""
    for step in (-1, 1):
        place = past(items, at + step, step, ("filler",))
        spared = step < 0 and 0 <= place < len(items) and items[place].kind == "except"
        if not 0 <= place < len(items) or not (items[place].kind == "negation" or spared):
            continue  # "36 is missing too, but not to be replaced"
        beyond = items[place + step] if 0 <= place + step < len(items) else None
        if step > 0 and beyond is not None and beyond.kind not in (*SENTENCE, "comma", "close", "filler"):
            continue  # "replace 14, no clasp": the denial belongs to what follows
        items[at].value = "absent"
        items[place].kind = "filler"
        return


def _nearest(items: list[Item], at: int) -> None:
    """``18 and 28 are gone too, not replaced``: what is not replaced are the teeth named last."""
    following = next(
        (one for one in items[at + 1 :] if one.kind not in ("filler", "colon", "on", "open")), None
    )
    if following is not None and following.kind == "teeth":
        return
    place = at - 1
    seen: list[Item] = []
    while place >= 0 and (items[place].kind in _BETWEEN or is_role(items[place], *_GONE)):
        seen.append(items[place])
        place -= 1
    if place < 0 or items[place].kind != "teeth":
        return
    if not any(is_role(one, *_GONE) for one in seen) and not _names_own_loss(items, place):
        return
    for one in seen:
        if is_role(one, *_GONE) or one.kind in ("comma", "open", "and", "negation"):
            one.kind = "filler"


def _remarked(items: Sequence[Item], at: int) -> None:
    """``third molars not replaced (all out)``: a remark in brackets that they are gone says nothing more."""
    inside = list(takewhile(lambda one: one.kind != "close", items[at + 1 :]))
    if not inside or inside[0].kind != "open" or not any(is_role(one, "missing") for one in inside):
        return
    if all(one.kind in ("open", "all", "filler", "side", "role", "mark") for one in inside):
        for one in inside[1:]:
            one.kind = one.value = "filler"


def _is_loss(item: Item) -> bool:
    return item.kind == "role" and item.value in ("missing", "absent")


def _names_own_loss(items: Sequence[Item], place: int) -> bool:
    """Whether a word before the list says that it is missing, and another list was already said to be so."""
    before = items[:place]
    for item in reversed(before):
        if item.kind in SENTENCE:
            return False
        if item.kind == "teeth":
            return True
    return False


def _is_participle(item: Item) -> bool:
    phrase = lx.fold(item.phrase)
    return phrase in listed("extracted")


def _in_future(items: Sequence[Item], at: int, tokens: Sequence[Token]) -> bool:
    """Whether an auxiliary of what is still to come stands before a participle in the same part of its sentence."""
    place, commas = at - 1, 0
    while place >= 0 and items[place].kind not in SENTENCE and commas <= _INNER_CLAUSE:
        words = words_in(items[place], tokens)
        before_comma = items[place + 1].kind == "comma"
        if words & listed("to_come") and (not commas or before_comma):
            return True
        commas += items[place].kind == "comma"
        place -= 1
    return False


def _long_ago(items: Sequence[Item], at: int, tokens: Sequence[Token]) -> bool:
    """Whether an extraction was years ago ("exodoncia hace más de un año")."""
    part = [items[at], *beside(items, at, (*PART, "open", "close"))]
    words = {tokens[place].folded for item in part for place in range(item.start, item.end)}
    return bool(words & listed("duration")) and bool(words & (listed("units") | listed("years")))
