"""Which teeth a sentence of an order says something of: statements, each with its words and its mentions of teeth."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from recommender.orders.atoms import atoms_of
from recommender.orders.bars import ATTACHMENT
from recommender.orders.concepts import Atom
from recommender.orders.general_words import GENERIC, without_general_words
from recommender.orders.items import Item, is_role
from recommender.orders.phrasing import Element, Phrase, phrases_of
from recommender.orders.refs import Teeth
from recommender.orders.sentences import sentences

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
    for number, sentence in enumerate(sentences(items)):
        made, left = _read(sentence)
        found += [replace(statement, sentence=number) for statement in made]
        idle += left
    return found, idle


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
    if is_role(first, "free_end", "absent") and is_role(second, "free_end", "absent"):
        return bool(first.value != second.value)
    gone = any(is_role(item, "missing", "absent", "free_end") for item in (first, second))
    if gone and any(is_role(item, "standing") for item in (first, second)):
        return True
    carried = any(
        item.kind in ("retainer", "rest") or is_role(item, "clasp") or item.path.startswith("abutments.")
        for item in (first, second)
    )
    return gone and carried
