"""The collected notes: what identifies somebody, and honest notes of the trade, in thirteen languages."""

from collections import Counter
from collections.abc import Iterator
from pathlib import Path

from recommender.privacy.recogniser import look

CORPUS = Path(__file__).parent / "corpus"
SETS = ("written", "held_out", "fresh", "later")
LANGUAGES = ("en", "de", "fr", "es", "it", "pl", "pt", "nl", "tr", "ru", "zh", "ja", "ar")


def notes(part: str) -> Iterator[tuple[str, bool, str]]:
    """(language, whether it identifies somebody, text) of each line."""
    for line in (CORPUS / f"{part}.txt").read_text(encoding="utf-8").splitlines():
        if line and not line.startswith("#"):
            language, sign, text = line.split(" ", 2)
            yield language, sign == "+", text


def wrong(part: str) -> tuple[Counter[tuple[str, bool]], Counter[tuple[str, bool]], list[str]]:
    """How many notes there are and how many are judged wrongly, by language and kind; the wrong ones."""
    number: Counter[tuple[str, bool]] = Counter()
    bad: Counter[tuple[str, bool]] = Counter()
    shown = []
    for language, identifies, text in notes(part):
        number[language, identifies] += 1
        if bool(look(text)) != identifies:
            bad[language, identifies] += 1
            shown.append(f"{language} {'missed' if identifies else 'false alarm'}: {text}")
    return number, bad, shown


def leaves(value: object) -> Iterator[str]:
    """Every text in nested data, sources left out: those name authors."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for key, inner in value.items():
            if key not in ("source", "sources", "citation"):
                yield from leaves(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from leaves(inner)
