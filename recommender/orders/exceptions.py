"""Teeth that an exception takes out of a list ("all molars missing except 27", "all but 13-23")."""

from collections.abc import Sequence

from recommender.orders.items import SENTENCE, Item, is_role, parts, past
from recommender.orders.neighbours import SAYS, is_gone, next_to
from recommender.orders.refs import Ref, Teeth


def with_exceptions(items: list[Item]) -> list[Item]:
    """``all molars missing except 27``: the teeth after "except" leave the list before it."""
    for sentence in parts(items, SENTENCE):
        for at in sentence:
            item = items[at]
            if (
                item.kind == "all_but"
                and is_gone(items, sentence)
                and (spared := _teeth_after(items, at)) is not None
            ):
                _spare(items, at, spared, _everything(item))
            elif (
                item.kind == "except"
                and (after := next_to(items, at, 1, ("filler",)))
                and after.kind == "connector"
            ):
                item.kind = "negation"  # "as you see fit but not a full plate"
            elif item.kind == "except" and (spared := _teeth_after(items, at)) is not None:
                earlier = [items[i] for i in range(at - 1, sentence.start - 1, -1)]
                owner = next((one for one in earlier if one.kind == "teeth"), None)
                if owner is None:  # "all but 13 and 23 all teeth are gone"
                    later = [items[i] for i in range(spared + 1, sentence.stop)]
                    owner = next((one for one in later if one.kind == "teeth" and one.value.relative), None)
                whole = next((one for one in earlier if one.kind == "all"), None)
                if owner is not None:
                    _spare(items, at, spared, owner)
                elif whole is not None and is_gone(items, sentence):
                    _spare(items, at, spared, _everything(whole))
    return items


def _everything(item: Item) -> Item:
    item.kind, item.value = (
        "teeth",
        Teeth([Ref(item.start, item.end, relative="all", many=True)], [frozenset()]),
    )
    return item


def _teeth_after(items: Sequence[Item], at: int) -> int | None:
    at = past(items, at + 1, 1, ("filler", "on", "from"))
    return at if at < len(items) and items[at].kind == "teeth" else None


def _spare(items: list[Item], at: int, spared: int, owner: Item) -> None:
    """Takes the teeth of one item out of those of another; a thing said of them right after keeps them."""
    teeth: Teeth = owner.value
    taken: Teeth = items[spared].value
    if teeth.minus is None:
        teeth.minus = Teeth([*taken.refs], [*taken.joints])
    else:
        teeth.minus.refs += taken.refs
        teeth.minus.joints += taken.joints
    if items[at].kind == "except":
        items[at].kind, items[at].extra["spares"] = "comma", True
    after: list[Item] = []
    for one in items[spared + 1 :]:
        if one.kind in SENTENCE:
            break
        after.append(one)
    following = next((one for one in after if one.kind in (*SAYS, "role", "comma")), None)
    apart = any(one.kind in SAYS or is_role(one, "clasp", "rest") for one in after) and not any(
        one.kind == "teeth" for one in after
    )
    if not apart and (following is None or following.kind not in SAYS):
        items[spared].kind, items[spared].extra["spares"] = "filler", True
