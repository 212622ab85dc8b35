"""``exercise whole``: a framework made of chosen parts, held against the checks of the program's own proposals."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from recommender.cli import output
from recommender.cli.advise.libraries import library_option
from recommender.cli.library.common import HELP, told
from recommender.cli.teach.exercise_cases import answers_of, find, held_cases, recommender_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    from recommender.curation.teaching.whole import Told
    from recommender.domain.case import Case
    from recommender.wording.words import Words

_SYMBOLS = {"failed": "✕", "not_checked": "○", "passed_with_preparation": "◐", "passed": "✓"}


@click.command(context_settings=HELP)
@click.argument("identifier", metavar="EXERCISE")
@click.argument("parts", nargs=-1, metavar="[DECISION=OPTION]...")
@library_option()
@click.option("--answers", "file", type=click.Path(path_type=Path, dir_okay=False), default=None,
              help="A YAML or JSON file of DECISION: OPTION.")  # fmt: skip
@click.option("--drawing", type=click.Path(path_type=Path, dir_okay=False), default=None,
              help="Write what was chosen, drawn on the arch, to this SVG file.")  # fmt: skip
@output.json_option()
@output.words_options()
def whole(
    identifier: str,
    parts: tuple[str, ...],
    where: str | None,
    file: Path | None,
    drawing: Path | None,
    as_json: bool,
    words: "Words",
) -> None:
    """Make a whole framework of chosen parts and check it as the program checks its own proposals.

    What is left open is chosen by the program. Nothing is kept: what lies between the parts is told, to be tried again.

    \b
    Example: rpd-casebook exercise whole ex-1a2b3c4d connector=lingual_bar retainer:35=rpa retainer:45=rpa
    """
    from recommender.cli.advise.decisions import canonical

    given = {canonical(asked, words): option for asked, option in answers_of(parts, file).items()}
    with told():
        from recommender.curation.teaching.exercises import Examiner, UnknownAnswerError
        from recommender.curation.teaching.whole import checked_answers
        from recommender.curation.teaching.whole import told as said_of

        case, _ = find(held_cases(where), identifier)
        examiner = Examiner(case, recommender_of(where))
        try:
            checked_answers(examiner, given)
        except UnknownAnswerError as error:
            raise click.UsageError(str(error)) from None
        if drawing is not None:
            _draw(examiner.analysis.case, given, drawing)
        found = said_of(examiner, given)
    if as_json:
        output.emit(_document(identifier, given, found, words))
    else:
        _print(found, words)


def _draw(case: "Case", given: "Mapping[str, str]", target: Path) -> None:
    from recommender.curation.teaching.whole import drawn
    from recommender.documents.drawing import arch_drawing
    from recommender.precedents.store.exporting.export import replacing

    with replacing(target) as part:
        part.write_text(arch_drawing(case, drawn(given)).svg, encoding="utf-8")


def _print(found: "Told", words: "Words") -> None:
    if found.framework is None:
        click.echo(words.told("practice.cannot_be_built", why=found.why_not))
        return
    failed = sum(check.outcome == "failed" for check in found.checks)
    fail = words.told("practice.checks_fail", failed=failed, checks=len(found.checks))
    click.echo(f"{fail} {words.said(found.standing)}".rstrip())
    for check in sorted(found.checks, key=lambda check: list(_SYMBOLS).index(check.outcome)):
        click.echo(f"  {_SYMBOLS[check.outcome]} {words.text(check.statement)} ({check.source})")
    for line in (*found.framework.gives_up, *found.framework.cautions):
        click.echo(f"  - {words.text(line)}")


def _document(
    identifier: str, given: "Mapping[str, str]", found: "Told", words: "Words"
) -> dict[str, object]:
    from recommender.documents.results.stated import listed, stated

    made = found.framework
    return {
        "format": 1, "exercise": identifier, "parts": dict(given), "built": made is not None,
        "refused": None if found.refused is None else stated(words, found.refused),
        "behind": found.behind,
        "checks": [
            {"id": check.id, "outcome": check.outcome, **stated(words, check.statement), "source": check.source}
            for check in found.checks
        ],
        **listed(words, "cautions", () if made is None else (*made.gives_up, *made.cautions)),
    }  # fmt: skip
