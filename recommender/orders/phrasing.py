"""A sentence of an order cut into phrases: which words are said of which teeth, and how sure that is.

A phrase is a run of concepts with the teeth after it ("I-bar on 13, 23"), a run of teeth with the concepts after it
("13, 23: I-bar"), or teeth between their concepts ("I-bar on 13 with a mesial rest"). Every way of cutting the sentence
has a cost: joints inside a phrase and between phrases, a change of direction, words or teeth left alone, concepts that
exclude each other. The cheapest way is taken; where another way that says something else costs little more, the reader
marks what it read.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

from recommender.orders.items import Item
from recommender.orders.refs import Ref

# What joints and faults cost, set so that the tests' sentences read as a person reads them (no source).
_COMMA, _COLON, _ON, _AND, _TALK, _CLOSE, _OPEN = 2.0, 0.6, 1.2, 0.8, 0.7, 2.0, 2.0
_CLOSE_WORDS, _COMMA_WORDS, _FAR = 0.1, 1.6, 5.0
_LIST_COMMA, _LIST_COMMA_BACK, _LIST_BARE, _LIST_MIXED, _LIST_TALK, _LIST_ON = 0.15, 0.2, 0.1, 0.6, 4.6, 6.0
_DENIED_ON, _AND_CLASP, _WITH_REST, _EACH = 0.8, 0.8, 0.6, 1.0
_BACK_TOOTH = 2.0
_CUT_COMMA, _CUT_AND, _CUT_BARE, _CUT_GAP, _CUT_BESIDE_GAP, _BETWEEN, _SHARED = (
    0.3,
    2.9,
    1.9,
    0.3,
    1.2,
    0.3,
    0.9,
)
_BOUNDARY_BARE, _BOUNDARY_AND, _BOUNDARY_COLON = 1.1, 0.9, 2.0
# Words that begin with their teeth where nothing shows that a phrase ends ("... auf 37 E-Klammer auf 47 ...").
_ON_FIRST, _CUT_ON = 1.2, 1.2
# "a ring" on more than one tooth; "a mesial rest an Akers on 44", where the article begins what follows.
_OF_ONE, _NEW_ONE, _OWN_PLACE = 0.2, 0.6, 3.0
_TURN, _LONE_CONCEPT, _LONE_FREE, _LONE_TEETH, _GOES_ON, _EXCLUDES = 0.5, 3.5, 0.8, 4.0, 2.4, 6.0
# Ways kept at each place, and how close another reading has to be for a mark.
_KEPT, _CLOSE_CALL = 8, 0.75
_LONGEST = 40
# Two phrases that say of one tooth what cannot hold of it.
_AGAINST = 4.0
_FRONT_RESTS, _CANINE = ("cingulum", "incisal"), 3
_BACK_TEETH = frozenset((*range(14, 19), 28, *range(34, 39), *range(44, 49)))
_LOUD = frozenset({"word", "negation", "heading", "measure", "name"})


@dataclass(frozen=True)
class Element:
    """One concept, one thing that stands alone, or one mention of teeth, with what stands between it and the last."""

    kind: str  # concept | alone | teeth
    item: Item
    before: frozenset[str]
    ref: Ref | None = None
    free: bool = False
    denied: bool = False
    bracketed: bool = False
    talked: bool = False


@dataclass(frozen=True, slots=True)
class Phrase:
    """Concepts and mentions that belong together, as places in the sentence; ``goes_on`` with the phrase before."""

    concepts: tuple[int, ...]
    teeth: tuple[int, ...]
    goes_on: bool = False


@dataclass(frozen=True, slots=True)
class _Way:
    cost: float
    direction: int
    phrases: tuple[Phrase, ...]


def phrases_of(
    elements: Sequence[Element], exclusive: Callable[[Element, Element], bool]
) -> tuple[tuple[Phrase, ...], frozenset[int]]:
    """The phrases of a sentence, and the concepts whose teeth another reading, nearly as good, gives to others."""
    if not elements or len(elements) > _LONGEST:
        return _plain(elements), frozenset(range(len(elements)))
    ways: list[list[_Way]] = [[_Way(0.0, 0, ())], *([] for _ in elements)]
    clash = lru_cache(maxsize=None)(lambda a, b: exclusive(elements[a], elements[b]))
    for end in range(1, len(elements) + 1):
        found: list[_Way] = []
        for start in range(end):
            for phrase, cost, direction in _readings(elements, start, end, clash):
                found += [
                    _joined(
                        elements, way, phrase, cost + _against(elements, way, phrase, clash), direction, start
                    )
                    for way in ways[start]
                    if not phrase.goes_on or _may_go_on(elements, way, start, end)
                ]
        ways[end] = _best(found)
    best = ways[-1][0]
    owners = _owners(best.phrases)
    doubtful = {
        concept
        for way in ways[-1][1:]
        if way.cost - best.cost < _CLOSE_CALL
        for concept, teeth in _owners(way.phrases).items()
        if owners.get(concept) != teeth
    }
    unsure = _turned(elements, best.phrases) | _remarked(elements, best.phrases) | _trailing(best.phrases)
    return best.phrases, frozenset(doubtful) | unsure


def _turned(elements: Sequence[Element], phrases: Sequence[Phrase]) -> frozenset[int]:
    """Concepts on both sides of a change of direction that no comma shows, or that lies inside a list of numbers."""
    found: set[int] = set()
    for first, second in pairwise(one for one in phrases if one.concepts and one.teeth):
        forward = [one.concepts[0] < one.teeth[0] for one in (first, second)]
        start = min(second.concepts[0], second.teeth[0])
        ref = elements[start].ref
        cut = elements[start - 1].item is elements[start].item and ref is not None and ref.number is not None
        if forward[0] != forward[1] and (cut or not elements[start].before & {"comma", "close"}):
            found |= {*first.concepts, *second.concepts}
    return frozenset(found)


def _remarked(elements: Sequence[Element], phrases: Sequence[Phrase]) -> frozenset[int]:
    """Concepts that take teeth with a remark in brackets between them and the concept: it may say something else."""
    return frozenset(
        concept
        for phrase in phrases
        for concept in phrase.concepts
        if concept > min(phrase.teeth, default=concept)
        and any("aside" in elements[index].before for index in phrase.teeth[1:])
    )


def _trailing(phrases: Sequence[Phrase]) -> frozenset[int]:
    """Concepts after their teeth that also take a list behind them ("24 a wire clasp, on 26 …"): theirs may differ."""
    return frozenset(
        concept
        for first, second in pairwise(phrases)
        if second.goes_on and first.teeth
        for concept in first.concepts
        if first.teeth[0] < concept
    )


def _plain(elements: Sequence[Element]) -> tuple[Phrase, ...]:
    """For a sentence too long to be weighed: nothing is said of anything."""
    return tuple(Phrase((), (index,)) for index, one in enumerate(elements) if one.kind == "teeth")


def _best(found: list[_Way]) -> list[_Way]:
    """The cheapest ways that differ in what they say."""
    kept: dict[tuple[object, int], _Way] = {}
    for way in sorted(found, key=lambda way: way.cost):
        kept.setdefault((tuple(sorted(_owners(way.phrases).items())), way.direction), way)
        if len(kept) == _KEPT:
            break
    return list(kept.values())


def _owners(phrases: Sequence[Phrase]) -> dict[int, tuple[int, ...]]:
    """For each concept the mentions that it takes, those of phrases that go on included."""
    owners: dict[int, tuple[int, ...]] = {}
    last: tuple[int, ...] = ()
    for phrase in phrases:
        concepts = last if phrase.goes_on else phrase.concepts
        for concept in concepts:
            owners[concept] = (*owners.get(concept, ()), *phrase.teeth)
        last = concepts or last
    return owners


def _joined(
    elements: Sequence[Element], way: _Way, phrase: Phrase, cost: float, direction: int, start: int
) -> _Way:
    total = way.cost + cost
    if start and elements[start - 1].kind == "teeth" and elements[start - 1].item is elements[start].item:
        total += _cut(elements, start)
    elif (
        start
        and elements[start - 1].kind == elements[start].kind == "teeth"
        and "open" in elements[start].before
    ):
        total += _CUT_COMMA
    elif start:
        total += _boundary(elements[start].before)
        joint = elements[start].before
        begun = direction < 0 and "on" in joint and not joint & {"comma", "close"}
        begun = begun and ("and" not in joint or len(phrase.teeth) == 1)
        total -= _ON_FIRST * (begun and not elements[phrase.concepts[0]].before & {"and", "comma", "open"})
    if direction and way.direction and direction != way.direction:
        total += _TURN
    return _Way(total, direction or way.direction, (*way.phrases, phrase))


def _against(
    elements: Sequence[Element], way: _Way, phrase: Phrase, clash: Callable[[int, int], bool]
) -> float:
    """What a phrase costs that says of a tooth what cannot hold beside what another one said of it."""
    before = [one for one in way.phrases if one.concepts and one.teeth]
    concepts = phrase.concepts or (before[-1].concepts if phrase.goes_on and before else ())
    here = _teeth(elements, phrase.teeth)
    return _AGAINST * any(
        here & _teeth(elements, one.teeth) and any(clash(a, b) for a in one.concepts for b in concepts)
        for one in before
        if not phrase.goes_on or one is not before[-1]
    )


def _teeth(elements: Sequence[Element], places: Sequence[int]) -> frozenset[tuple[object, ...]]:
    """The teeth of some mentions as far as numbers, or names with their place, tell them."""
    found: set[tuple[object, ...]] = set()
    for place in places:
        ref = elements[place].ref
        if ref is None or ref.relative or ref.way:
            continue
        last = ref.upto.number if ref.upto is not None and not ref.inner else None
        if ref.number is not None:
            ends = sorted((ref.number, last if last is not None else ref.number))
            found |= {(ref.quadrant, ref.side, number) for number in range(ends[0], ends[1] + 1)}
        elif ref.quadrant:
            found |= {(ref.quadrant, None, name) for name in (*ref.names, *ref.digits)}
    return frozenset(found)


def _may_go_on(elements: Sequence[Element], way: _Way, start: int, end: int) -> bool:
    """A list may go on after the concept it belongs to ("14, 15 missing, 24") where nothing else is said of it."""
    before = way.phrases[-1] if way.phrases else None
    if before is None or not (before.concepts or before.goes_on) or not before.teeth:
        return False
    joint, ref = elements[start].before, elements[start].ref
    # "upper left 4 is missing upper right 6"
    placed = (ref is not None and bool(ref.quadrant or ref.side)) or bool(joint & {"side", "quadrant"})
    return (bool(joint & {"comma", "and"}) or placed) and not joint & _LOUD and not elements[end - 1].talked


def _readings(
    elements: Sequence[Element], start: int, end: int, clash: Callable[[int, int], bool]
) -> list[tuple[Phrase, float, int]]:
    """What a run of elements can be as one phrase: the phrase, its cost, its direction (1 forward, -1 backward)."""
    run = range(start, end)
    kinds = [elements[index].kind for index in run]
    if "alone" in kinds:
        return [(Phrase((), ()), 0.0, 0)] if len(kinds) == 1 else []
    changes = sum(first != second for first, second in pairwise(kinds))
    if changes > 2 or (changes == 2 and kinds[0] == "teeth"):
        return []
    concepts = tuple(index for index in run if elements[index].kind == "concept")
    teeth = tuple(index for index in run if elements[index].kind == "teeth")
    cost = _inside(elements, start, end) + _list(elements, teeth, kinds[0] == "teeth")
    if changes == 2:
        cost += _BETWEEN + _shared(elements, concepts, teeth)
    one = any(elements[index].item.extra.get("one") for index in concepts)
    cost += _OF_ONE * (
        one and len(teeth) > 1 and not any(elements[i].item.value == "embrasure" for i in concepts)
    )
    cost += _BACK_TOOTH * sum(_misfit(elements[a], elements[b]) for a in concepts for b in teeth)
    cost += _EXCLUDES * sum(clash(a, b) for a in concepts for b in concepts if a < b)
    if not concepts:
        return [(Phrase((), teeth), cost + _LONE_TEETH, 0), (Phrase((), teeth, True), cost + _GOES_ON, 0)]
    if not teeth:
        return [(Phrase(concepts, ()), cost + sum(_lone(elements[index]) for index in concepts), 0)]
    return [(Phrase(concepts, teeth), cost, 1 if kinds[0] == "concept" else -1)]


def _misfit(concept: Element, tooth: Element) -> bool:
    """Whether a rest that only front teeth have would lie on a tooth that is a back tooth in either numbering."""
    item, ref = concept.item, tooth.ref
    if (
        item.kind not in ("rest", "site")
        or item.value not in _FRONT_RESTS
        or ref is None
        or ref.upto is not None
    ):
        return False
    if ref.by_name:
        return min(ref.names) > _CANINE
    return ref.number in _BACK_TEETH and not (ref.digits or ref.quadrant)


def _lone(element: Element) -> float:
    return _LONE_FREE if element.free else _LONE_CONCEPT


def _inside(elements: Sequence[Element], start: int, end: int) -> float:
    """The cost of the joints between concepts, and between concepts and teeth."""
    cost = 0.0
    for index in range(start + 1, end):
        pair, joint = (elements[index - 1].kind, elements[index].kind), elements[index].before
        if pair == ("teeth", "teeth"):
            continue
        talk = _TALK * len(joint & _LOUD)
        if pair == ("concept", "concept"):
            cost += _CLOSE_WORDS + _COMMA_WORDS * ("comma" in joint) + talk
            cost += _NEW_ONE * (
                bool(elements[index].item.extra.get("one")) and not joint & {"on", "and", "comma"}
            )
            cost += _AND_CLASP * ("and" in joint and elements[index].item.kind == "retainer")
        elif pair == ("concept", "teeth"):
            cost += _COMMA * ("comma" in joint) - _ON * ("on" in joint) - _COLON * ("colon" in joint)
            cost -= _DENIED_ON * ("on" in joint and elements[index - 1].denied)
            cost += _AND * ("and" in joint) + _CLOSE * ("close" in joint) + talk
            cost += _FAR * ("comma" in joint and bool(talk))
        else:
            cost += _COMMA * ("comma" in joint) - _COLON * ("colon" in joint) + _AND * ("and" in joint) / 2
            cost += talk - _OPEN * ("open" in joint and "close" not in joint)
            cost -= _EACH * ("each" in joint)
            cost -= _WITH_REST * ("on" in joint and elements[index].item.kind in ("rest", "site"))
    return cost


def _shared(elements: Sequence[Element], concepts: Sequence[int], teeth: Sequence[int]) -> float:
    """What teeth between concepts cost more: a list with commas whose last tooth has a concept right beside it."""
    joint = (
        elements[concepts[-1]].before
        if concepts and teeth and concepts[-1] > teeth[-1]
        else frozenset({"on"})
    )
    listed = any("comma" in elements[index].before for index in teeth[1:])
    behind = [index for index in concepts if teeth and index > teeth[-1]]
    own = len(teeth) > 1 and elements[teeth[-1]].before >= {"comma", "on"}
    if own and behind and elements[behind[0]].item.kind in ("retainer", "unsettled"):
        return _OWN_PLACE  # "Akers on 17 and 27, on 24 a cast clasp"
    enclosed = "close" in joint and bool(teeth) and "open" in elements[teeth[0]].before
    return _SHARED * (listed and not enclosed and not joint & {"on", "comma", "and", "open"})


def _cut(elements: Sequence[Element], start: int) -> float:
    """The cost of a boundary through the middle of what looks like one list: where a list with commas, or one that an
    "and" has ended, has a bare gap, it is there.
    """
    places = [
        at for at, one in enumerate(elements) if one.kind == "teeth" and one.item is elements[start].item
    ]
    stray = _stray(elements, places)
    mixed = any(stray)
    joint = elements[start].before
    if elements[start].bracketed and elements[start - 1].bracketed and "open" not in joint:
        return _OWN_PLACE  # "gap on the right (45, 46): 6 mm": what brackets hold is one list
    if _is_bare(joint):
        return _CUT_GAP if stray[places.index(start) - 1] else _CUT_BARE
    if "comma" in joint and _changes_style(elements, start):
        return _CUT_COMMA
    if "comma" in joint:
        return _CUT_COMMA + (_CUT_BESIDE_GAP if mixed else 0.0)
    return _CUT_ON if "on" in joint else _CUT_AND


def _changes_style(elements: Sequence[Element], start: int) -> bool:
    """Whether names follow numbers or the other way round: a comma there parts two lists."""
    before, here = elements[start - 1].ref, elements[start].ref
    return before is not None and here is not None and before.by_name != here.by_name


def _stray(elements: Sequence[Element], places: Sequence[int]) -> list[bool]:
    """Which joints of a list are bare gaps that go with no "and" after them ("35 and 37 | 45"), or beside commas; a gap
    before another side or quadrant is none ("right 5 and 6 left 4 and 5"), nor one before the
    next tooth of such a list."""
    joints = [elements[at].before for at in places[1:]]
    commas = any("comma" in joint for joint in joints)
    ands = [bool(joint & {"and", "or", "nor", "to"}) for joint in joints]
    bare_style = any(map(_is_bare, joints[: ands.index(True)])) if any(ands) else False
    return [
        _is_bare(joint)
        and not _elsewhere(elements, places[place], places[place + 1])
        and not (bare_style and _follows(elements, places[place], places[place + 1]))
        and (commas or "open" in joint or any(ands[:place]))
        for place, joint in enumerate(joints)
    ]


def _follows(elements: Sequence[Element], before: int, here: int) -> bool:
    """Whether two mentions are numbers of teeth beside each other ("45 46 and 36 37")."""
    last, ref = elements[before].ref, elements[here].ref
    numbers = [one.number if one is not None else None for one in (last, ref)]
    return numbers[0] is not None and numbers[1] is not None and abs(numbers[0] - numbers[1]) == 1


def _elsewhere(elements: Sequence[Element], before: int, here: int) -> bool:
    """Whether a mention names another side or quadrant than the one before it."""
    last, ref = elements[before].ref, elements[here].ref
    places = [(one.quadrant, one.side) if one is not None else (None, None) for one in (last, ref)]
    return places[0] != places[1] and places[1] != (None, None)


def _is_bare(joint: frozenset[str]) -> bool:
    return not joint & {"comma", "and", "or", "nor", "to"}


def _list(elements: Sequence[Element], teeth: Sequence[int], back: bool) -> float:
    """The cost of the joints inside a list: lists with commas and with bare gaps at once are less likely one list."""
    joints = [elements[index].before for index in teeth[1:]]
    commas = [bool(joint & {"comma"}) for joint in joints]
    bare = [_is_bare(joint) for joint in joints]
    cost = (_LIST_COMMA_BACK if back else _LIST_COMMA) * sum(commas) + _LIST_BARE * sum(bare)
    cost += _LIST_ON * sum("on" in joint and not joint & {"comma", "and"} for joint in joints)
    cost += _LIST_MIXED * sum(_stray(elements, teeth))
    cost += _FAR * sum("negation" in joint for joint in joints)
    return cost + sum(_LIST_TALK * len(joint & _LOUD) for joint in joints)


def _boundary(joint: frozenset[str]) -> float:
    cost = 0.0
    if not joint & {"comma", "close"}:
        cost = _BOUNDARY_AND if "and" in joint else _BOUNDARY_BARE
    if joint & _LOUD:
        cost /= 2
    return cost + _BOUNDARY_COLON * ("colon" in joint)
