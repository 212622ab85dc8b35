"""The ``--for`` option: one decision, as ``retainer:14``, ``rest:14``, ``replacement:15`` or ``connector``."""

import re
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from recommender.advice.analysis import CaseAnalysis
    from recommender.advice.model import Decision
    from recommender.wording.words import Words

_FORM = re.compile(r"(retainer|rest|replacement):(\d{1,2})|connector")
HELP = "One decision: retainer:14, rest:14, replacement:15 or connector; the tooth as --numbering counts."


def parse_decision(text: str, analysis: "CaseAnalysis", words: "Words") -> "Decision":
    """The decision that the text names, its tooth in the reader's numbering.

    Wrong use (exit status 2) if it is none, or none of this case.
    """
    known = {shown(decision, words): decision for decision in analysis.decisions()}
    found = _FORM.fullmatch(text)
    wanted = shown_as(found[1], found[2]) if found and found[1] else text
    if found is None or wanted not in known:
        raise click.UsageError(f"--for {text}: {analysis.case.id} has {', '.join(known)}")
    return known[wanted]


def shown(decision: "Decision", words: "Words") -> str:
    """A decision as it is written on the command line, in the reader's numbering."""
    return shown_as(decision.kind, words.tooth(decision.tooth)) if decision.tooth else decision.kind


def shown_as(kind: str, tooth: str) -> str:
    """``retainer:14``."""
    return f"{kind}:{int(tooth)}"


def named(text: str, words: "Words") -> str:
    """A decision written as ``retainer:14`` in words, in the reader's numbering; any other text as it stands."""
    from recommender.advice.model import Decision

    found = _FORM.fullmatch(text)
    if found is None:
        return text
    return words.choice(Decision(found[1], int(found[2])) if found[1] else Decision("connector"))


def canonical(text: str, words: "Words") -> str:
    """A decision as the reader wrote it, with its tooth by ISO 3950; any other text as it stands."""
    from recommender.domain.numbering import to_iso

    found = _FORM.fullmatch(text)
    if found is None or not found[1] or words.numbering == "iso":
        return text
    try:
        return shown_as(found[1], str(to_iso(int(found[2]))))
    except ValueError:
        return text
