"""What an order says of the opposing arch: "full upper against it", "the lowers are her own teeth".

An arch word beside the state of a dentition, in a sentence that orders nothing there, speaks of the opposing arch; it
then no longer counts as a word for the arch that is ordered.
"""

from collections.abc import Sequence

from recommender.domain import lexicon as lx
from recommender.domain.dentition import arch_of, is_tooth
from recommender.orders.items import SENTENCE, Item
from recommender.orders.refs import LAST_POSITION
from recommender.orders.vocabulary import as_written

_OTHER = {"maxilla": "mandible", "mandible": "maxilla"}
# What orders something, so that the sentence speaks of the arch in hand.
_ORDERS = ("retainer", "rest", "connector", "unsettled", "replacement", "number", "name", "group", "relative")
_ORDERING_ROLES = (
    "missing",
    "absent",
    "standing",
    "extraction",
    "clasp",
    "rest",
    "free_end",
    "doubtful",
    "last",
)
_WITHIN = ("filler", "mark", "colon", "on", "all", "counted")
OPPOSING = "occlusion.opposing"
MATERIAL = "occlusion.opposing_material"
_PARTIAL = "removable_partial"


def with_opposing(items: list[Item]) -> list[Item]:
    """The items with statements about the opposing arch as facts, and its arch word inside them."""
    made = list(items)
    clauses = _clauses(made)
    main = _main_arch(made, clauses)
    for start, end in clauses:
        _read(made, start, end, main)
    for start, end in clauses:
        for item in made[start:end]:
            other = main is not None and item.kind == "arch" and item.value != main and _is_plural(item)
            if other and not any(_orders(one) for one in made[start:end]):
                item.kind = "opposing"  # "the lowers hit just behind"
    return made


def _main_arch(items: Sequence[Item], clauses: Sequence[tuple[int, int]]) -> str | None:
    """The arch that the order is for, as far as its words say: the first named in a clause that states no dentition."""
    for start, end in clauses:
        clause = items[start:end]
        wears = any(_wears(item) for item in clause)
        states = any(
            _is_state(item) and item.kind != "arch" and (wears or _state(item) != _PARTIAL) for item in clause
        )
        if states and not any(_orders(item) and not _is_there(item) for item in clause):
            if (named := _beside_worn(clause)) is not None:
                return named
            continue
        arch = next((item for item in clause if item.kind == "arch" and not _is_plural(item)), None)
        if arch is not None:
            return str(arch.value)
    return None


def _beside_worn(clause: Sequence[Item]) -> str | None:
    """The arch named before words for what is worn in the other one ("Lower please, wears a full upper")."""
    for at, item in enumerate(clause):
        if _is_state(item) and item.kind != "arch" and (own := _own_arch(item)) is not None:
            named = (one for one in clause[:at] if one.kind == "arch" and one.value == _OTHER[own])
            return next((str(one.value) for one in named), None)
    return None


def _is_plural(item: Item) -> bool:
    """Whether an arch word means the teeth of an arch ("the lowers", "los superiores")."""
    phrase = item.extra.get("written", "")
    return len(phrase) > 4 and phrase.endswith("s") and not phrase.endswith(("us", "bas"))


def _clauses(items: Sequence[Item]) -> list[tuple[int, int]]:
    """Sentences, and where a sentence orders something its parts between commas."""
    found: list[tuple[int, int]] = []
    start = 0
    for at, item in enumerate([*items, Item("stop", 0, 0)]):
        if item.kind in SENTENCE:
            if any(_orders(one) and not _is_there(one) for one in items[start:at]):
                first = start
                for place in range(start, at + 1):
                    if place == at or items[place].kind in ("comma", "and"):
                        found.append((first, place))
                        first = place + 1
                    elif _says_what_is_worn(items, place):
                        found.append((first, place))
                        first = place  # "… with a cingulum rest he wears a full denture on top"
            else:
                found.append((start, at))
            start = at + 1
    return found


def _says_what_is_worn(items: Sequence[Item], place: int) -> bool:
    """Whether a verb of wearing stands here with a dentition right after it."""
    after = next((one for one in items[place + 1 :] if one.kind != "filler"), None)
    return items[place].kind == "wears" and after is not None and after.kind == "dentition"


def _orders(item: Item) -> bool:
    if item.kind in ("unsettled", "replacement") and _of(item, "dentition_of"):
        return False  # "bridgework in gold", "full upper, acrylic teeth"
    return item.kind in _ORDERS or (item.kind == "role" and item.value in _ORDERING_ROLES)


def _read(items: list[Item], start: int, end: int, main: str | None) -> None:
    clause = range(start, end)
    if any(items[at].kind == "another" for at in clause):
        return  # "his mother wore a full denture above"
    if any(items[at].path in (OPPOSING,) for at in clause):
        _material(items, clause)
        _hush(items, clause)
        return
    if any(_orders(items[at]) and not _is_state(items[at]) and not _is_there(items[at]) for at in clause):
        _inside(items, clause, main)
        return
    arches = [at for at in clause if items[at].kind == "arch"]
    others = [at for at in arches if main is not None and items[at].value != main]
    arch = next(iter(others or arches), None)
    against = next((at for at in clause if _speaks_of_opposing(items[at])), None)
    states = [at for at in clause if _is_state(items[at]) and (at != arch or against is not None)]
    told = [at for at in states if items[at].phrase not in as_written("bare_dentitions")]
    state = next(iter(told or states), None)
    if state is None:
        if against is not None and all(
            items[at].kind in _WITHIN or _speaks_of_opposing(items[at]) or _of(items[at], "dentition_of")
            for at in clause
        ):
            _material(items, clause)  # "the opposing teeth are porcelain", and nothing besides
        return
    value = _state(items[state])
    bare = items[state].phrase in as_written("bare_dentitions")
    if against is None and main is None and arch is not None and bare and not _numbers_fit(items, arch):
        return
    wears = any(_wears(items[at]) for at in clause)
    own = _own_arch(items[state])
    here = arch is None or (own is not None and items[arch].value == main)
    if here and against is None and wears and own is not None and main == _OTHER[own]:
        _state_it(items, clause, state, OPPOSING, value)  # "wears a full upper"
        return
    if arch is None and against is None:
        return
    if against is None and arch is not None and main is not None and items[arch].value == main:
        return
    if (
        against is None
        and main is None
        and (arch is None or not _other_is_ordered(items, clause, str(items[arch].value)))
    ):
        return
    if value == _PARTIAL and against is None and not (wears and _is_only_worn(items, clause, arch)):
        return
    _state_it(items, clause, state, OPPOSING, value)
    if len({_state(items[at]) for at in told if at != state} | {value}) > 1:
        items[state].extra["understood"] = True  # "natural teeth and a bridge"
    _material(items, clause)
    _hush(items, clause)


def _numbers_fit(items: Sequence[Item], arch: int) -> bool:
    """Whether an arch may be the opposing one by the numbers of the order: not where they are its own in ISO 3950."""
    numbers = [int(item.value) for item in items if item.kind == "number" and item.value > LAST_POSITION]
    return not all(is_tooth(number) for number in numbers) or not any(
        arch_of(number) == items[arch].value for number in numbers
    )


def _is_only_worn(items: Sequence[Item], clause: range, arch: int | None) -> bool:
    """Whether the arch of a clause is ordered nowhere else, so that what is worn there is no second order."""
    if arch is None:
        return True
    named = str(items[arch].value)
    elsewhere = [item for at, item in enumerate(items) if at not in clause]
    numbers = [int(item.value) for item in elsewhere if item.kind == "number" and is_tooth(int(item.value))]
    return not any(item.kind == "arch" and item.value == named for item in elsewhere) and not any(
        arch_of(number) == named for number in numbers
    )


def _inside(items: list[Item], clause: range, main: str | None) -> None:
    """``lingual plate please the upper is all natural teeth``: the other arch and right after it what it bears."""
    for at in clause:
        if items[at].kind != "arch" or main is None or items[at].value == main:
            continue
        after = at + 1
        while after < clause.stop and (items[after].kind in _WITHIN or _wears(items[after])):
            after += 1
        bare = after < clause.stop and items[after].phrase in as_written("bare_dentitions")
        told = next((one for one in range(after + 1, clause.stop) if items[one].kind not in _WITHIN), after)
        after = told if bare and told < clause.stop and _is_state(items[told]) else after
        if after < clause.stop and items[after].kind == "dentition" and _state(items[after]) != _PARTIAL:
            _state_it(items, clause, after, OPPOSING, _state(items[after]))
            items[at].kind = "opposing"
            return


def _material(items: list[Item], clause: range) -> None:
    """What the other arch is made of, where its clause says so."""
    at = next((at for at in clause if items[at].match is not None and _of(items[at], "dentition_of")), None)
    if at is not None and not any(_orders(items[one]) and not _is_there(items[one]) for one in clause):
        _state_it(items, clause, at, MATERIAL, _of(items[at], "dentition_of"))


def _is_there(item: Item) -> bool:
    """Whether a word only says that something is there ("oben Totale vorhanden")."""
    return item.kind == "role" and item.value == "standing"


def _state_it(items: list[Item], clause: range, at: int, path: str, value: str) -> None:
    old = items[at]
    items[at] = Item("fact", old.start, old.end, value, None, path)


def _hush(items: list[Item], clause: range) -> None:
    """The arch word of a clause about the opposing arch names no section."""
    for at in clause:
        if items[at].kind == "arch" or (
            items[at].kind in ("opposing", "heading") and _speaks_of_opposing(items[at])
        ):
            items[at].kind = "opposing"


def _of(item: Item, kind: str) -> str:
    found = item.match.of(kind) if item.match is not None else None
    return found.identifier if found is not None else ""


def _is_state(item: Item) -> bool:
    return bool(_of(item, "dentition"))


def _state(item: Item) -> str:
    return _of(item, "dentition")


def _own_arch(item: Item) -> str | None:
    """The arch that the words for a dentition name themselves ("full upper")."""
    words = item.match.meanings[0].phrase.split() if item.match is not None else []
    return next((arch for word in words if (arch := lx.lookup("arch", word)) is not None), None)


def _wears(item: Item) -> bool:
    return bool(_of(item, "wears"))


def _speaks_of_opposing(item: Item) -> bool:
    meanings = item.match.meanings if item.match is not None else ()
    return item.kind == "opposing" or any(
        one.kind == "opposing" or (one.kind == "heading" and one.identifier == OPPOSING) for one in meanings
    )


def _other_is_ordered(items: Sequence[Item], clause: range, arch: str) -> bool:
    """Whether the order speaks of the other arch elsewhere, or of numbers without naming this one."""
    elsewhere = [item for at, item in enumerate(items) if at not in clause]
    arches = {str(item.value) for item in elsewhere if item.kind == "arch"}
    arches |= {
        ("maxilla" if int(item.value) <= 2 else "mandible") for item in elsewhere if item.kind == "quadrant"
    }
    if arches:
        return arches == {_OTHER[arch]} or (_OTHER[arch] in arches and arch not in arches)
    return any(item.kind == "number" for item in elsewhere)
