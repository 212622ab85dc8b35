"""Lists of teeth read off the items of an order: mentions joined, ranges, numbers in brackets after a group."""

from collections.abc import Sequence
from dataclasses import replace

from recommender.orders.contrasts import is_denied, opens_contrast
from recommender.orders.items import Item, is_role, past
from recommender.orders.mentions import single_mention
from recommender.orders.placed_apart import needs_place, place_alone, place_bare
from recommender.orders.refs import LAST_POSITION, LAST_UNIVERSAL, Ref, Teeth
from recommender.orders.spelt_out import spelt_out
from recommender.orders.text import Token
from recommender.orders.vocabulary import listed

# The first and the last number of each numbering.
_WHOLE = {(1, LAST_UNIVERSAL): "universal", (11, 48): "iso"}


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
        if (system := _whole_numbering(teeth)) is not None:
            made.append(Item("numbering", items[at].start, items[after - 1].end, system))
            at = after
            continue
        teeth.upto = _only_end(made)
        between = any(tokens[item.start].folded in listed("between") for item in items[at : at + 2])
        led = (between and items[at].kind == "from") or _opens_with_on(items[at], tokens)
        extra = {"led": True} if led else {}
        before = next((one for one in reversed(made) if one.kind != "filler"), None)
        if before is not None and before.kind == "teeth" and _has_verb(items, after, tokens):
            made.append(Item("comma", items[at].start, items[at].start, ","))  # "on 14 and 16 the 23 gets"
        if any(item.kind == "only" for item in items[at:after]):
            extra["only"] = True
        if made and made[-1].kind == "teeth" and teeth.refs[0].by_name:
            made.append(
                Item("hard", items[at].start, items[at].start, ";")
            )  # "26, 27 the wisdom teeth are gone"
        made.append(Item("teeth", items[at].start, items[after - 1].end, teeth, extra=extra))
        at = after
    for first, comma, there, last in zip(made, made[1:], made[2:], made[3:], strict=False):
        there_are = comma.kind == "comma" and tokens[there.start].folded in listed("last_named")
        if there_are and first.kind == last.kind == "teeth":
            comma.kind = "hard"  # "right only 46, there 45 and 47 Akers"
        if first.value == "comma" and comma.kind == "to" and there.kind == "teeth":
            comma.kind = there.kind = "filler"  # "à droite tout est là jusqu'à la 47"
    place_bare(made)
    place_alone(made)
    return spelt_out(made)


def _whole_numbering(teeth: Teeth) -> str | None:
    """The system that a range from its first number to its last stands for ("numbering 1-32", "FDI 11-48")."""
    ref = teeth.refs[0]
    if len(teeth.refs) != 1 or ref.upto is None or ref.quadrant or ref.side:
        return None
    return _WHOLE.get((ref.number or 0, ref.upto.number or 0))


def _only_end(before: Sequence[Item]) -> bool:
    """Whether "up to" stands before a list that no other tooth begins ("replace up to the second molars")."""
    left = [item for item in before if item.kind not in ("filler", "and", "mark", "colon")]
    ends = len(left) > 1 and left[-1].kind == "to" and left[-2].kind != "teeth" and left[-2].value != "comma"
    after = before[next((at for at, item in enumerate(before) if item is left[-1]), 0) + 1 :] if left else ()
    verb = any(item.kind == "filler" and item.phrase == "be" for item in after)  # "to be made: 37, 36"
    return ends and not verb and _says_up_to(left[-1])


def _says_up_to(item: Item) -> bool:
    """Whether a word of ranges says how far by itself; a dash, the French and Spanish "to" say more than that."""
    phrase = item.phrase
    return any(letter.isalpha() for letter in phrase) and phrase not in ("à", "au", "a", "al")


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
            or (items[seen].kind == "on" and seen == after and _goes_on_with_on(items, at, seen))
            or (items[seen].kind == "on" and "and" in joint and _is_led_alike(items, at, seen, tokens))
            or (items[seen].kind == "word" and "and" in joint and _is_another(items, seen, tokens))
            or (items[seen].kind == "filler" and tokens[items[seen].start].text in "#") or items[seen].value == "/"
            or (items[seen].kind == "mark" and items[seen].value in "./" and tokens[items[seen].start].glued)
        ):  # fmt: skip
            joint.add("and" if items[seen].value in ("/", "&", "+") else items[seen].kind)
            seen += 1
        following = _range(items, seen, tokens, teeth.refs[-1])
        until = following[1] if following is not None else seen
        if any(opens_contrast(one, tokens) for one in items[after:until]) and is_denied(items, at, tokens):
            break  # "not 14 but 15"
        fresh = (
            {"comma", "filler"} <= joint
            and "and" not in joint
            and not any("filler" in one for one in teeth.joints)
        )
        alone = bool(at) and items[at - 1].kind == "only"  # "right only 46, there 45 and 47 carry clasps"
        several = len(teeth.refs) > 1 or alone or teeth.refs[-1].upto is not None
        if following is None or (fresh and several and not following[0].by_name):
            break  # an article after a comma begins a list of its own
        if joint and "and" not in joint and following[0].by_name and _is_apart(
            items, at, following, tokens, teeth.refs[-1].number is not None
        ):
            break  # "35 and 36, the wisdom teeth are gone too", "24 25, the incisors 11 21 stay"
        if teeth.refs[-1].way and joint == {"comma"} and following[0].by_name and not following[0].way:
            break  # "free ends behind the first premolars, third molars not replaced"
        if "comma" in joint and "and" not in joint and _only_end(items[:at]):
            break  # "set up to the first molars, leave out the sevens"
        if following[0].by_name and not joint - {"filler"} and (teeth.refs[-1].number or 0) > LAST_POSITION:
            break  # "missing 16, 26, 27 the wisdom teeth are gone too"
        if following[0].relative == "all" and "and" not in joint:
            break  # "33 to 43 stand, all behind is replaced"
        if following[0].relative and not joint & {"and", "comma"}:
            break  # "all but 13 and 23 all teeth are gone"
        if "comma" in joint and any(
            tokens[one.start].folded in listed("last_named") for one in items[after:seen]
        ):
            break  # "right only 46, there 45 and 47 Akers"
        apart = joint & {"and", "comma"} or (not joint and _led_by_article(items[seen], following[0], tokens))
        if apart and _begins_clause(items, at, following[1], tokens):
            break  # "Akers on 25 and the canine gets a rest"
        ended = any("and" in one for one in teeth.joints)
        if ended and joint == {"comma"} and _is_said_to_stand(items, following[1], tokens):
            break  # "missing 46 and 47, 45 stays"
        if _opens_with_on(items[seen], tokens):
            joint.add("on")  # "on lower right 5 and on the lower left 4"
        ref, after = following
        last = teeth.refs[-1]
        if last.way_too or (last.way and items[at].kind in ("behind", "onward", "from")):
            ref = replace(ref, way_too=last.way_too or last.way) if joint == {"and"} and not ref.way else ref
        teeth.refs.append(ref)
        teeth.joints.append(frozenset(joint))
        teeth.alternative = teeth.alternative or "or" in joint
    teeth.refs = _spread(teeth.refs)
    return teeth, after


def _goes_on_with_on(items: Sequence[Item], first: int, at: int) -> bool:
    """``circunferencial en el 27 en el 14 y en el 16``: a list each tooth of which has its own preposition."""
    before = [item for item in items[max(0, first - 3) : first] if item.kind != "filler"][-2:]
    led = len(before) == 2 and before[1].kind == "on" and before[0].kind in ("retainer", "rest")
    rest = [item for item in items[at + 1 : at + 6] if item.kind != "filler"][:3]
    kinds = [item.kind for item in rest]
    return (
        led
        and kinds[:1] == ["number"]
        and kinds[1:2] in (["and"], ["on"])
        and kinds[1:] != ["and", "retainer"]
    )


def _is_led_alike(items: Sequence[Item], first: int, at: int, tokens: Sequence[Token]) -> bool:
    """``Implantate Regio 34 und Regio 44``, ``an implant in 37 and one in 47``: the preposition that leads a list of
    implants leads each of them."""
    before = [item for item in items[max(0, first - 3) : first] if item.kind != "filler"][-2:]
    led = bool(before) and (
        before[-1].path == "abutments.kind" or (len(before) > 1 and before[-2].path == "abutments.kind")
    )
    return led and (before[-1].kind == "on" or before[-1].path == "abutments.kind")


def _is_another(items: Sequence[Item], at: int, tokens: Sequence[Token]) -> bool:
    """Whether a word says only that one more of them follows ("und eines in 43", "y otro en 33")."""
    following = items[at + 1 : at + 2]
    one_more = bool({tokens[items[at].start].folded} & listed("one_more_implant"))
    return one_more and bool(following) and following[0].kind in ("on", "number", "filler")


def _opens_with_on(item: Item, tokens: Sequence[Token]) -> bool:
    """Whether a mention opens with a preposition of its own inside the words for its side or quadrant."""
    return item.kind in ("quadrant", "side") and tokens[item.start].folded in listed("opens_a_place")


def _led_by_article(item: Item, ref: Ref, tokens: Sequence[Token]) -> bool:
    """Whether an article or a pointer leads a mention that nothing joins to the one before ("16 el 23 lleva")."""
    led = {tokens[item.start].folded, tokens[max(0, ref.start - 1)].folded, tokens[ref.start].folded}
    return bool(led & listed("before_one_tooth"))


def _begins_clause(items: Sequence[Item], first: int, after: int, tokens: Sequence[Token]) -> bool:
    """Whether a verb of one tooth follows a mention, and words before the list already say what it is for."""
    before = next((one for one in reversed(items[:first]) if one.kind != "filler"), None)
    return _has_verb(items, after, tokens) and before is not None and before.kind == "on"


def _is_apart(
    items: Sequence[Item], first: int, following: tuple[Ref, int], tokens: Sequence[Token], numbered: bool
) -> bool:
    """Whether several teeth by name after numbers begin a clause: numbers of theirs, or a verb, stand behind them."""
    ref, after = following
    if not ref.many or after >= len(items):
        return False
    if numbered and tokens[items[after].start].folded in listed("plural_verbs"):
        return True  # what is said in the plural is said of these: a list would end with "and"
    led = next((one for one in reversed(items[:first]) if one.kind not in ("filler", "colon")), None)
    return led is not None and led.kind in ("role", "retainer", "rest") and items[after].kind == "number"


def _is_said_to_stand(items: Sequence[Item], after: int, tokens: Sequence[Token]) -> bool:
    """Whether words that say that a tooth stands follow it, or a verb of one tooth."""
    after = past(items, after, 1, ("filler",))
    return _has_verb(items, after, tokens) or (after < len(items) and is_role(items[after], "standing"))


def _has_verb(items: Sequence[Item], after: int, tokens: Sequence[Token]) -> bool:
    """Whether a verb of one tooth stands here."""
    return after < len(items) and tokens[items[after].start].folded in listed("singular_verbs")


def _spread(refs: list[Ref]) -> list[Ref]:
    """``4, 5, 6 upper right``, ``second premolar and first molar on the left``: a place said at the end of a list
    belongs to the bare digits, or to the names, before it too."""
    last = refs[-1]
    if all(ref.by_name for ref in refs) and any(ref.after for ref in refs):
        return _names_placed_behind(refs)
    if len(refs) > 2 and last.after and needs_place(refs[0]) and all(map(_is_place, refs)):
        return _placed_behind(refs)
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


def _names_placed_behind(refs: list[Ref]) -> list[Ref]:
    """``el segundo premolar y el primer molar derechos, y el primer izquierdo``: a side behind names is that of
    the names before it that have none."""
    made: list[Ref] = []
    place: Ref | None = None
    for ref in reversed(refs):
        if ref.quadrant or ref.side:
            place = ref if ref.after else None
        elif place is not None and not (ref.is_pair and not place.is_pair):
            ref = replace(
                ref, quadrant=place.quadrant, side=place.side, arch=ref.arch or place.arch
            )
        made.append(ref)
    return made[::-1]


def _is_place(ref: Ref) -> bool:
    """Whether a mention is a digit that counts from the midline, on a side or not."""
    return ref.number is not None and ref.number <= LAST_POSITION and not (ref.hashed or ref.compact)


def _placed_behind(refs: list[Ref]) -> list[Ref]:
    """``3 und 7 rechts und 4 und 7 links``: where the first list is placed behind its digits, so are those after it."""
    made: list[Ref] = []
    place = refs[-1]
    for ref in reversed(refs):
        place = ref if ref.after else place
        made.append(replace(ref, quadrant=place.quadrant, side=place.side, arch=place.arch))
    return made[::-1]


def _is_to(items: Sequence[Item], at: int, after: int, tokens: Sequence[Token]) -> bool:
    """Whether a preposition ends a range that "from" began ("de la 14 à la 24")."""
    begun = any(
        item.kind == "from" or tokens[item.start].folded == "de" for item in items[max(0, at - 2) : after]
    )
    return begun and items[after].kind == "on" and tokens[items[after].start].folded == "a"


def _led_by_plural(items: Sequence[Item], after: int, ref: Ref, tokens: Sequence[Token]) -> bool:
    """Whether the article of several teeth stands right before a digit that does not count what follows."""
    before = tokens[items[after - 1].start - 1].folded if items[after - 1].start else ""
    counts = after < len(items) and items[after].kind in ("word", "counted", "before", "name", "group")
    return before in listed("articles_of_several") and not counts


def _range(
    items: Sequence[Item], at: int, tokens: Sequence[Token], before: Ref | None
) -> tuple[Ref, int] | None:
    way = ""
    start = at
    while at < len(items) and items[at].kind in ("from", "behind", "onward"):
        way = way or (items[at].kind if items[at].kind != "from" else "")
        at += 1
    single = single_mention(items, at, tokens, before)
    if single is None:
        return None
    ref, after = single
    if way and ref.is_digit and tokens[items[after - 1].start - 1].folded in listed("articles_of_several"):
        ref = replace(ref, side="both")  # "derrière les 5"
    elif ref.is_digit and ref.number == LAST_POSITION and _led_by_plural(items, after, ref, tokens):
        ref = replace(ref, side="both")  # "les 8 n'ont jamais existé"
    if way or start != at:
        ref = replace(ref, start=items[start].start, way=way)
    to = after < len(items) and (items[after].kind == "to" or (_is_to(items, at, after, tokens)))
    if to and not way:
        end = single_mention(items, after + 1, tokens, ref)
        if end is not None and needs_place(ref):  # "4-6 right": the first of a range lies where its last does
            ref = replace(ref, quadrant=end[0].quadrant, side=end[0].side, arch=ref.arch or end[0].arch)
        if end is not None:
            return replace(ref, upto=end[0], end=end[0].end), end[1]
    if after < len(items) and items[after].kind == "onward" and not way:
        return replace(ref, way="onward", end=items[after].end), after + 1
    return ref, after
