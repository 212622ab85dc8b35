"""``library bulk``: one act on every case that a search finds."""

import sys
from typing import TYPE_CHECKING, Any

import click

from recommender.cli import output
from recommender.cli.advise.libraries import library_option
from recommender.cli.library.common import HELP, database, told, who_option

if TYPE_CHECKING:
    from recommender.wording.words import Words


@click.command("bulk", context_settings=HELP)
@click.argument("act", type=click.Choice(["approve", "looked-at", "redact", "retire", "reopen", "delete"]))
@library_option()
@who_option()
@click.option("--reason", "why", default="", help="Kept with every case; only approving can do without.")
@click.option(
    "--status", type=click.Choice(["draft", "approved", "retired"]), default=None, help="In this state."
)
@click.option("--arch", type=click.Choice(["maxilla", "mandible"]), default=None, help="Of this arch.")
@click.option("--kennedy", default=None, help="Of this class, as in 'Class II, modification 1'.")
@click.option("--with-outcome", is_flag=True, help="Of which it is known how they fared.")
@click.option("--text", default="", help="Whose id or title holds this.")
@click.option("--case", "ids", multiple=True, metavar="ID", help="Only this case; may be given again.")
@click.option("--field", default="", help="redact: the field whose text is taken out, e.g. title.")
@click.option("--apply", is_flag=True, help="Do it. Left out: a trial, which writes nothing.")
@output.words_options()
@output.json_option()
def bulk(
    act: str, where: str | None, who: str, why: str, ids: tuple[str, ...], field: str, apply: bool, as_json: bool,
    with_outcome: bool, words: "Words", **search: Any,
) -> None:  # fmt: skip
    """Do ACT to every case that is meant: approve, looked-at, redact, retire, reopen or delete.

    Without --apply this is a trial, which says what would happen to each. A case that is refused stops no other.
    What is deleted is gone with its history; who took it out, when and why stays.

    \b
    Example: rpd-casebook library bulk approve --library cases.db --who tutor --status draft --text NQ-
             rpd-casebook library bulk retire --library cases.db --who tutor --text trial --reason "trial cases" --apply
    """
    if act == "redact" and not field:
        raise click.UsageError("redact: name the text with --field, as the warnings of 'library check' do")
    done = refused = 0
    with told():
        from recommender.curation.bulk import Search, act_on

        meant = Search(ids=ids, outcome_known=True if with_outcome else None, **search)
        with database(where, write=apply) as library:
            for one in act_on(
                library, act, meant, who=who, why=why, field=field, trial=not apply, words=words
            ):
                done += bool(one.done)
                refused += bool(one.refused)
                if as_json:
                    output.emit({"format": 1, "case": one.case_id, "done": one.done, "refused": one.refused})
                else:
                    click.echo(f"{one.case_id}: {one.done or f'refused: {one.refused}'}")
    if not as_json:
        click.echo(output.told("library.bulk" if apply else "library.bulk_trial", done=done, refused=refused))
    if not apply:
        output.warn("A trial: nothing was written. Add --apply to do it.")
    if refused and apply:
        sys.exit(output.INVALID)
