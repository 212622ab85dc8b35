"""Reading an order: free text in, for each arch the proposed fields with the words they came from, and questions.

The reader is a grammar over the lexicon, without any model: the same text always gives the same answer, and nothing
leaves the machine. It proposes; a person takes over. What could mean two things is asked, what it does not understand
stays in the note of the prescription, save what might name a person.
"""

import gc
from collections.abc import Sequence
from functools import cache

from recommender.domain import lexicon as lx
from recommender.domain.dentition import arch_of
from recommender.orders.arrows import parted_by_arrows
from recommender.orders.compose import compose
from recommender.orders.contrasts import contrasted
from recommender.orders.dictated import figured
from recommender.orders.exceptions import with_exceptions
from recommender.orders.found import Found, by_arch
from recommender.orders.gather import Gatherer
from recommender.orders.items import PART, Item
from recommender.orders.languages import languages_of
from recommender.orders.layout import laid_out
from recommender.orders.likely import with_likely
from recommender.orders.links import statements_of
from recommender.orders.lost import with_all_replaced, with_losses
from recommender.orders.mirrored import with_mirrored
from recommender.orders.model import ArchOrder, Question, Words
from recommender.orders.neither import neither_moved
from recommender.orders.not_understood import (
    beside_open,
    beside_question,
    beside_unread,
    numbering_doubted,
    palate_free,
    without_missing,
)
from recommender.orders.onwards import with_onwards
from recommender.orders.opposing import with_opposing
from recommender.orders.ordinals import with_ordinals
from recommender.orders.refs import Teeth
from recommender.orders.refusals import with_refusals
from recommender.orders.relatives import with_relatives
from recommender.orders.restated import no_longer, politely_ended, said_once
from recommender.orders.sections import ARCHES, arch_of_connector, sections
from recommender.orders.settle import BOTH, Settled, meant, settle
from recommender.orders.sides import with_sides
from recommender.orders.spelling import spelt
from recommender.orders.stated import items_of
from recommender.orders.taken_back import taken_back
from recommender.orders.text import Token, tokens_of
from recommender.orders.tooth_lists import with_teeth
from recommender.orders.vocabulary import listed
from recommender.privacy.recogniser import look

MOST_LETTERS = 20_000
_LOUD = frozenset(
    {"word", "heading", "number", "measure", "age", "name", "group", "negation", "role", "site", "retainer", "rest",
     "replacement", "alloy", "unsettled", "fact", "visible", "teeth", "behind", "onward", "except", "instead", "unsure",
     "connector", "relative", "formerly", "another", "talk", "earlier"}
)  # fmt: skip
_SILENT = ("arch", "filler", "mark", "stop", "line", "comma", "hard")


class OrderTooLongError(ValueError):
    """An order of more than ``MOST_LETTERS`` characters."""


def read_order(text: str, numbering: str | None = None) -> list[ArchOrder]:
    """The arches that an order speaks of, upper first; one without ``arch`` where that is not settled.

    ``numbering`` (``iso`` or ``universal``) is what the user knows about the order. Raises ``OrderTooLongError``.
    """
    if len(text) > MOST_LETTERS:
        raise OrderTooLongError(f"an order of {len(text):,} characters; at most {MOST_LETTERS:,} are read")
    raw = laid_out(tokens_of(text), text)
    if not text.strip():
        return []
    _lay_out_lexicon()
    languages = languages_of(spelt(raw, lx.LANGUAGES[1:5]))
    tokens = spelt(figured(raw, languages), languages)
    items = with_opposing(neither_moved(no_longer(politely_ended(items_of(tokens, languages)))))
    items = with_relatives(with_sides(with_ordinals(items, tokens)), tokens)
    items = parted_by_arrows(with_teeth(with_onwards(items, tokens), tokens))
    items = with_mirrored(taken_back(contrasted(items, tokens), tokens))
    items = with_exceptions(with_all_replaced(with_likely(items), tokens))
    items = said_once(with_refusals(with_losses(items, tokens), tokens))
    statements, idle = statements_of(items)
    place, named_arches = sections(items)
    if not named_arches:
        connectors = [s.item.value for s in statements if s.item.kind == "connector" and not s.denied]
        own = {arch_of_connector(str(value)) for value in connectors} - {None}
        if len(own) == 1:
            place, named_arches = [next(iter(own))] * len(items), ()
    spoken = [(item.value, place[at]) for at, item in enumerate(items) if item.kind == "teeth"]
    stated = _numbering(items)
    stray = {id(ref) for teeth in idle for ref in teeth.refs}
    judged = [
        (_without(teeth, stray), arch)
        for teeth, arch in spoken
        if not (teeth.upto and len(teeth.refs) == 1 and teeth.refs[0].is_digit)
    ]
    if not any(teeth.refs for teeth, _ in judged):
        judged = spoken
    settled = settle(judged, statements, languages, numbering or stated, named_arches)
    if not any(place) and settled.system != "ambiguous":
        place = _by_numbers(spoken, settled) * len(items)
    gatherer = Gatherer(text, tokens, items, place, settled)
    for statement in statements:
        gatherer.take(statement)
    gatherer.take_facts()
    gatherer.take_contrasts()
    gatherer.ask_about_earlier()
    for teeth in idle:
        _idle(gatherer, teeth, items, place, settled)
    gatherer.finish()
    gatherer.take_seats()
    return _by_arch(text, tokens, items, place, gatherer.found, settled, named_arches)


@cache
def _lay_out_lexicon() -> None:
    """What the first order needs of the lexicon, kept out of the collector's sight: it would look through hundreds of
    thousands of lasting phrases again and again."""
    collecting = gc.isenabled()
    gc.disable()
    languages_of(spelt(tokens_of("order"), lx.LANGUAGES[1:5]))
    gc.freeze()
    if collecting:
        gc.enable()


def _numbering(items: Sequence[Item]) -> str | None:
    """The numbering that an order names and does not deny, or that it names both."""
    named = {
        str(item.value)
        for at, item in enumerate(items)
        if item.kind == "numbering" and not (at and items[at - 1].kind in ("negation", "nor", "instead"))
    }
    return BOTH if len(named) > 1 else next(iter(named), None)


def _by_numbers(spoken: Sequence[tuple[Teeth, str | None]], settled: Settled) -> list[str | None]:
    """The one arch in which all numbers of an order lie, which then holds for teeth that are named without one."""
    arches = {
        arch_of(tooth)
        for teeth, arch in spoken
        for one in meant(teeth, arch, settled)
        if one.ref.number is not None
        for tooth in one.teeth
    }
    return [next(iter(arches)) if len(arches) == 1 else None]


def _without(teeth: Teeth, stray: set[int]) -> Teeth:
    """The mentions of a list of which something is said: a stray number says nothing of the numbering."""
    kept = [index for index, ref in enumerate(teeth.refs) if id(ref) not in stray]
    return Teeth(
        [teeth.refs[index] for index in kept], [teeth.joints[index] for index in kept], minus=teeth.minus
    )


def _idle(
    gatherer: Gatherer, teeth: Teeth, items: Sequence[Item], place: Sequence[str | None], settled: Settled
) -> None:
    """Teeth of which nothing is said: where nothing else is said to be missing in their arch, a list is what the
    denture is for. What is left stays in the note, and marks whatever else is said of these teeth."""
    at = next(index for index, item in enumerate(items) if item.start <= teeth.start < item.end)
    words = gatherer.words(teeth.start, teeth.end)
    only = bool(items[at].extra.get("only"))
    if all(ref.relative or (ref.by_name and not (only and ref.quadrant)) for ref in teeth.refs):
        return
    numbered = [index for index, ref in enumerate(teeth.refs) if ref.number is not None]
    if 0 < len(numbered) < len(teeth.refs):  # "35-36 and 45-46 (the second molars are there)"
        teeth = Teeth([teeth.refs[index] for index in numbered], [teeth.joints[index] for index in numbered])
    if _breaks_off(items, at):
        gatherer.found.questions.append((place[at], Question(words, "the sentence breaks off: what of it?")))
        return
    known = [tooth for one in meant(teeth, place[at], settled) for tooth in one.teeth]
    roots = {one.teeth[0] for _, one in gatherer.found.proposals if one.path.endswith("].kind")}
    spoken = {
        arch
        for arch, one in gatherer.found.proposals
        if one.path == "missing" and not set(one.value) <= roots
    }
    more = only and bool(spoken & {arch_of(tooth) for tooth in known})
    if len(teeth.refs) == 1 and teeth.refs[0].upto is None and not (more or _only_behind(items, at)):
        return  # a lone number beside other words is a date, an age or a count as often as a tooth
    spoken |= {arch for arch, _, _ in gatherer.found.standing}
    if not known or (spoken & {arch_of(tooth) for tooth in known} and not more):
        return
    found, _ = gatherer.resolved(teeth, place[at], None)
    if _only_before(items, at):
        for group in by_arch(found):
            gatherer.found.standing.append((arch_of(group[0]), set(group), words))
    else:
        gatherer.propose_missing(found, words, "no word says so: taken for the teeth to be replaced")


def _breaks_off(items: Sequence[Item], at: int) -> bool:
    """Whether dots end the sentence of a tooth before anything is said of it ("21 will be..., Akers 19")."""
    after = [item for item in items[at + 1 :] if item.kind not in ("filler", "mark")][:2]
    return len(after) == 2 and after[0].kind == "to" and after[1].kind in PART


def _only_before(items: Sequence[Item], at: int) -> bool:
    before = next((item for item in reversed(items[:at]) if item.kind not in ("filler", "on", "arch")), None)
    return before is not None and before.kind == "only"


def _only_behind(items: Sequence[Item], at: int) -> bool:
    """Whether a lone tooth makes up its part with an arch before it and "only" behind it ("Mand: 36 seulement")."""
    behind = items[at + 1 : at + 3]
    ended = len(behind) < 2 or behind[1].kind in PART
    meanings = behind[0].match.meanings if behind and behind[0].match is not None else ()
    said = any(one.kind == "join" and one.identifier == "only" for one in meanings)
    said = said or any(lx.fold(one.phrase) in map(lx.fold, listed("nothing_there")) for one in meanings)
    before = next(
        (item for item in reversed(items[:at]) if item.kind not in ("filler", "counted", "colon")), None
    )
    return ended and said and before is not None and before.kind in ("arch", *PART)


def _stands_alone(items: Sequence[Item], at: int) -> bool:
    """Whether a list of teeth makes up its part of the sentence, with nothing beside it but the arch, the numbering and
    words that say nothing."""
    for step in (-1, 1):
        index = at + step
        while 0 <= index < len(items) and items[index].kind not in PART:
            if items[index].kind not in (
                "arch",
                "filler",
                "colon",
                "mark",
                "on",
                "from",
                "numbering",
                "fact",
            ):
                if items[index].kind != "and":
                    return False
                break
            index += step
    return len(items[at].value.refs) > 1


def _by_arch(
    text: str,
    tokens: Sequence[Token],
    items: Sequence[Item],
    place: Sequence[str | None],
    found: Found,
    settled: Settled,
    named: Sequence[str],
) -> list[ArchOrder]:
    arches = _arches(found, named, place)
    if len(arches) > 1 and any(item.kind == "single" for item in items):
        arches = []  # numbers of both arches, and one denture: which of them is wrong has to be asked
    unread, withheld = _unread(text, tokens, items, place, found)
    made: list[ArchOrder] = []
    spoken = {arch for arch, _ in (*found.proposals, *found.questions)} | {
        arch for arch, _, _ in found.standing
    }
    if len(arches) > 1 and spoken & set(arches):
        arches = [arch for arch in arches if arch in spoken]  # an arch that is only mentioned is not ordered
    for arch in arches or [None]:
        only = len(arches) < 2
        parts = compose(found, arch, only)
        parts.proposals = beside_unread(
            parts.proposals, tokens, items, [words for _, words in (*unread, *withheld)], place, settled
        )
        parts.proposals = beside_question(parts.proposals, tokens, items, parts.questions)
        here = [words for where, words in unread if where in (None, arch) or only]
        kept = [words for where, words in withheld if where in (None, arch) or only]
        if here:
            parts.case.setdefault("prescription", {})["note"] = "; ".join(words.text for words in here)
        asked = [
            *parts.questions,
            *palate_free(parts.proposals, tokens, here),
            *numbering_doubted(tokens, here, settled),
        ]
        if not parts.proposals and not asked and any(item.kind not in _SILENT for item in items):
            asked.append(
                Question(Words(text.strip()[:60], 0, min(60, len(text))), "which teeth, and what for?")
            )
        if arch is None:
            asked += _arch_question(text, named, found, asked)
        if not asked:
            parts.proposals, asked = without_missing(parts.proposals, tokens, items, here)
        made.append(
            ArchOrder(
                arch,
                settled.system,
                settled.because,
                parts.case,
                tuple(parts.proposals),
                tuple(asked),
                tuple(here),
                tuple(kept),
            )
        )
    return beside_open(made)


def _arches(found: Found, named: Sequence[str], place: Sequence[str | None]) -> list[str | None]:
    """The arches of the order; none where the numbers speak against the only arch that is named."""
    placed = {arch for arch, one in found.proposals if arch is not None and _settles(one.path)}
    placed |= {arch for arch, _, _ in found.standing}
    held = {arch for arch, one in found.proposals if one.teeth} | {arch for arch, _, _ in found.standing}
    if len(named) == 1 and found.misplaced - set(named) and not (held & set(named)):
        return []
    if len(named) == 1:
        return [*named]
    spoken: set[str | None] = {*placed, *named, *(arch for arch in place if arch is not None)}
    return [arch for arch in ARCHES if arch in spoken]


def _settles(path: str) -> bool:
    return not path.startswith(
        ("occlusion.", "patient.", "palate.", "floor.", "records.", "prescription.alloy")
    )


def _arch_question(
    text: str, named: Sequence[str], found: Found, asked: Sequence[Question]
) -> list[Question]:
    if named and found.misplaced:
        return [
            Question(Words("", 0, 0), "upper or lower? The words and the tooth numbers contradict each other")
        ]
    if any("numbering" in one.why or "upper or lower" in one.why for one in asked):
        return []
    return [Question(Words(text.strip()[:60], 0, min(60, len(text))), "upper or lower arch?")]


# what stayed unread


def _unread(
    text: str,
    tokens: Sequence[Token],
    items: Sequence[Item],
    place: Sequence[str | None],
    found: Found,
) -> tuple[list[tuple[str | None, Words]], list[tuple[str | None, Words]]]:
    """Pieces of the order that no proposal covers, and those among them that may name a person."""
    read: list[tuple[str | None, Words]] = []
    withheld: list[tuple[str | None, Words]] = []
    run: list[int] = []
    hits = look(text)

    def close() -> None:
        loud = [index for index in run if items[index].kind in _LOUD and not _names_a_field(items[index])]
        if loud:
            first, last = _trimmed(items, run)
            start, end = tokens[items[first].start].start, tokens[items[last].end - 1].end
            words = Words(text[start:end], start, end)
            named = _under_heading(items, run) or any(hit.start < end and start < hit.end for hit in hits)
            (withheld if named else read).append((place[first], words))
        run.clear()

    for index, item in enumerate(items):
        covered = any(token in found.covered for token in range(item.start, item.end))
        if covered or item.kind in PART or item.kind in ("arch", "numbering"):
            close()
        else:
            run.append(index)
    close()
    return read, withheld


def _names_a_field(item: Item) -> bool:
    """Whether an item is only the name of a part of the prescription ("connector:", "Material:")."""
    return item.kind == "heading" and str(item.value).startswith("prescription.")


def _trimmed(items: Sequence[Item], run: Sequence[int]) -> tuple[int, int]:
    """First and last item of a run without joints and marks at its ends."""
    kept = [
        i
        for i in run
        if items[i].kind not in ("and", "or", "to", "on", "from", "colon", "mark", "open", "close")
    ]
    return (kept or list(run))[0], (kept or list(run))[-1]


def _under_heading(items: Sequence[Item], run: Sequence[int]) -> bool:
    """Whether a piece begins with the heading of a name, a date of birth or the like, and a colon after it."""
    for index in run[:-1]:
        match = items[index].match
        if match is not None and items[index + 1].kind == "colon":
            return any(one.kind == "heading" and one.identifier == "identity" for one in match.meanings)
    return False
