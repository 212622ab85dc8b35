"""A connector ruled out without a plain negation ("forget a bar, run a plate", "a U would be unwise; I prefer ...")."""

from collections.abc import Sequence

from recommender.orders.items import PART, SENTENCE, Item, is_role, parts
from recommender.orders.text import Token
from recommender.orders.vocabulary import listed


def with_refusals(items: list[Item], tokens: Sequence[Token]) -> list[Item]:
    """The items, each connector that other words refuse with a sign; the words of refusing fall silent."""
    for part in parts(items, PART):
        connectors = [at for at in part if items[at].kind == "connector"]
        run = [items[at] for at in part]
        if not connectors or any(one.kind in ("negation", "teeth", "condition", "instead") for one in run):
            continue
        refused = [at for at in part if _refuses(items[at], tokens) or _denies(items, at, connectors)]
        if refused:
            after = next((at for at in connectors if at > refused[0]), None)
            at = connectors[-1] if after is None else after
            items[at].extra["refused"] = True
            for place in part:
                if place in refused or items[place].kind == "onward":
                    items[place].kind = items[place].value = "filler"
    for sentence in _long_sentences(items):
        _outdone(items, sentence, tokens)
    return items


def _refuses(item: Item, tokens: Sequence[Token]) -> bool:
    words = {word for token in tokens[item.start : item.end] for word in (token.meant, token.folded)}
    return item.kind in ("word", "filler", "role") and bool(words & listed("refusing"))


def _denies(items: Sequence[Item], at: int, connectors: Sequence[int]) -> bool:
    """Whether a word for nothing, or a "nor", stands after the connector of a part without teeth."""
    return at > connectors[0] and (is_role(items[at], "nothing") or items[at].kind == "nor")


def _long_sentences(items: Sequence[Item]) -> list[range]:
    """Sentences, a semicolon ending none."""
    return list(parts(items, [kind for kind in SENTENCE if kind != "hard"]))


def _outdone(items: Sequence[Item], sentence: range, tokens: Sequence[Token]) -> None:
    """``a horseshoe would trouble her; I prefer a strap``: what is preferred rules out the one named before it."""
    places = [at for at in sentence if items[at].kind == "connector"]
    if len(places) != 2 or any(
        items[at].kind in ("negation", "condition", "or", "instead") for at in sentence
    ):
        return
    first, second = places
    if items[first].value == items[second].value or any(items[at].extra.get("refused") for at in places):
        return
    ends = [at for at in range(first, second) if items[at].kind in ("comma", "hard")]
    if not ends:
        return
    stop = next((at for at in range(second, sentence.stop) if items[at].kind in PART), sentence.stop)
    said = {
        word
        for item in items[ends[-1] : stop]
        for token in tokens[item.start : item.end]
        for word in (token.meant, token.folded)
    }
    if said & listed("preferring"):
        items[first].extra["refused"] = True
