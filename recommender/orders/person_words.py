"""Words that name a person beside an age or a title: trades, inmates, "M. D"; what they say of the sex is marked."""

from collections.abc import Sequence

from recommender.orders.items import Item
from recommender.orders.text import Token
from recommender.orders.vocabulary import as_written, listed

_AGE, _SEX = "patient.age", "patient.sex"
_BETWEEN = ("filler", "open", "comma", "from", "mark")


def is_person(item: Item, tokens: Sequence[Token]) -> bool:
    """Whether an item names a person whose age may follow ("Inhaftierter, 38", "offender (41)")."""
    named = tokens[item.end - 1].folded in listed("persons")
    return item.kind in ("word", "filler", "talk", "site") and (named or bool(_sex_of(item, tokens)))


def with_persons(items: list[Item], tokens: Sequence[Token]) -> list[Item]:
    """The items with the sex that the word for a person right before an age gives away, where none is stated."""
    if any(item.path == _SEX and not item.extra.get("understood") for item in items):
        return items
    for index, item in enumerate(items):
        if item.path != _AGE:
            continue
        at = index - 1
        while at >= 0 and items[at].kind in _BETWEEN and not is_person(items[at], tokens):
            at -= 1
        if at >= 0 and is_person(items[at], tokens):
            item.extra["understood"] = True
        if at >= 0 and items[at].kind != "fact" and (sex := _sex_of(items[at], tokens)):
            items[at] = Item("fact", items[at].start, items[at].end, sex, None, _SEX, {"understood": True})
    return items


def titled(items: list[Item], tokens: Sequence[Token], languages: Sequence[str]) -> list[Item]:
    """The items with a French "M." before a name as the patient's sex, and the name as a word that says nothing."""
    if "fr" not in languages:
        return items
    made = list(items)
    for at, item in enumerate(made):
        after = tokens[item.end : item.end + 2]
        led = item.start > 0 and tokens[item.start - 1].folded in listed("before_titles")
        if (
            tokens[item.start].text in as_written("titles_male")
            and item.end - item.start == 1
            and led
            and len(after) == 2
            and after[0].text == "."
            and after[1].text[:1].isupper()
        ):
            made[at] = Item("fact", item.start, item.end, "male", None, _SEX, {"understood": True})
            name = next((one for one in made[at + 1 :] if one.start == item.end + 1), None)
            if name is not None:
                made[made.index(name)] = Item("filler", name.start, name.end, "filler")
    return made


def _sex_of(item: Item, tokens: Sequence[Token]) -> str:
    word = tokens[item.end - 1]
    if item.kind not in ("word", "filler", "talk", "site"):
        return ""
    if word.folded in listed("dentist_words") | listed("staff_words") | listed("colleagues"):
        return ""
    if word.folded in listed("persons_male"):
        return "male"
    ends = word.text[:1].isupper() and any(word.folded.endswith(end) for end in listed("female_endings"))
    return "female" if ends or word.folded in listed("persons_female") else ""
