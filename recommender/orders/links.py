"""Which teeth a sentence of an order says something of: statements, each with its words and its mentions of teeth."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

from recommender.orders.atoms import atoms_of
from recommender.orders.bars import ATTACHMENT
from recommender.orders.concepts import ALONE, Atom, is_concept
from recommender.orders.denials import stands_after
from recommender.orders.general_words import GENERIC, without_general_words
from recommender.orders.items import Item, is_role
from recommender.orders.phrasing import Element, Phrase, phrases_of
from recommender.orders.refs import Teeth

_HARD = ("hard", "stop")
PAST_BRACKETS = "the kind of clasp is named before the list"
APART = "ruled out in another part of the sentence than the teeth stand in"
ONLY_RESTS = "read of all the teeth that carry no clasp"
GOES_ON = "the kind of clasp is named with the tooth before"


@dataclass
class Statement:
    """What is said: the item that says it, of which teeth, denied or not, and what makes it a question."""

    item: Item
    teeth: list[Teeth] = field(default_factory=list)
    denied: bool = False
    doubt: str = ""
    covers: list[Item] = field(default_factory=list)
    heads: list[Item] = field(default_factory=list)
    mark: str = ""
    sentence: int = 0


def statements_of(items: Sequence[Item]) -> tuple[list[Statement], list[Teeth]]:
    """Every statement of an order, and the lists of teeth of which nothing is said."""
    found: list[Statement] = []
    idle: list[Teeth] = []
    for number, sentence in enumerate(_sentences(items)):
        made, left = _read(sentence)
        found += [replace(statement, sentence=number) for statement in made]
        idle += left
    return found, idle


def _sentences(items: Sequence[Item]) -> Iterator[list[Item]]:
    """Parts between semicolons, full stops and line breaks; a heading stays with the line below it."""
    parts: list[list[Item]] = [[]]
    for item in items:
        if item.kind in _HARD:
            parts.append([])
            if item.kind == "hard":
                parts[-1].append(Item("comma", item.start, item.end, ";"))
        elif item.kind == "line":
            held = [one for one in parts[-1] if one.kind not in ("filler", "mark", "arch")]
            if held and held[-1].kind in ("comma", "and"):
                continue
            if held and held[-1].kind == "colon" and not any(is_concept(one) for one in held):
                continue
            parts.append([])
        else:
            parts[-1].append(item)
            if item.kind == "unsure" and str(item.match and item.match.meanings[0].phrase).startswith("?"):
                parts.append([])
    parts = [_answered(parts[at - 1], part) if at else part for at, part in enumerate(parts)]
    parts = [_none_of(parts[at - 1], part) if at else part for at, part in enumerate(parts)]
    joined: list[list[Item]] = []
    listed = -1  # the part that a heading began, while lines with nothing but teeth go on
    for part in parts:
        only_concepts = bool(joined) and _only(joined[-1], concepts=True) and _only(part, concepts=False)
        goes_on = bool(joined) and part[:1] and part[0].value == ";" and _only_teeth(part)
        way_out = bool(joined) and len(part) > 1 and part[0].value == ";" and part[1].kind == "otherwise"
        first_list = (
            bool(joined)
            and part[:1]
            and part[0].value == ";"
            and _only(joined[-1], concepts=False)
            and any(item.kind == "role" and item.value == "missing" for item in part)
        )
        if way_out or first_list or (goes_on and any(item.kind == "role" for item in joined[-1])):
            joined[-1] = [*joined[-1], *part]
        elif bool(joined) and _only_refuses(part) and any(is_concept(one) or one.kind in ALONE for one in joined[-1]):
            joined[-1] = [*joined[-1], *(one for one in part if one.kind != "comma")]
        elif bool(joined) and _goes_with(joined[-1], part):
            joined[-1] = [*joined[-1], Item("comma", part[0].start, part[0].start, ","), *part]
        elif only_concepts:
            joined[-1] = [*joined[-1], Item("colon", part[0].start, part[0].start), *part]
            listed = len(joined) - 1
        elif listed == len(joined) - 1 and joined and _only(part, concepts=False):
            joined[-1] = [*joined[-1], Item("comma", part[0].start, part[0].start, ","), *part]
        else:
            joined.append(part)
    return iter(joined)


def _only_teeth(part: Sequence[Item]) -> bool:
    """Whether a part holds nothing but teeth and what joins them ("; 24, 25")."""
    quiet = {
        "teeth",
        "comma",
        "and",
        "or",
        "on",
        "from",
        "filler",
        "mark",
        "colon",
        "arch",
        "counted",
        "side",
        "only",
    }
    return _only(part, concepts=False) and {item.kind for item in part} <= quiet


def _only_refuses(part: Sequence[Item]) -> bool:
    """Whether a part says no more than that what was named before is not wanted ("; the patient declines it")."""
    kinds = [item.kind for item in part if item.kind not in ("filler", "mark", "comma", "and")]
    refusal = next((item for item in part if item.kind == "negation"), None)
    return kinds == ["negation"] and refusal is not None and stands_after(refusal)


def _goes_with(before: Sequence[Item], part: Sequence[Item]) -> bool:
    """Whether a part only goes on with what the one before it says."""
    more = _is_too(part) and any(is_concept(item) for item in before)
    return more or (_only_sites(part) and any(_speaks_of_rests(item) for item in before))


def _none_of(before: Sequence[Item], part: list[Item]) -> list[Item]:
    """``Nor on 14``, ``none on 33``: a part that only denies something of teeth denies the clasps named before it."""
    quiet = {"teeth", "comma", "and", "or", "nor", "filler", "mark", "on", "colon"}
    at = next((at for at, item in enumerate(part) if item.kind not in ("filler", "mark", "and", "comma")), 0)
    denies = bool(part) and part[at].kind in ("negation", "nor")
    rest = {item.kind for item in part[at + 1 :]}
    clasps = any(item.kind == "retainer" or is_role(item, "clasp", "nothing") for item in before)
    if not (denies and clasps and "teeth" in rest and rest <= quiet):
        return part
    first = part[at]
    none = Item("role", first.start, first.end, "nothing", first.match, extra={"guessed": True})
    return [*part[:at], none, *part[at + 1 :]]


def _is_too(part: Sequence[Item]) -> bool:
    """Whether a part only adds teeth to what was said before ("16 and 26 too")."""
    quiet = {item.kind for item in part} <= {"teeth", "comma", "and", "filler", "mark", "on", "also"}
    return quiet and any(item.kind == "teeth" for item in part) and any(item.kind == "also" for item in part)


def _only_sites(part: Sequence[Item]) -> bool:
    """Whether a part only names teeth and the sides of them ("3 mesial, 14 mesial")."""
    kinds = {item.kind for item in part}
    return {"teeth", "site"} <= kinds and kinds <= {
        "teeth",
        "site",
        "comma",
        "and",
        "filler",
        "mark",
        "on",
        "colon",
    }


def _speaks_of_rests(item: Item) -> bool:
    return item.kind == "rest" or is_role(item, "rest", "rest_seat")


def _answered(before: Sequence[Item], part: list[Item]) -> list[Item]:
    """``Akers on 11? No: I-bar``: the answer to a question denies what was asked, not what follows."""
    asked = bool(before) and before[-1].kind == "unsure"
    if asked and len(part) > 1 and part[0].kind == "negation" and part[1].kind in ("colon", "comma"):
        return part[2:]
    return part


def _only(part: Sequence[Item], concepts: bool) -> bool:
    """Whether a part holds nothing but concepts, or nothing but teeth."""
    has_concept = any(is_concept(item) for item in part)
    has_teeth = any(item.kind == "teeth" for item in part)
    alone = any(item.kind in ALONE or item.kind == "negation" for item in part)
    return not alone and (has_concept and not has_teeth if concepts else has_teeth and not has_concept)


def _read(sentence: Sequence[Item]) -> tuple[list[Statement], list[Teeth]]:
    atoms, heads = without_general_words(atoms_of(sentence))
    elements = _elements(atoms)
    phrases, doubtful = phrases_of(elements, _exclusive)
    statements: list[Statement] = []
    idle: list[Teeth] = []
    named: dict[int, Statement] = {}
    last: tuple[int, ...] = ()
    for phrase in phrases:
        teeth = _taken(elements, phrase.teeth)
        if phrase.concepts and phrase.teeth and elements[phrase.concepts[0]].denied:
            teeth.alternative = False  # "no clasp on 13 or 23, only rests": of both
        if phrase.goes_on:
            for index in last:
                named[index].teeth.append(teeth)
        elif not phrase.concepts and phrase.teeth:
            idle.append(teeth)
        for index in phrase.concepts:
            if _denied_after(elements, index - 1, phrase) and index - 1 in named:
                named[index - 1].denied = True  # "a clasp should not come on 13"
                named[index - 1].covers.append(elements[index].item)
                continue
            if _is_general(elements, index, phrase):
                heads.append(elements[index].item)
                continue
            made = _statement(elements[index], atoms, index in doubtful, heads, statements)
            if made is not None:
                made.teeth = [teeth] if phrase.teeth else []
                if _bans(made) and _across_comma(elements, index, phrase.teeth):
                    made.mark = made.mark or APART
                named[index] = made
                statements.append(made)
        if phrase.concepts and not phrase.teeth:
            _doubt_shared(elements, phrase, named)
        _shared_past_rests(elements, phrase, [named[index] for index in last], teeth)
        _rests_past_nor(elements, phrase, [named[index] for index in last], named)
        last = tuple(i for i in phrase.concepts if i in named and not elements[i].bracketed) or last
    _held_in_front(statements)
    statements += [
        Statement(atom.item, [], atom.denied, atom.doubt, _covers(atom), heads)
        for atom in atoms
        if atom.kind == "alone" and not atom.dropped
    ]
    return statements, idle


def _held_in_front(statements: Sequence[Statement]) -> None:
    """``an attachment distal of 14, which is crowned``: what is said beside it is said of the tooth that holds it."""
    for statement in statements:
        if statement.item.value == ATTACHMENT:
            for teeth in statement.teeth:
                teeth.refs = [
                    replace(ref, way="", way_too="") if "behind" in (ref.way, ref.way_too) else ref
                    for ref in teeth.refs
                ]


def _shared_past_rests(
    elements: Sequence[Element], phrase: Phrase, before: Sequence[Statement], teeth: Teeth
) -> None:
    """``Akers: 16 (mesial rest), 14 (distal rest)``, ``Akers on 16 and on 14 with a distal rest``: the kind before the
    list holds for each tooth with its rest in brackets, or that has a preposition of its own and a rest with "with"."""
    rests = bool(phrase.concepts) and all(
        elements[index].item.kind in ("rest", "site") and not elements[index].denied for index in phrase.concepts
    )
    if not (rests and phrase.teeth and phrase.teeth[0] < phrase.concepts[0]):
        return
    joint, led = elements[phrase.teeth[0]].before, elements[phrase.concepts[0]].before
    bracketed = all(elements[index].bracketed for index in phrase.concepts)
    goes_on = "on" in joint and "on" in led and not led & {"comma", "and"}
    if not (joint & {"and", "comma"} and (bracketed or goes_on)):
        return
    for one in before:
        if one.item.kind == "retainer" and one.teeth and one.item.end <= one.teeth[0].start and not one.denied:
            one.teeth.append(teeth)
            one.mark = one.mark or (PAST_BRACKETS if bracketed else GOES_ON)


def _rests_past_nor(
    elements: Sequence[Element], phrase: Phrase, before: Sequence[Statement], named: dict[int, Statement]
) -> None:
    """``no clasp on 13 nor on 23, only cingulum rests``: the rests are those of all teeth without a clasp."""
    here = [index for index in phrase.concepts if index in named]
    if not phrase.teeth or not here or elements[here[0]].item.kind != "nor":
        return
    barred = [one for one in before if one.denied and one.teeth and is_role(one.item, "clasp")]
    rests = [named[index] for index in here[1:] if elements[index].item.kind in ("rest", "site", "retainer")]
    if len(barred) != len(before) or not all(_is_rest(one) and not one.denied for one in rests):
        return
    for rest in rests:
        rest.teeth = [*(teeth for one in barred for teeth in one.teeth), *rest.teeth]
        rest.mark = rest.mark or ONLY_RESTS


def _bans(one: Statement) -> bool:
    clasp = one.item.kind == "retainer" or is_role(one.item, "clasp")
    return (one.denied and clasp) or is_role(one.item, "nothing")


def _across_comma(elements: Sequence[Element], index: int, teeth: Sequence[int]) -> bool:
    """Whether a comma parts a concept from its teeth ("34 distal rest, no clasp")."""
    if not teeth:
        return False
    first, last = (teeth[-1], index) if teeth[-1] < index else (index, teeth[0])
    return any("comma" in elements[place].before for place in range(first + 1, last + 1))


def _is_rest(one: Statement) -> bool:
    return one.item.kind in ("rest", "site") or one.item.value == "rest_only"


def _doubt_shared(elements: Sequence[Element], phrase: Phrase, named: dict[int, Statement]) -> None:
    """``31 and 27: circumferential and RPA``: a concept left over beside one of its kind leaves open which is whose."""
    first = phrase.concepts[0]
    before = named.get(first - 1)
    alike = before is not None and before.item.kind == elements[first].item.kind == "retainer"
    if before is not None and alike and "and" in elements[first].before and before.teeth:
        before.doubt = named[first].doubt = "which of them on which tooth?"


def _denied_after(elements: Sequence[Element], index: int, phrase: Phrase) -> bool:
    """Whether a negation stands between a concept and the teeth of its phrase, which then says it of them, denied."""
    following = index + 1
    if index not in phrase.concepts or elements[index].item.kind in ("negation", "nor"):
        return False
    negated = following in phrase.concepts and elements[following].item.kind in ("negation", "nor")
    return (
        negated
        and bool(phrase.teeth)
        and phrase.teeth[0] > index
        and "comma" not in elements[following].before
    )


def _is_general(elements: Sequence[Element], index: int, phrase: Phrase) -> bool:
    """Whether a concept is the general word of a phrase that names the kind too ("clasp 13: I-bar")."""
    item = elements[index].item
    general = item.kind == "role" and not elements[index].denied
    kinds = GENERIC.get(str(item.value), ()) if general else ()
    return any(elements[other].item.kind in kinds for other in phrase.concepts if other != index)


def _elements(atoms: Sequence[Atom]) -> list[Element]:
    """Atoms as elements: each mention of a list apart; a negation right before teeth is a concept of its own."""
    made: list[Element] = []
    for atom in atoms:
        if atom.dropped:
            continue
        if atom.kind != "teeth":
            made.append(
                Element(
                    atom.kind,
                    atom.item,
                    frozenset(atom.before),
                    None,
                    _is_free(atom),
                    atom.denied,
                    atom.bracketed,
                )
            )
            continue
        teeth: Teeth = atom.item.value
        before = frozenset(atom.before | ({"on"} if atom.item.extra.get("led") else set()))
        if atom.denied and atom.denial is not None:
            made.append(Element("concept", atom.denial, before - {"on", "negation"}))
            before = frozenset({"on"})
        for place, (ref, joint) in enumerate(zip(teeth.refs, teeth.joints, strict=True)):
            is_last = place == len(teeth.refs) - 1
            made.append(
                Element(
                    "teeth", atom.item, before if place == 0 else joint, ref, talked=atom.talked and is_last
                )
            )
    return made


def _is_free(atom: Atom) -> bool:
    """Whether a concept may well stand without teeth."""
    return atom.denied or atom.item.kind == "replacement" or atom.item.path.startswith("spans.")


def _taken(elements: Sequence[Element], places: Sequence[int]) -> Teeth:
    refs = [elements[place].ref for place in places]
    joints = [elements[place].before for place in places]
    alternative = any("or" in joint for joint in joints[1:]) or any(
        elements[place].item.value.doubtful for place in places
    )
    minus = next(
        (elements[place].item.value.minus for place in places if elements[place].item.value.minus), None
    )
    upto = any(elements[place].item.value.upto for place in places)
    return Teeth([ref for ref in refs if ref is not None], joints, alternative, minus, upto=upto)


def _statement(
    element: Element, atoms: Sequence[Atom], doubtful: bool, heads: list[Item], before: Sequence[Statement]
) -> Statement | None:
    """The statement of one concept; a bare negation denies the last kind that was named ("…, not on 23")."""
    item = element.item
    if item.kind in ("negation", "nor"):
        named = next((one for one in reversed(before) if one.item.kind not in ("fact", "heading")), None)
        return None if named is None else Statement(named.item, [], True, "", [named.item, item], heads)
    atom = next(one for one in atoms if one.item is item)
    mark = "which teeth belong to which words was read from their order" if doubtful else ""
    return Statement(item, [], atom.denied, atom.doubt, _covers(atom), heads, mark)


def _covers(atom: Atom) -> list[Item]:
    return [atom.item, *([atom.denial] if atom.denial else [])]


def _exclusive(one: Element, other: Element) -> bool:
    """Whether two concepts cannot hold of one tooth: two kinds of clasp, two figures of one space, asked for and ruled
    out, missing and held."""
    first, second = one.item, other.item
    if first.path == second.path and first.path.startswith("spans.") and first.value != second.value:
        return True  # "knife-edge on the right (45, 46), on the left (35, 36) firm"
    if one.denied != other.denied and "rest_only" in (first.value, second.value):
        return False
    if any(is_role(item, "nothing") for item in (first, second)) and "rest_only" in (
        first.value,
        second.value,
    ):
        return False
    grips = [
        item.kind in ("retainer", "unsettled") or is_role(item, "clasp", "nothing")
        for item in (first, second)
    ]
    if all(grips) and (one.denied != other.denied or first.kind == second.kind == "retainer"):
        return one.denied != other.denied or bool(first.value != second.value)
    if any(is_role(item, "nothing") for item in (first, second)):
        return any(grips) and all(grips)
    gone = any(is_role(item, "missing", "absent", "free_end") for item in (first, second))
    if gone and any(is_role(item, "standing") for item in (first, second)):
        return True
    carried = any(
        item.kind in ("retainer", "rest") or is_role(item, "clasp") or item.path.startswith("abutments.")
        for item in (first, second)
    )
    return gone and carried
