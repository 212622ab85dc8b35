"""Statements that several papers make: unrecorded fields by tooth, where a part stands, the foot of the page."""

import re
from collections.abc import Iterable, Mapping, Sequence

from recommender.advice.model import Recommendation
from recommender.documents import blocks
from recommender.documents.proposal import Origin
from recommender.domain.case import Case
from recommender.domain.dentition import ARCH_ORDER, is_tooth
from recommender.domain.fields import asked_in_vain
from recommender.domain.statement import Arg, Choice, Field, Name, Said, Statement, Word, say, several, tooth
from recommender.domain.statement import teeth as teeth_of
from recommender.wording.words import Words

_SITE = re.compile(r"\[(\d+)\]")
SIGNATURE = ("name", "signed", "date")


def fields_said(case: Case, paths: Iterable[str]) -> list[Statement]:
    """Unrecorded fields; several fields of one tooth or space share a line."""
    grouped: dict[tuple[str, int], list[Arg]] = {}
    for path in dict.fromkeys(paths):
        site = next((int(found) for found in _SITE.findall(path)), 0)
        if not is_tooth(site):
            grouped[(path, 0)] = [_field(case, path, path)]
            continue
        place = "papers.fields_of_space" if path.startswith("spans") else "papers.fields_of_tooth"
        grouped.setdefault((place, site), []).append(_field(case, path, _SITE.sub("", path)))
    return [
        say(place, tooth=tooth(site), fields=several(fields))
        if site
        else say("papers.field", field=fields[0])
        for (place, site), fields in grouped.items()
    ]


def _field(case: Case, path: str, shown: str) -> Arg:
    return say("field.asked_in_vain", field=Field(shown)) if asked_in_vain(case, path) else Field(shown)


def options_at(kind: str, choices: Mapping[int, str]) -> list[Statement]:
    """Like options together, with the teeth that carry them."""
    by_option: dict[str, list[int]] = {}
    for number, option in sorted(choices.items()):
        by_option.setdefault(option, []).append(number)
    return [
        say("papers.at", what=Choice(kind, option), teeth=teeth_of(numbers))
        for option, numbers in by_option.items()
    ]


def runs_in(arch: str, numbers: Iterable[int]) -> list[list[int]]:
    """Teeth in the order of the arch, neighbours together."""
    order, wanted = ARCH_ORDER[arch], set(numbers)
    runs: list[list[int]] = []
    for number in order:
        if number not in wanted:
            continue
        if runs and order.index(runs[-1][-1]) == order.index(number) - 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return runs


def where(arch: str, numbers: Sequence[int]) -> Statement:
    """Teeth as a technician writes them: runs of three and more by their ends."""
    parts: list[Arg] = []
    for run in runs_in(arch, numbers):
        if len(run) > 2:
            parts.append(say("papers.run", first=tooth(run[0]), last=tooth(run[-1])))
        else:
            parts += [tooth(one) for one in run]
    return say("papers.row", parts=several(parts, "comma"))


def heading(code: str, words: Words) -> blocks.Block:
    """The heading of a part of a paper, such as ``letter.section.asked``."""
    return blocks.heading(words.text(say(code)))


def foot(case: Case, origin: Origin, code: str, who: str) -> Statement:
    """The words at the foot of every page."""
    return say(
        "papers.foot", case=Name(case.id), design=Name(code), rules=Said(origin.rules), library=Name(origin.library),
        demo=say("papers.foot_demo") if origin.demo else None, who=say(who),
    )  # fmt: skip


def subtitle(answer: Recommendation, code: str, words: Words) -> str:
    """To whom, about which case."""
    return words.text(
        say(
            "letter.subtitle", case=Name(answer.case.id), arch=Word("arch", answer.case.arch),
            kennedy=Said(answer.kennedy.label), design=Name(code),
        )
    )  # fmt: skip
