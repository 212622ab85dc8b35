"""Years that are no patient's age: a time that has gone by, and how old a denture is."""

from collections.abc import Sequence

from recommender.orders.items import PART, Item
from recommender.orders.text import Token
from recommender.orders.vocabulary import listed, listed_in

_NEAR, _LONGEST = 3, 3


def is_duration(items: Sequence[Item], index: int, tokens: Sequence[Token], languages: Sequence[str]) -> bool:
    """Whether years are a time that has gone by ("il y a 20 ans", "20 years ago") or how long a thing has lasted."""
    item, spoken = items[index], tuple(languages)
    words = [token.folded for token in tokens[max(0, item.start - _NEAR - 1) : item.start]]
    while words and words[-1] in listed_in("about", spoken):
        words.pop()
    led = any(
        " ".join(words[-n:]) in listed_in("duration", spoken) | listed_in("lasting", spoken)
        for n in range(1, min(len(words), _LONGEST) + 1)
    )
    after = [token.folded for token in tokens[item.end : item.end + 2]]
    followed = any(" ".join(after[:n]) in listed_in("duration_after", spoken) for n in (1, 2))
    return led or followed or _of_a_thing(items, index, tokens, spoken)


def _of_a_thing(items: Sequence[Item], index: int, tokens: Sequence[Token], spoken: tuple[str, ...]) -> bool:
    """Whether a denture is so old ("a 20 year old plate", "el viejo tiene 12 años")."""
    item = items[index]
    after = tokens[item.end : item.end + 1]
    if after and after[0].folded in listed("things_with_age"):
        return True
    verb = item.start - 1
    while verb > 0 and tokens[verb].folded in listed_in("about", spoken):
        verb -= 1
    if verb < 1 or tokens[verb].folded not in listed_in("being_so_old", spoken):
        return False
    start = next((one.end for one in reversed(items[:index]) if one.kind in PART), 0)
    before = next(
        (
            token.folded
            for token in reversed(tokens[start:verb])
            if token.folded in listed("things_with_age") | listed("old_ones") | listed("said_of_persons")
        ),
        "",
    )
    return before in listed("things_with_age") | listed("old_ones")
