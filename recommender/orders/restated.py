"""What changes nothing: the mark of a wish put as a question, a loss said twice; and a loss of no teeth."""

from collections.abc import Sequence
from itertools import pairwise

from recommender.domain import lexicon as lx
from recommender.orders.concepts import is_polite
from recommender.orders.doubts import is_question_mark
from recommender.orders.items import SENTENCE, Item, is_role, past
from recommender.orders.vocabulary import listed

_QUIET = ("filler", "mark", "comma", "on", "and")
_ENDS = ("colon", "comma", *SENTENCE)


def politely_ended(items: list[Item]) -> list[Item]:
    """``could you put an Akers on 37?``: the mark of a question that wishes ends its sentence and doubts nothing."""
    polite = False
    for item in items:
        if item.kind in ("stop", "line"):
            polite = False
        elif is_polite(item):
            polite = True
        elif polite and item.kind == "unsure" and is_question_mark(item):
            item.kind, item.value = "stop", "?"
            polite = False
    return items


def said_once(items: list[Item]) -> list[Item]:
    """``14 and 15 are missing, to be replaced: ...``: the second word of missing teeth takes none of what follows."""
    for at, item in enumerate(items):
        if not is_role(item, "missing") or at + 1 == len(items) or items[at + 1].kind not in _ENDS:
            continue
        place = _back(items, at - 1)
        if items[at - 1].kind != "comma" or place < 0 or items[place].kind != "teeth":
            continue
        place = past(items, place, -1, ("teeth", *_QUIET))
        if place >= 0 and is_role(items[place], "missing"):
            item.kind = item.value = "filler"
            if items[at + 1].kind == "colon":
                items[at + 1].kind, items[at + 1].value = "hard", ";"  # what follows speaks of something else
    return items


def no_longer(items: list[Item]) -> list[Item]:
    """``die Finger sind nicht mehr geschickt``: words for what is gone deny the finding that follows them."""
    for item, following in pairwise(items):
        gone = is_role(item, "missing") and lx.fold(item.phrase) in listed("gone_denies")
        if gone and following.kind == "fact" and following.path.startswith("patient."):
            item.kind, item.value = "negation", "negation"
    return items


def _back(items: Sequence[Item], place: int) -> int:
    return past(items, place, -1, _QUIET)
