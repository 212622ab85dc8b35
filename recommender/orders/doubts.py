"""Question marks, words of doubt and choices left open: what of a sentence they doubt."""

from collections.abc import Sequence

from recommender.orders.concepts import Atom
from recommender.orders.items import Item


def is_question_mark(item: Item) -> bool:
    """Whether words of doubt are a question mark."""
    return item.match is not None and item.match.meanings[0].phrase.startswith("?")


def open_choice(sentence: Sequence[Item], place: int) -> bool:
    """Whether teeth, or a word that the lexicon does not know, follow an "or" after teeth ("on 43 or on 34")."""
    following = next((item for item in sentence[place + 1 :] if item.kind not in ("filler", "on")), None)
    return following is not None and following.kind in ("teeth", "word", "heading")


def unknown_follows(sentence: Sequence[Item], place: int) -> bool:
    """Whether the word after a joint is one that the lexicon does not know."""
    following = next((item for item in sentence[place + 1 :] if item.kind != "filler"), None)
    return following is not None and following.kind in ("word", "heading")


def doubt_last(atoms: Sequence[Atom]) -> None:
    """Doubts the concept said last."""
    last = next((atom for atom in reversed(atoms) if atom.kind != "teeth"), None)
    if last is not None:
        last.doubt = "is this meant? It is stated with doubt"
