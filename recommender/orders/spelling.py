"""Misspelt words of an order brought back to the one word of the trade that they are closest to."""

from collections.abc import Sequence
from functools import cache
from itertools import repeat

from recommender.domain import lexicon as lx
from recommender.orders.languages import by_word
from recommender.orders.meanings import all_meanings
from recommender.orders.phrases import match, trie, words_of
from recommender.orders.text import Token
from recommender.orders.vocabulary import listed

# Kinds that a misspelt word is not taken for: joints and words that say nothing are too short and too many.
_NOT_MISSPELT = (
    "filler", "unit", "before", "join", "talk", "spoken", "years", "counted", "them", "formerly", "another", "degree",
    "wears", "otherwise", "again", "respectively", "also", "correction",
)  # fmt: skip
_LEAST_COMPOUND, _LEAST_SOUNDS = 9, 4


@cache
def _known() -> dict[str, dict[str, tuple[str, ...]]]:
    """Every folded word of a phrase with its languages: ``all``, and ``trade``, which a misspelt word may mean."""
    every: set[tuple[str, str]] = set()
    trade: set[tuple[str, str]] = set()
    for meaning in all_meanings():
        words = words_of(meaning.phrase)
        every.update(zip(words, repeat(meaning.language)))
        if meaning.kind not in _NOT_MISSPELT:
            trade.update(zip(words, repeat(meaning.language)))
        if "-" in meaning.phrase and meaning.language == "de":
            trade.add(("".join(words), "de"))
    return {"all": by_word(every), "trade": by_word(trade)}


@cache
def _stems() -> frozenset[str]:
    cells = {word for entry in lx.lexicon().of("allergen") for word in entry.words}
    return frozenset(lx.stem(word) for word in (*_known()["all"], *cells)) | frozenset(trie().next)


@cache
def _correctable(languages: frozenset[str]) -> tuple[str, ...]:
    """Words of these languages that a misspelt word may mean."""
    return tuple(
        word for word, langs in _known()["trade"].items() if len(word) > 3 and languages & set(langs)
    )


def spelt(tokens: Sequence[Token], languages: Sequence[str]) -> list[Token]:
    """The tokens with misspelt words brought to the one word of the trade that they are closest to.

    Only words that no phrase has, that begin with the same letter, within ``lexicon.misspelt_by``; English trade
    terms serve in every order.
    """
    from rapidfuzz import process
    from rapidfuzz.distance import OSA

    words = _correctable(frozenset((*languages, "any", "en")))
    made: list[Token] = []
    tied: dict[int, tuple[str, ...]] = {}
    for token in tokens:
        if not token.is_word or len(token.text) < 4 or token.key in _stems():
            made.append(token)
            continue
        close = [
            (word, distance)
            for word, distance, _ in process.extract(
                token.folded, words, scorer=OSA.distance, score_cutoff=2, limit=12, processor=None
            )
            if distance <= lx.misspelt_by(word) and word[0] == token.folded[0]
        ]
        if not close and (alike := _sounding_alike(token.folded, frozenset(languages))):
            close = [(word, 0) for word in alike]
        if not close and "de" in languages and len(token.folded) >= _LEAST_COMPOUND:
            made.append(_compound(token))
            continue
        least = min((distance for _, distance in close), default=0)
        best = {lx.stem(word): word for word, distance in close if distance == least}
        made.append(token.taken_for(next(iter(best.values()))) if len(best) == 1 else token)
        if len(best) > 1:
            tied[len(made) - 1] = tuple(best.values())
    for place, words_ in tied.items():
        made[place] = _fitting(made, place, words_, languages)
    return made


def _compound(token: Token) -> Token:
    """A German compound that no phrase has, read as its last part where that says what it is."""
    ends = listed("compound_ends")
    last = max((one for one in ends if token.folded.endswith(one)), key=len, default="")
    return token.taken_for(last) if last else token


def _fitting(tokens: list[Token], place: int, words: Sequence[str], languages: Sequence[str]) -> Token:
    """Of several words equally close to a misspelt one, the one that makes the longest phrase with its neighbours."""
    lengths: dict[str, int] = {}
    for word in words:
        tried = [*tokens[:place], tokens[place].taken_for(word), *tokens[place + 1 :]]
        found = [(start, match(tried, start, languages)) for start in range(max(0, place - 2), place + 1)]
        lengths[word] = max((one.end - start for start, one in found if one and one.end > place), default=0)
    best = [word for word, length in lengths.items() if length == max(lengths.values())]
    one = len(best) == 1 and lengths[best[0]] > 1
    return tokens[place].taken_for(best[0]) if one or _same_meaning(tokens[place], words, languages) else tokens[place]


def _same_meaning(token: Token, words: Sequence[str], languages: Sequence[str]) -> bool:
    """Whether words by themselves are one and the same thing in other spellings."""
    found = [match([token.taken_for(word)], 0, languages) for word in words]
    meant = {
        frozenset((meaning.kind, meaning.identifier) for meaning in one.meanings) if one else frozenset()
        for one in found
    }
    return len(meant) == 1 and frozenset() not in meant


def _sounding_alike(word: str, languages: frozenset[str]) -> tuple[str, ...]:
    """The words of these languages that are spoken like a word ("ganxos": "ganchos"); none for what is too short."""
    found: dict[str, None] = {}
    for language in sorted(languages):
        sound = _sound(word, language)
        if len(sound) >= _LEAST_SOUNDS:
            found |= dict.fromkeys(_by_sound(language).get(sound, ()))
    return tuple(found)


@cache
def _by_sound(language: str) -> dict[str, tuple[str, ...]]:
    found: dict[str, list[str]] = {}
    for word in _correctable(frozenset((language,))):
        found.setdefault(_sound(word, language), []).append(word)
    return {sound: tuple(words) for sound, words in found.items()}


def _sound(word: str, language: str) -> str:
    """How a word is spoken, roughly: letters that sound alike as one, doubled letters single."""
    for letters, sound in lx.document("order")["sounds"].get(language, {}).items():
        word = word.replace(str(letters), str(sound))
    return "".join(letter for letter, before in zip(word, " " + word, strict=False) if letter != before)
