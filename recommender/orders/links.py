"""Which teeth a sentence of an order says something of: statements, each with its words and its mentions of teeth.

A concept takes the teeth beside it: "I-bar #5, circumferential 12 & 15" reads forward, "14 I-bar, 24 circumferential"
backward; "on", a colon and commas tell which. A negation reaches the concepts that follow it up to the next comma.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

from recommender.orders.items import Item
from recommender.orders.refs import Teeth

_HARD = ("hard", "stop")
_DENIES_BACK = frozenset({"not", "never", "nicht", "nie", "niemals", "pas", "jamais", "nunca", "bitte nicht"})
_TALK = frozenset({"word", "heading", "fact", "measure", "negation", "name", "number", "site"})
# Concepts that stand by themselves.
ALONE = ("connector", "alloy")
_GENERIC = {"clasp": ("retainer", "unsettled"), "rest": ("rest",), "rest_seat": ("rest",)}
# What a link costs: commas and talk between, a pattern that is broken, a list that nothing is said of; "on", a colon
# and brackets bind. Chosen so that each kind of sentence in the tests reads as a person reads it.
_FAR, _COMMA, _ON, _COLON, _LONELY, _PATTERN, _AND = 99.0, 2.0, 1.5, 0.6, 3.0, 1.0, 0.4
_BRACKET, _TALKED = 2.0, 0.8
_LOUD = frozenset({"word", "negation", "heading"})


@dataclass
class Statement:
    """What is said: the item that says it, of which teeth, denied or not, and what makes it a question."""

    item: Item
    teeth: list[Teeth] = field(default_factory=list)
    denied: bool = False
    doubt: str = ""
    covers: list[Item] = field(default_factory=list)
    heads: list[Item] = field(default_factory=list)
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
    owners = _owned(atoms)
    statements: list[Statement] = []
    taken: set[int] = set()
    for index, atom in enumerate(atoms):
        if atom.kind == "teeth" or atom.dropped:
            continue
        teeth = [atoms[owner].item.value for owner in owners.get(index, ())]
        taken |= set(owners.get(index, ()))
        covers = [atom.item, *([atom.denial] if atom.denial else [])]
        statements.append(Statement(atom.item, teeth, atom.denied, atom.doubt, covers, heads))
    statements = _split_conflicts(statements)
    statements += _denied_teeth(atoms, owners)
    idle = [
        atom.item.value
        for index, atom in enumerate(atoms)
        if atom.kind == "teeth" and index not in taken and not atom.denied
    ]
    return statements, idle


def _atoms(sentence: Sequence[Item]) -> list[_Atom]:
    atoms: list[_Atom] = []
    between: set[str] = set()
    denial: Item | None = None
    instead = False
    has_rest = any(_is_rest(item) for item in sentence)
    seats = any(item.kind == "role" and item.value == "rest_seat" for item in sentence)
    outside: tuple[set[str], int] | None = None
    for place, item in enumerate(sentence):
        kind = "teeth" if item.kind == "teeth" else "concept" if is_concept(item) else ""
        kind = "alone" if item.kind in ALONE or (item.kind == "unsettled" and not kind) else kind
        if item.kind == "site" and (not has_rest or _names_another(sentence, place)):
            kind = ""
        if not kind:
            if item.kind == "negation":
                if _reaches_nothing(sentence, place):
                    if _denies_back(item):
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
            elif item.kind == "instead":
                instead = True
            elif item.kind in ("comma", "to"):
                denial = None
            elif item.kind == "unsure" and atoms and str(item.value) != "before":
                _doubt_nearest(atoms, sentence, place)
            between.add(item.kind)
            if item.kind == "open":
                outside = ({*between} - {"open"}, len(atoms))
            elif item.kind == "close" and outside is not None and outside[1] == len(atoms):
                between = outside[0]  # a remark in brackets
                outside = None
            if atoms and "comma" not in between and item.kind in _TALK and outside is None:
                atoms[-1].talked = True
            continue
        if seats and item.kind in ("site", "rest"):
            item.extra["seat"] = True
        atom = _Atom(item, kind, between, dropped=instead and kind != "teeth")
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


def _owned(atoms: Sequence[_Atom]) -> dict[int, tuple[int, ...]]:
    """For every concept the list of teeth that it takes, as indices of atoms."""
    teeth = [index for index, atom in enumerate(atoms) if atom.kind == "teeth"]
    concepts = [index for index, atom in enumerate(atoms) if atom.kind == "concept"]
    if not teeth or not concepts:
        return {}
    ordered = sorted([*teeth, *concepts])
    lead = 0.0
    if ordered[0] in concepts and ordered[-1] in teeth:
        lead = _PATTERN
    elif ordered[0] in teeth and ordered[-1] in concepts:
        lead = -_PATTERN
    owners: dict[int, tuple[int, ...]] = {}
    has_owner: set[int] = set()
    for run in _runs(atoms, concepts, teeth):
        left = max((one for one in teeth if one < run[0]), default=None)
        right = min((one for one in teeth if one > run[-1]), default=None)
        best, split = _FAR * len(run), 0
        for count in range(len(run) + 1):
            cost = sum(_cost_left(atoms, left, index) + lead / 2 for index in run[:count])
            cost += sum(_cost_right(atoms, index, right) - lead / 2 for index in run[count:])
            if left is not None and left not in has_owner and count == 0:
                cost += _LONELY
            if right is not None and count == len(run) and not any(one > right for one in concepts):
                cost += _LONELY
            if cost < best:
                best, split = cost, count
        for place, index in enumerate(run):
            owner = left if place < split else right
            if owner is not None:
                owners[index] = (owner,)
                has_owner.add(owner)
    for index in teeth:
        before = max((one for one in concepts if one < index), default=None)
        joined = {"comma", "and"} & atoms[index].before
        if index in has_owner or before is None or atoms[index].talked or atoms[index].denied:
            continue
        if not joined or atoms[index].before & _LOUD:
            continue
        owners[before] = (*owners.get(before, ()), index)  # "14, 15 missing, 24": the list goes on
    return owners


def _runs(atoms: Sequence[_Atom], concepts: Sequence[int], teeth: Sequence[int]) -> Iterator[list[int]]:
    run: list[int] = []
    for index in sorted([*concepts, *teeth]):
        if index in teeth:
            if run:
                yield run
            run = []
        else:
            run.append(index)
    if run:
        yield run


def _cost_left(atoms: Sequence[_Atom], left: int | None, index: int) -> float:
    if left is None:
        return _FAR
    between = set().union(*(atoms[one].before for one in range(left + 1, index + 1)))
    cost = _COMMA * ("comma" in between) + _AND * ("and" in between) - _COLON * ("colon" in between)
    cost -= _BRACKET * ("open" in between and "close" not in between)
    return cost + _AND * (index - left - 1) + _TALKED * len(between & _LOUD)


def _cost_right(atoms: Sequence[_Atom], index: int, right: int | None) -> float:
    if right is None:
        return _FAR
    between = set().union(*(atoms[one].before for one in range(index + 1, right + 1)))
    cost = _COMMA * ("comma" in between) - _ON * ("on" in atoms[right].before) - _COLON * ("colon" in between)
    cost += _BRACKET * ("close" in between)
    return cost + _AND * (right - index - 1) + _TALKED * len(between & _LOUD)


def _split_conflicts(statements: list[Statement]) -> list[Statement]:
    """``I-bar 14, 24 circumferential``: kinds that exclude each other part the list between them at its last comma."""
    shared = {id(teeth): teeth for statement in statements for teeth in statement.teeth}
    for teeth in shared.values():
        users = [one for one in statements if len(one.teeth) == 1 and one.teeth[0] is teeth]
        leading = [one for one in users if one.item.end <= teeth.start]
        trailing = [one for one in users if one.item.start >= teeth.end]
        clash = [(a, b) for a in leading for b in trailing if _exclusive(a.item, b.item)]
        if not clash:
            continue
        cuts = [index for index, comma in enumerate(teeth.comma_before) if comma]
        alike = all(a.item.kind == b.item.kind or "nothing" in (a.item.value, b.item.value) for a, b in clash)
        if not cuts and alike and len(teeth.refs) > 1:
            cuts = [len(teeth.refs) - 1]
        if cuts:
            first = Teeth(teeth.refs[: cuts[-1]], teeth.comma_before[: cuts[-1]])
            last = Teeth(teeth.refs[cuts[-1] :], [False, *teeth.comma_before[cuts[-1] + 1 :]])
            for one in leading:
                one.teeth = [first]
            for one in trailing:
                one.teeth = [last]
    return statements


def _exclusive(first: Item, second: Item) -> bool:
    if first.kind == second.kind == "retainer":
        return bool(first.value != second.value)
    kinds = {first.kind, second.kind}
    roles = {item.value for item in (first, second) if item.kind == "role"}
    if "nothing" in roles:
        return True
    carried = bool(kinds & {"retainer", "rest"}) or "clasp" in roles
    carried = carried or any(item.path.startswith("abutments.") for item in (first, second))
    return bool(roles & {"missing", "absent"}) and carried


def _denied_teeth(atoms: Sequence[_Atom], owners: dict[int, tuple[int, ...]]) -> list[Statement]:
    """``clasps on 14 and 24, not on 23``: the negation before teeth denies the last kind named for them."""
    found: list[Statement] = []
    for index, atom in enumerate(atoms):
        if atom.kind != "teeth" or not atom.denied or any(index in owned for owned in owners.values()):
            continue
        named = next(
            (one for one in reversed(atoms[:index]) if one.kind == "concept" and not one.denied), None
        )
        if named is not None:
            covers = [named.item, *([atom.denial] if atom.denial else [])]
            found.append(Statement(named.item, [atom.item.value], True, "", covers))
    return found
