"""``library duplicates`` and ``conflicts``: cases that repeat each other, and like situations decided differently."""

import os
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import click

from recommender.cli import output
from recommender.cli.advise.libraries import library_option
from recommender.cli.library.common import HELP, progress, source, table, told
from recommender.cli.library.study import standing

if TYPE_CHECKING:
    from recommender.curation.conflicts import Conflict
    from recommender.wording.words import Words

EXACT_UP_TO = 500  # cases: beyond, each situation is not compared with every other any more


@click.command(context_settings=HELP)
@library_option()
@click.option(
    "--least", type=click.FloatRange(0.5, 1.0), default=None, help="Least share of fields in common."
)
@output.json_option()
@output.words_options()
def duplicates(where: str | None, least: float | None, as_json: bool, words: "Words") -> None:
    """Cases that nearly repeat each other, side by side.

    \b
    Example: rpd-casebook library duplicates --library cases.db
    """
    with told():
        from recommender.curation.duplicates import near_duplicates, stored_near_duplicates
        from recommender.precedents.store.database_source import DatabaseSource
        from recommender.precedents.store.importing.near_duplicates import LEAST_OVERLAP

        library = source(where)
        if isinstance(library, DatabaseSource):
            with progress("comparing", library.count()) as step:
                wanted = least or LEAST_OVERLAP
                jobs = os.cpu_count() or 1
                pairs = stored_near_duplicates(library.library, wanted, lambda done, _of: step(done), jobs)
        else:
            pairs = near_duplicates(library.cases(), least or LEAST_OVERLAP)
    from recommender.domain.labels import field_unit
    from recommender.wording.values import value

    for pair in pairs:
        if as_json:
            output.emit({
                "format": 1, "first": pair.first, "second": pair.second, "overlap": pair.overlap,
                "differences": [{"field": p, "first": a, "second": b} for p, a, b in pair.differences],
            })  # fmt: skip
            continue
        made = table(
            output.told("library.same_b", overlap=f"{pair.overlap:.0%}"), "field", pair.first, pair.second
        )
        for path, one, other in pair.differences:
            made.add_row(words.path(path), *(value(words, each, field_unit(path)) for each in (one, other)))
        output.console().print(made)
    if not as_json:
        click.echo(output.told("library.pairs", pairs=len(pairs)))


@click.command(context_settings=HELP)
@library_option()
@click.option("--for", "decision", type=click.Choice(["retainer", "rest", "connector", "replacement"]), default=None,
              help="Only this decision.")  # fmt: skip
@click.option("--most", type=click.IntRange(min=1), default=40, show_default=True, help="How many to show.")
@output.json_option()
@output.words_options()
def conflicts(where: str | None, decision: str | None, most: int, as_json: bool, words: "Words") -> None:
    """The same situation, another choice: where designers differed. Teaching material, not mistakes.

    \b
    Example: rpd-casebook library conflicts --library cases.db --for connector
    """
    with told():
        number, found, large = _conflicts(where, decision, most)
    if as_json:
        for one in found:
            output.emit({
                "format": 1, "decision": one.first.kind, "alike": one.alike,
                "first": _side(one.first), "second": _side(one.second),
                "differs": [{"feature": line.feature, "first": _said(line.here), "second": _said(line.there)}
                            for line in one.differs],
            })  # fmt: skip
        return
    from recommender.wording.values import value

    made = table("", "decision", "likeness", "case", "choice", "case", "choice", "differs in")
    for one in found:
        differs = "; ".join(
            f"{line.label} ({', '.join(value(words, each, line.unit) for each in (line.here, line.there))})"
            for line in one.differs[:4]
        )
        kind = one.first.kind
        sides = (
            text
            for side in (one.first, one.second)
            for text in (_place(side, words), words.option(kind, side.choice))
        )
        made.add_row(words.term("decision", kind), f"{one.alike:.2f}", *sides, differs)
    output.console().print(made)
    click.echo(
        words.told("library.conflicts", number=number)
        + (words.told("library.first_shown_a", most=most) if number > most else "")
    )
    if large:
        click.echo(
            "(of a large library: pairs that lie beside each other in sorted order; there may be more)"
        )


def _conflicts(where: str | None, decision: str | None, most: int) -> tuple[int, Sequence["Conflict"], bool]:
    """How many there are, the most alike, and whether it is a large library, where not every pair is compared."""
    from recommender.precedents.store.database_source import DatabaseSource

    library = source(where)
    if isinstance(library, DatabaseSource) and library.count() > EXACT_UP_TO:
        from recommender.curation.conflict_search import stored_conflicts

        with progress("comparing", None) as step:
            stored = stored_conflicts(
                standing(library), most, decision, told=lambda done, _of: step(done), jobs=os.cpu_count() or 1
            )
        return stored.number, stored.first, True
    from recommender.curation.conflicts import conflicts as differing

    found = [one for one in differing(library.cases()) if decision in (None, one.first.kind)]
    return len(found), found[:most], False


def _side(situation: Any) -> dict[str, object]:
    return {
        "case": situation.case_id,
        "site": situation.site,
        "choice": situation.choice,
        "fared": situation.verdict,
    }


def _place(situation: Any, words: "Words") -> str:
    site = words.tooth(situation.site) if situation.site else None
    return words.told("case_at", case=str(situation.case_id), site=site)


def _said(value: object) -> str:
    from recommender.domain.errors import shown

    if isinstance(value, frozenset):
        value = sorted(value)
    return "not recorded" if value is None else shown(value)
