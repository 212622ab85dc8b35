"""``exercise progress``: how a learner or the class comes on, week by week, and how hard the decisions proved."""

from typing import TYPE_CHECKING

import click

from recommender.cli import output
from recommender.cli.advise.libraries import library_option
from recommender.cli.library.common import HELP, database, table, told

if TYPE_CHECKING:
    from recommender.curation.teaching.items import Known
    from recommender.curation.teaching.over_time import Week


@click.command(context_settings=HELP)
@library_option()
@click.option("--learner", default=None, metavar="ALIAS", help="Only this learner. Left out: the class.")
@click.option("--items", "with_items", is_flag=True,
              help="Also how hard the decisions answered most proved, and how well they tell learners apart.",
              )  # fmt: skip
@output.json_option()
def progress(where: str | None, learner: str | None, with_items: bool, as_json: bool) -> None:
    """Answers that were not wrong, week by week, of a learner or of the class. A near tie is never wrong.

    \b
    Example: rpd-casebook exercise progress --learner "blue heron" --library cases.db
             rpd-casebook exercise progress --items --library cases.db
    """
    with told(), database(where, write=False) as library:
        from recommender.curation.teaching import items, learners
        from recommender.curation.teaching.over_time import weeks

        if learner is None or with_items:
            library.require("class")
        found = weeks(learners.answered(library, learner))
        known = items.known(learners.replies(library)) if with_items else None
    if as_json:
        output.emit(_document(learner, found, known))
        return
    if not found:
        click.echo("Nothing is kept yet.")
        return
    made = table(learner or "the class", "week of", "answers", "not wrong", "95 % interval")
    for one in found:
        made.add_row(
            one.monday,
            str(one.answers),
            f"{one.share:.0%}",
            output.told("verb.from_to", low=f"{one.low:.0%}", high=f"{one.high:.0%}"),
        )
    output.console().print(made)
    if known is not None:
        _print_items(known)


def _document(learner: str | None, found: "list[Week]", known: "Known | None") -> dict[str, object]:
    weekly = [
        {"week": one.monday, "answers": one.answers, "right": one.right, "low": one.low, "high": one.high}
        for one in found
    ]
    told_items = None if known is None else [
        {"case": item[0], "decision": item[1], "answers": known.answers[item], "difficulty": known.difficulty[item],
         "telling": known.telling[item]}
        for item in known.often()
    ]  # fmt: skip
    return {
        "format": 1,
        "learner": learner,
        "weeks": weekly,
        **({} if known is None else {"items": told_items}),
    }


def _print_items(known: "Known") -> None:
    made = table("decisions answered most (difficulty in logits, 0 is middling)", "case", "decision", "answers",
                 "difficulty", "tells apart")  # fmt: skip
    for item in known.often():
        telling = known.telling[item]
        made.add_row(*item, str(known.answers[item]), f"{known.difficulty[item]:+.1f}",
                     "too few" if telling is None else f"{telling:+.2f}")  # fmt: skip
    output.console().print(made)
