"""``exercise``: set, answer, print and review exercises from approved cases."""

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from recommender.cli import output
from recommender.cli.advise.libraries import library_option
from recommender.cli.library.common import HELP, database, table, told
from recommender.cli.teach.exercise_cases import answers_of, find, held_cases, recommender_of, some_of
from recommender.cli.teach.exercise_class import progress
from recommender.cli.teach.exercise_whole import whole
from recommender.precedents.store.errors import NoSuchCase

if TYPE_CHECKING:
    from recommender.advice.recommend import Recommender
    from recommender.curation.teaching.exercises import Exercise, Feedback
    from recommender.domain.case import Case
    from recommender.wording.words import Words


def _learner_option() -> Callable[[Any], Any]:
    return click.option(
        "--learner", envvar="RPD_CASEBOOK_LEARNER", required=True, metavar="ALIAS",
        help="An alias, not a name: letters, digits, spaces. Also from RPD_CASEBOOK_LEARNER.",
    )  # fmt: skip


@click.group(context_settings=HELP)
def exercise() -> None:
    """Exercises from approved cases: make every decision, then hear what the rules and precedents say to
    each.

    An answer is never just right or wrong. Results are kept by alias in a database library; principles that
    were missed come back in growing steps. For teaching only: the prescribing dentist decides about patients.

    \b
    Example: rpd-casebook exercise set --learner "blue heron" --library cases.db
    """


exercise.add_command(whole)
exercise.add_command(progress)


@exercise.command("set", context_settings=HELP)
@library_option()
@_learner_option()
@click.option("--case", "case_id", default=None, help="This case, instead of the one that suits the learner.")
@output.json_option()
@output.words_options()
def set_exercise(where: str | None, learner: str, case_id: str | None, as_json: bool, words: "Words") -> None:
    """Show a case without its design, and the decisions to make.

    \b
    Example: rpd-casebook exercise set --learner "blue heron" --library cases.db
    """
    with told():
        made = _choose(where, learner, case_id)
    from recommender.cli.advise.decisions import shown
    from recommender.curation.teaching.sheets import arch_marks, findings
    from recommender.precedents.store.documents import as_data

    if as_json:
        output.emit({
            "format": 1, "exercise": made.id, "kennedy": made.kennedy, "difficulty": made.difficulty,
            "case": as_data(made.case),
            "questions": [{"decision": q.decision.key, "options": list(q.options)} for q in made.questions],
        })  # fmt: skip
        return
    click.echo(
        words.told(
            "practice.exercise_difficulty",
            id=made.id,
            arch=made.case.arch,
            kennedy=made.kennedy,
            difficulty=f"{made.difficulty:.0%}",
        )
    )
    marks = arch_marks(made.case)
    click.echo(" ".join(f"{words.tooth(tooth):>2}" for tooth, _ in marks))
    click.echo(words.told("practice.marks", marks=" ".join(f" {mark}" for _, mark in marks)))
    for field, value in findings(made.case):
        click.echo(f"  {words.path(field)}: {value}")
    click.echo("Decide:")
    for question in made.questions:
        asked = shown(question.decision, words)
        click.echo(f"  {words.choice(question.decision)} ({asked}): {', '.join(question.options)}")
    click.echo(
        words.told("practice.then_rpd_casebook", id=made.id, shown=shown(made.questions[-1].decision, words))
    )


@exercise.command(context_settings=HELP)
@click.argument("identifier", metavar="EXERCISE")
@click.argument("answers", nargs=-1, metavar="[DECISION=OPTION]...")
@library_option()
@_learner_option()
@click.option("--answers", "file", type=click.Path(path_type=Path, dir_okay=False), default=None,
              help="A YAML or JSON file of DECISION: OPTION.")  # fmt: skip
@output.json_option()
@output.words_options()
def answer(
    identifier: str,
    answers: tuple[str, ...],
    where: str | None,
    learner: str,
    file: Path | None,
    as_json: bool,
    words: "Words",
) -> None:
    """Answer some or all decisions of an exercise and hear what is said to each.

    \b
    Example: rpd-casebook exercise answer ex-1a2b3c4d retainer:14=i_bar connector=palatal_strap --learner
    heron
    """
    from recommender.cli.advise.decisions import canonical
    from recommender.curation.teaching.exercises import UnknownAnswerError, feedback

    given = {canonical(asked, words): option for asked, option in answers_of(answers, file).items()}
    with told():
        held = held_cases(where)
        case, revision = find(held, identifier)
        recommender = recommender_of(where)
        try:
            said = feedback(case, given, recommender)
        except UnknownAnswerError as error:
            raise click.UsageError(str(error)) from None
        stored = _store(where, learner, case, revision, recommender, said)
    for line in said:
        if as_json:
            output.emit(_document(identifier, line, words))
        else:
            _print(line, words)
    if not stored:
        output.warn("Not stored: results are kept only in a database library ('library init').")


@exercise.command("print", context_settings=HELP)
@click.option("-o", "--output", "target", type=click.Path(path_type=Path, dir_okay=False), required=True,
              help="The sheet (HTML, to be printed).")  # fmt: skip
@click.option("--key", "key_file", type=click.Path(path_type=Path, dir_okay=False), default=None,
              help="The key, a paper of its own.")  # fmt: skip
@click.option("--case", "case_ids", multiple=True, help="A case to set; may be given again.")
@click.option(
    "--number", type=click.IntRange(1, 30), default=3, show_default=True, help="How many, without --case."
)
@click.option(
    "--title", default="Exercises in framework design", show_default=True, help="Heading of the sheet."
)
@library_option()
@output.words_options()
def print_sheet(
    target: Path,
    key_file: Path | None,
    case_ids: tuple[str, ...],
    number: int,
    title: str,
    where: str | None,
    words: "Words",
) -> None:
    """Write a printable sheet of exercises, and its key separately.

    \b
    Example: rpd-casebook exercise print -o sheet.html --key key.html --number 4
    """
    with told():
        from recommender.curation.teaching import sheets
        from recommender.curation.teaching.exercises import exercise as made_of
        from recommender.precedents.store.exporting.export import replacing

        held = held_cases(where)
        chosen = list(case_ids) or some_of(held, number)
        missing = [case_id for case_id in chosen if case_id not in held]
        if missing:
            raise NoSuchCase(f"no approved case {missing[0]!r} in this library")
        recommender = recommender_of(where)
        pairs = [(made_of(*held[case_id], recommender), held[case_id][0]) for case_id in chosen]
        with replacing(target) as part:
            part.write_text(sheets.sheet([made for made, _ in pairs], words, title), encoding="utf-8")
        if key_file is not None:
            with replacing(key_file) as part:
                part.write_text(sheets.key(pairs, recommender, words, f"Key: {title}"), encoding="utf-8")
    click.echo(
        words.told("practice.exercises_a", target=target, pairs=len(pairs))
        + (f"; key: {key_file}" if key_file else "")
    )


@exercise.command(context_settings=HELP)
@library_option()
@click.option("--learner", default=None, metavar="ALIAS", help="Only this learner. Left out: everybody.")
@output.json_option()
def results(where: str | None, learner: str | None, as_json: bool) -> None:
    """What learners answered, and which principles are due to be met again.

    \b
    Example: rpd-casebook exercise results --learner "blue heron" --library cases.db
    """
    with told(), database(where, write=False) as library:
        from recommender.curation.teaching import learners

        found = [
            learners.progress(library, alias)
            for alias in ([learner] if learner is not None else learners.learners(library))
        ]
    from recommender.wording.words import words_in

    for one in found:
        if as_json:
            from dataclasses import asdict

            output.emit({"format": 1} | asdict(one))
            continue
        words = words_in()
        standing = "; ".join(
            f"{number} {words.term('standing', name)}" for name, number in one.by_standing.items() if number
        )
        click.echo(
            output.told(
                "practice.answers", learner=one.learner, answers=one.answers, standing=standing or None
            )
        )
        if one.principles:
            made = table("principles missed", "rule", "due", "missed", "met since")
            for principle in one.principles:
                made.add_row(principle.id, principle.due[:10], str(principle.missed), str(principle.met))
            output.console().print(made)


@exercise.command(context_settings=HELP)
@library_option()
@_learner_option()
@click.option("--yes", is_flag=True, help="Do not ask.")
def forget(where: str | None, learner: str, yes: bool) -> None:
    """Take out everything stored of a learner.

    \b
    Example: rpd-casebook exercise forget --learner "blue heron" --library cases.db
    """
    with told(), database(where, write=True) as library:
        from recommender.curation.teaching.learners import forget as forgetting

        if not yes:
            click.confirm(output.told("practice.take_out_all_results", learner=learner), abort=True, err=True)
        number = forgetting(library, learner)
    click.echo(output.told("practice.answers_taken_out", learner=learner, number=number))


def _choose(where: str | None, learner: str, case_id: str | None) -> "Exercise":
    from recommender.curation.teaching.exercises import exercise as made_of
    from recommender.curation.teaching.learners import next_exercise
    from recommender.precedents.store.gate import checked_who
    from recommender.precedents.store.opening import configured, is_database

    checked_who(learner)
    recommender = recommender_of(where)
    meant = where if where is not None else configured()
    if case_id is None and meant is not None and meant != "none" and is_database(meant):
        with database(meant, write=False) as library:
            return next_exercise(library, learner, recommender)
    held = held_cases(where)
    if case_id is None:
        case_id = some_of(held, 1, learner)[0]
    if case_id not in held:
        raise NoSuchCase(f"no approved case {case_id!r} in this library")
    return made_of(*held[case_id], recommender)


def _store(
    where: str | None,
    learner: str,
    case: "Case",
    revision: int,
    recommender: "Recommender",
    said: list["Feedback"],
) -> bool:
    from recommender.curation.teaching.exercises import exercise as made_of
    from recommender.curation.teaching.learners import record
    from recommender.precedents.store.gate import checked_who

    checked_who(learner)
    if revision == 0:
        return False
    with database(where, write=True) as library:
        record(library, learner, made_of(case, revision, recommender), said)
    return True


def _document(identifier: str, said: "Feedback", words: "Words") -> dict[str, object]:
    from recommender.documents.results.stated import listed

    return {
        "format": 1, "exercise": identifier, "decision": said.decision.key, "answer": said.answer,
        "standing": said.standing, **listed(words, "why", said.why),
        "instead": words.text(said.instead) if said.instead else "", "library": said.library,
        **listed(words, "beside", said.beside),
        "precedents": [{"option": option, "cases": number} for option, number in said.precedents],
        "missed": list(said.missed),
    }  # fmt: skip


def _print(said: "Feedback", words: "Words") -> None:
    option = words.option(said.decision.kind, said.answer)
    standing = words.term("standing", said.standing)
    click.echo(words.told("exercise.standing", decision=said.decision, option=option, standing=standing))
    for line in _lines(said, words):
        click.echo(f"    {line}")


def _lines(said: "Feedback", words: "Words") -> Iterator[str]:
    kind = said.decision.kind
    yield from words.lines(said.why)
    if said.instead:
        yield words.text(said.instead)
    if said.library:
        yield words.told("exercise.library", option=words.option(kind, said.library))
    else:
        yield words.told("exercise.library_silent")
    yield from words.lines(said.beside)
    if said.precedents:
        listed = ", ".join(f"{words.option(kind, option)} {number}" for option, number in said.precedents)
        yield words.told("exercise.precedents", listed=listed)
