"""Which teeth a sentence of an order says something of: statements, each with its words and its mentions of teeth.

A concept takes the teeth beside it: "I-bar #5, circumferential 12 & 15" reads forward, "14 I-bar, 24 circumferential"
backward; "on", a colon and commas tell which. A negation reaches the concepts that follow it up to the next comma.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

from recommender.orders.items import Item
from recommender.orders.phrasing import Element, Phrase, phrases_of
from recommender.orders.refs import Teeth

_HARD = ("hard", "stop")
_DENIES_BACK = frozenset({"not", "never", "nicht", "nie", "niemals", "pas", "jamais", "nunca", "bitte nicht"})
_TALK = frozenset({"word", "heading", "fact", "measure", "negation", "name", "number", "site"})
# Concepts that stand by themselves.
ALONE = ("connector", "alloy")
_GENERIC = {"clasp": ("retainer", "unsettled"), "rest": ("rest",), "rest_seat": ("rest",)}


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


@dataclass
class _Atom:
    item: Item
    kind: str  # concept | teeth | alone
    before: set[str] = field(default_factory=set)
    denied: bool = False
    doubt: str = ""
    dropped: bool = False
    talked: bool = False
    bracketed: bool = False
    denial: Item | None = None


def statements_of(items: Sequence[Item]) -> tuple[list[Statement], list[Teeth]]:
    """Every statement of an order, and the lists of teeth of which nothing is said."""
    found: list[Statement] = []
    idle: list[Teeth] = []
    for number, sentence in enumerate(_sentences(items)):
        made, left = _read(sentence)
        found += [replace(statement, sentence=number) for statement in made]
        idle += left
    return found, idle


def is_concept(item: Item) -> bool:
    """Whether an item says something of teeth."""
    if item.kind == "unsettled":
        return not str(item.value).startswith(ALONE)
    if item.kind == "fact":
        return item.path.startswith(("abutments.", "spans."))
    if item.kind == "heading":
        return _is_abutment(item)
    return item.kind in ("role", "retainer", "replacement", "rest", "site")


def _is_abutment(item: Item) -> bool:
    return item.match is not None and any(
        one.kind == "heading" and one.identifier == "abutments.tooth" for one in item.match.meanings
    )


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
            if held and held[-1].kind in ("colon", "comma", "and"):
                continue
            parts.append([])
        else:
            parts[-1].append(item)
            if item.kind == "unsure" and str(item.match and item.match.meanings[0].phrase).startswith("?"):
                parts.append([])
    joined: list[list[Item]] = []
    for part in parts:
        only_concepts = bool(joined) and _only(joined[-1], concepts=True) and _only(part, concepts=False)
        goes_on = bool(joined) and part[:1] and part[0].value == ";" and _only(part, concepts=False)
        if goes_on and any(item.kind == "role" for item in joined[-1]):
            joined[-1] = [*joined[-1], *part]
        elif only_concepts:
            joined[-1] = [*joined[-1], Item("colon", part[0].start, part[0].start), *part]
        else:
            joined.append(part)
    return iter(joined)


def _only(part: Sequence[Item], concepts: bool) -> bool:
    """Whether a part holds nothing but concepts, or nothing but teeth."""
    has_concept = any(is_concept(item) for item in part)
    has_teeth = any(item.kind == "teeth" for item in part)
    alone = any(item.kind in ALONE or item.kind == "negation" for item in part)
    return not alone and (has_concept and not has_teeth if concepts else has_teeth and not has_concept)


def _read(sentence: Sequence[Item]) -> tuple[list[Statement], list[Teeth]]:
    atoms, heads = _heads(_atoms(sentence))
    elements = _elements(atoms)
    phrases, doubtful = phrases_of(elements, _exclusive)
    statements: list[Statement] = []
    idle: list[Teeth] = []
    named: dict[int, Statement] = {}
    last: tuple[int, ...] = ()
    for phrase in phrases:
        teeth = _taken(elements, phrase.teeth)
        if phrase.goes_on:
            for index in last:
                named[index].teeth.append(teeth)
        elif not phrase.concepts and phrase.teeth:
            idle.append(teeth)
        for index in phrase.concepts:
            if _is_general(elements, index, phrase):
                heads.append(elements[index].item)
                continue
            made = _statement(elements[index], atoms, index in doubtful, heads, statements)
            if made is not None:
                made.teeth = [teeth] if phrase.teeth else []
                named[index] = made
                statements.append(made)
        last = tuple(i for i in phrase.concepts if i in named and not elements[i].bracketed) or last
    statements += [
        Statement(atom.item, [], atom.denied, atom.doubt, _covers(atom), heads)
        for atom in atoms
        if atom.kind == "alone" and not atom.dropped
    ]
    return statements, idle


def _is_general(elements: Sequence[Element], index: int, phrase: Phrase) -> bool:
    """Whether a concept is the general word of a phrase that names the kind too ("clasp 13: I-bar")."""
    item = elements[index].item
    kinds = _GENERIC.get(str(item.value), ()) if item.kind == "role" else ()
    return any(elements[other].item.kind in kinds for other in phrase.concepts if other != index)


def _elements(atoms: Sequence[_Atom]) -> list[Element]:
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
        before = frozenset(atom.before)
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


def _is_free(atom: _Atom) -> bool:
    """Whether a concept may well stand without teeth."""
    return atom.denied or atom.item.kind == "replacement" or atom.item.path.startswith("spans.")


def _taken(elements: Sequence[Element], places: Sequence[int]) -> Teeth:
    refs = [elements[place].ref for place in places]
    joints = [elements[place].before for place in places]
    alternative = any("or" in joint for joint in joints[1:])
    return Teeth([ref for ref in refs if ref is not None], joints, alternative)


def _statement(
    element: Element, atoms: Sequence[_Atom], doubtful: bool, heads: list[Item], before: Sequence[Statement]
) -> Statement | None:
    """The statement of one concept; a bare negation denies the last kind that was named ("…, not on 23")."""
    item = element.item
    if item.kind in ("negation", "nor"):
        named = next((one for one in reversed(before) if one.item.kind not in ("fact", "heading")), None)
        return None if named is None else Statement(named.item, [], True, "", [named.item, item], heads)
    atom = next(one for one in atoms if one.item is item)
    mark = "which teeth belong to which words was read from their order" if doubtful else ""
    return Statement(item, [], atom.denied, atom.doubt, _covers(atom), heads, mark)


def _covers(atom: _Atom) -> list[Item]:
    return [atom.item, *([atom.denial] if atom.denial else [])]


def _atoms(sentence: Sequence[Item]) -> list[_Atom]:
    atoms: list[_Atom] = []
    between: set[str] = set()
    denial: Item | None = None
    instead = False
    has_rest = any(_is_rest(item) for item in sentence)
    seats = any(item.kind == "role" and item.value == "rest_seat" for item in sentence)
    outside: tuple[set[str], int] | None = None
    conditional = False
    aside = False
    for place, item in enumerate(sentence):
        kind = "teeth" if item.kind == "teeth" else "concept" if is_concept(item) else ""
        kind = "alone" if item.kind in ALONE or (item.kind == "unsettled" and not kind) else kind
        if item.kind == "site" and (not has_rest or _names_another(sentence, place)):
            kind = ""
        if not kind:
            if item.kind == "negation":
                if _reaches_nothing(sentence, place):
                    if atoms and atoms[-1].kind == "teeth" and "comma" not in between:
                        none = Item(
                            "role", item.start, item.end, "nothing", item.match
                        )  # "13 I-bar, 23 none"
                        atoms.append(_Atom(none, "concept", between - {"negation"}))
                        between = set()
                    elif _denies_back(item):
                        _deny_last(atoms, item)
                else:
                    denial = item
            elif item.kind == "nor":
                denial = item
            elif (
                item.kind == "or"
                and atoms
                and _unknown_follows(sentence, place)
                and atoms[-1].kind != "teeth"
            ):
                atoms[-1].doubt = "one or the other?"
            elif item.kind == "condition":
                conditional = True
            elif item.kind == "instead":
                instead = True
            elif item.kind in ("comma", "to"):
                denial = None
            elif item.kind == "unsure" and atoms and str(item.value) != "before":
                _doubt_nearest(atoms, sentence, place)
            between.add(item.kind)
            aside = aside or item.kind in ("word", "heading") or _is_material(item)
            if item.kind in ("negation", "nor"):
                aside = False
            if item.kind == "open":
                outside = ({*between} - {"open"}, len(atoms))
            elif item.kind == "close" and outside is not None:
                between = (
                    {*outside[0], "aside"} if outside[1] == len(atoms) else between
                )  # a remark in brackets
                outside = None
            if atoms and "comma" not in between and item.kind in _TALK and outside is None:
                atoms[-1].talked = True
            continue
        if seats and item.kind in ("site", "rest"):
            item.extra["seat"] = True
        if conditional:
            continue
        atom = _Atom(item, kind, between, dropped=instead and kind != "teeth", bracketed=outside is not None)
        if denial is not None and kind == "teeth" and aside and "negation" in between:
            between, denial = {"comma"}, None  # "no metal on 23": neither said nor denied of a clasp
            continue
        if denial is not None and not _reaches(atoms, atom):
            denial = None
        aside = False
        if denial is not None:
            atom.denied, atom.denial = True, denial
            if kind == "teeth":
                denial = None
        if "or" in between and atoms and not atom.denied and kind != "teeth" and atoms[-1].kind == kind:
            atom.doubt = atoms[-1].doubt = "one or the other?"
        if kind == "teeth" and item.value.alternative and not atom.denied:
            atom.doubt = "which of them?"
        atoms.append(atom)
        between, instead = set(), False
    return atoms


def _is_material(item: Item) -> bool:
    """Whether a word names metal or another material ("no metal on 23" is not "not on 23")."""
    return item.match is not None and any(
        one.kind == "heading" and one.identifier == "prescription.alloy" for one in item.match.meanings
    )


def _reaches(atoms: Sequence[_Atom], atom: _Atom) -> bool:
    """Whether a negation goes on to this atom: it is the first after it, or joined to the one denied before."""
    if not atoms or atoms[-1].denial is None or "negation" in atom.before or "nor" in atom.before:
        return True
    if atom.kind == "teeth":
        return False
    general = atoms[-1].item.kind == "role" and atom.item.kind in ("retainer", "unsettled")
    return bool(atom.before & {"or", "and", "nor"}) or (general and not atom.before - {"filler"})


def _is_rest(item: Item) -> bool:
    return item.kind == "rest" or (item.kind == "role" and item.value in ("rest", "rest_seat"))


def _names_another(sentence: Sequence[Item], place: int) -> bool:
    """Whether a side belongs to the noun after it ("distal guide plate") and not to a rest."""
    following = sentence[place + 1] if place + 1 < len(sentence) else None
    return following is not None and following.kind in ("word", "heading", "fact", "retainer")


def _reaches_nothing(sentence: Sequence[Item], place: int) -> bool:
    """Whether a negation has neither concept nor teeth after it before the next comma: it denies what went before."""
    for item in sentence[place + 1 :]:
        if item.kind == "comma":
            return True
        if item.kind in ("teeth", *ALONE, "fact", "unsettled") or is_concept(item):
            return False
    return True


def _unknown_follows(sentence: Sequence[Item], place: int) -> bool:
    """Whether the word after a joint is one that the lexicon does not know."""
    following = next((item for item in sentence[place + 1 :] if item.kind != "filler"), None)
    return following is not None and following.kind in ("word", "heading")


def _denies_back(denial: Item) -> bool:
    """Whether a negation may stand after what it denies ("clasp on 23 not", but never "clear of the gum")."""
    return denial.match is not None and any(one.phrase in _DENIES_BACK for one in denial.match.meanings)


def _deny_last(atoms: list[_Atom], denial: Item) -> None:
    for atom in reversed(atoms):
        if atom.kind != "teeth":
            atom.denied, atom.denial = True, denial
            return


def _doubt_nearest(atoms: list[_Atom], sentence: Sequence[Item], place: int) -> None:
    """A question mark doubts the concept before it; a word of doubt the one that follows, else the one before."""
    marked = next((atom for atom in reversed(atoms) if atom.kind != "teeth"), None)
    if marked is not None:
        marked.doubt = "is this meant? It is stated with doubt"


def _heads(atoms: list[_Atom]) -> tuple[list[_Atom], list[Item]]:
    """Without the general words ("clasps:", "rests:") where the sentence names the kind; and those words."""
    heads: list[Item] = []
    kinds = {atom.item.kind for atom in atoms}
    sited = "site" in kinds or "rest" in kinds
    made: list[_Atom] = []
    for index, atom in enumerate(atoms):
        general = atom.item.kind == "role" and str(atom.item.value) in _GENERIC
        if general and not atom.denied:
            value = str(atom.item.value)
            specific = [
                other for other in atoms
                if other.item.kind in _GENERIC[value] or (value in ("rest", "rest_seat") and other.item.kind == "site")
            ]  # fmt: skip
            before = atoms[index - 1] if index and "comma" not in atom.before else None
            after = (
                atoms[index + 1]
                if index + 1 < len(atoms) and "comma" not in atoms[index + 1].before
                else None
            )
            beside = [one for one in (before, after) if one is not None and one in specific]
            headed = index == 0 and len(specific) > 0
            if (value in ("rest", "rest_seat") and sited) or beside or headed:
                following = atoms[index + 1] if index + 1 < len(atoms) else None
                if following is not None:
                    following.before = (following.before | atom.before) - ({"colon"} if headed else set())
                heads.append(atom.item)
                continue
        if _is_kind_of(atoms, index):
            heads.append(atom.item)
            continue
        made.append(atom)
    return made, heads


def _is_kind_of(atoms: Sequence[_Atom], index: int) -> bool:
    """Whether a general term only describes the retainer named right after it ("gingivally approaching I-bar")."""
    value = str(atoms[index].item.value)
    following = atoms[index + 1] if index + 1 < len(atoms) else None
    return (
        atoms[index].item.kind == "unsettled"
        and following is not None
        and following.item.kind == "retainer"
        and following.item.value in value.partition(":")[2].split("|")
        and "comma" not in following.before
    )


def _exclusive(one: Element, other: Element) -> bool:
    """Whether two concepts cannot hold of one tooth: two kinds of clasp, asked for and ruled out, missing and held."""
    first, second = one.item, other.item
    grips = [
        item.kind in ("retainer", "unsettled") or _is_role(item, "clasp", "nothing")
        for item in (first, second)
    ]
    if all(grips) and (one.denied != other.denied or first.kind == second.kind == "retainer"):
        return one.denied != other.denied or bool(first.value != second.value)
    if any(_is_role(item, "nothing") for item in (first, second)):
        return any(grips) and all(grips)
    gone = any(_is_role(item, "missing", "absent") for item in (first, second))
    carried = any(
        item.kind in ("retainer", "rest") or _is_role(item, "clasp") or item.path.startswith("abutments.")
        for item in (first, second)
    )
    return gone and carried


def _is_role(item: Item, *roles: str) -> bool:
    return item.kind == "role" and item.value in roles
