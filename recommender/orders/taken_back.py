"""A tooth taken back for another ("on 13 - no, sorry, on 14", "25, Quatsch, 26 meine ich"): the later one counts."""

from collections.abc import Sequence

from recommender.orders.concepts import is_concept
from recommender.orders.items import PART, Item, is_role, past
from recommender.orders.refs import Teeth
from recommender.orders.text import Token
from recommender.orders.vocabulary import listed

_BETWEEN = ("comma", "mark", "to", "negation", "filler", "on", "from", "colon", "and", "line", "open")
# What else may stand between where the same thing is then said anew ("ring on 34, no, half asleep: ring on 38").
_TALK = ("word", "talk", "stop", "hard", "line")
_FAR = 16


def taken_back(items: list[Item], tokens: Sequence[Token]) -> list[Item]:
    """The items with teeth that a word of taking back parts from others replaced by these, and what is said marked."""
    made: list[Item] = []
    at = 0
    while at < len(items):
        item = items[at]
        later = _later(items, at, tokens) if item.kind == "teeth" and not item.value.relative else None
        later = later or (_anew(items, at, tokens) if item.kind == "teeth" else None)
        if later is None:
            if _takes_back(item, tokens) and not item.extra.get("correction"):
                _mark(made, ())
            made.append(item)
            at += 1
            continue
        after = _past_words(items, later + 1, tokens)
        kept = max(0, len(item.value.refs) - len(items[later].value.refs))
        second: Teeth = items[later].value
        teeth = Teeth([*item.value.refs[:kept], *second.refs], [*item.value.joints[:kept], *second.joints])
        said = next((one for one in items[at + 1 : later] if is_role(one, "missing")), None)
        end = items[after - 1].end if said is None else item.end
        made.append(Item("teeth", item.start, end, teeth, extra=dict(item.extra)))
        if said is not None:  # "45 and 46 missing, sorry: 46 and 47"
            made.append(said)
            made.append(Item("filler", said.end, items[after - 1].end, "filler"))
        _mark(made, items[after:])
        at = after
    return made


def _later(items: Sequence[Item], at: int, tokens: Sequence[Token]) -> int | None:
    """The place of the teeth that replace those at ``at``: only words of taking back stand between them, or that the
    first are missing."""
    taken = ended = said = False
    for place in range(at + 1, len(items)):
        item = items[place]
        if item.kind == "teeth":
            apart = (said or _is_missing_before(items, at)) and _goes_on(items, place)
            sound = taken and not item.value.relative and not apart
            return place if sound else None
        if _takes_back(item, tokens):
            taken = True
        elif item.kind in ("stop", "hard") and not (taken or ended):
            ended = True  # "44, 45 and 46... sorry, I meant 45, 46 and 47"
        elif is_role(item, "missing") and not (taken or said or ended):
            said = True
        elif item.kind not in _BETWEEN and not _dots(items, place):
            return None
    return None


def _dots(items: Sequence[Item], at: int) -> bool:
    """Whether a full stop is the last of several ("14 ... sorry, 15")."""
    return items[at].kind == "stop" and at > 0 and items[at - 1].kind == "to"


def _anew(items: Sequence[Item], at: int, tokens: Sequence[Token]) -> int | None:
    """The place of the teeth of which the same is said again after words of taking back."""
    said = next((one for one in reversed(items[max(0, at - 3) : at]) if one.kind not in _BETWEEN), None)
    if said is None or not is_concept(said) or said.kind != "retainer":
        return None
    taken, again = False, False
    for place in range(at + 1, min(len(items), at + _FAR)):
        item = items[place]
        if item.kind == "teeth":
            return place if taken and again else None
        if _takes_back(item, tokens):
            taken = True
        elif taken and (item.kind, item.value) == (said.kind, said.value):
            again = True
        elif item.kind not in (*_BETWEEN, *(_TALK if taken and not again else ())) and not _dots(items, place):
            return None
    return None


def _is_missing_before(items: Sequence[Item], at: int) -> bool:
    """Whether a word for missing teeth leads a list."""
    before = next((one for one in reversed(items[:at]) if one.kind not in ("filler", "colon")), None)
    return before is not None and is_role(before, "missing")


def _goes_on(items: Sequence[Item], at: int) -> bool:
    """Whether something is said of teeth right after them."""
    following = next((one for one in items[at + 1 :] if one.kind != "filler"), None)
    return following is not None and following.kind not in (*PART, "close", "to")


def _takes_back(item: Item, tokens: Sequence[Token]) -> bool:
    words = [token.folded for token in tokens[item.start : item.end] if token.is_word]
    plain = item.kind in ("word", "stop", "negation") and bool(set(words) & listed("takes_back"))
    return bool(item.extra.get("correction")) or plain


def _past_words(items: Sequence[Item], at: int, tokens: Sequence[Token]) -> int:
    """The place after words of taking back that follow teeth, and after the dash that ends them."""
    place = at + (at < len(items) and items[at].kind == "close")
    at = place
    place = past(items, place, 1, ("filler",))
    if place == len(items) or not _takes_back(items[place], tokens):
        return at
    place += 1
    return place + 1 if place < len(items) and items[place].kind == "to" else place


def _mark(made: Sequence[Item], following: Sequence[Item]) -> None:
    before = next(
        (item for item in reversed(made) if is_concept(item) or item.kind in ("stop", "line")), None
    )
    after = next((item for item in following if is_concept(item) or item.kind in ("stop", "line")), None)
    for item in (before, after):
        if item is not None and is_concept(item):
            item.extra["taken_back"] = True
