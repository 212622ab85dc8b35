"""The ``--for`` option: one decision, as ``retainer:14``, ``rest:14``, ``replacement:15`` or ``connector``."""

import re
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from recommender.advice.analysis import CaseAnalysis
    from recommender.advice.model import Decision

_FORM = re.compile(r"(retainer|rest|replacement):(\d{2})|connector")
HELP = "One decision: retainer:14, rest:14, replacement:15 or connector."


def parse_decision(text: str, analysis: "CaseAnalysis") -> "Decision":
    """The decision that the text names; wrong use (exit status 2) if it is none, or none of this case."""
    from recommender.advice.model import Decision

    known = [decision.key for decision in analysis.decisions()]
    found = _FORM.fullmatch(text)
    decision = None
    if found:
        decision = Decision(found[1], int(found[2])) if found[1] else Decision("connector")
    if decision is None or decision.key not in known:
        raise click.UsageError(f"--for {text}: {analysis.case.id} has {', '.join(known)}")
    return decision
