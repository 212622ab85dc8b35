"""``profile``: what a library says about its house's own hand; learned, read, tried, adopted, taken back."""

import sys
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from recommender.cli import output
from recommender.cli.advise.libraries import library_option
from recommender.domain.statement import count, say

if TYPE_CHECKING:
    from recommender.curation.house.learning import Learned, Trial
    from recommender.domain.case import Case
    from recommender.knowledge.house import Profile
    from recommender.wording.words import Words


@click.group()
def profile() -> None:
    """A house's own hand: small departures from the published figures, learned from its approved cases.

    Nothing about blocks, safety or what can be made is ever learned. Nothing counts until it is adopted, and
    --profile none gives the textbook's answer at every verb that advises.
    """


@profile.command()
@library_option()
@click.option(
    "-o", "target", type=click.Path(dir_okay=False), default=None, help="Write the profile to this file."
)
@output.json_option()
@output.words_options()
def learn(where: str | None, target: str | None, as_json: bool, words: "Words") -> None:
    """Learn a profile and say what it gains on cases held out. Only a profile whose gain is no chance is given.

    \b
    Example: rpd-casebook profile learn --library sqlite:///cases.db -o house.yaml
    """
    from recommender.curation.house.keeping import write
    from recommender.curation.house.learning import learn as learned

    address, cases = _cases(where, as_json)
    from recommender.knowledge.in_force import knowledge

    found = learned(cases, knowledge(), library=_named(address), progress=output.tell_how_far)
    if target is not None and found.profile is not None:
        try:
            write(found.profile, Path(target))
        except OSError as error:
            _fail(
                target,
                words.told("house.cannot_written", strerror=str(error.strerror)),
                "a file that can be written",
                as_json,
            )
    if as_json:
        output.emit(learned_document(found))
    else:
        _show_learned(found, words)
        if target is not None:
            click.echo(
                words.told("house.written", target=target) if found.profile else "Nothing was written."
            )


@profile.command()
@library_option()
@click.option("--file", "path", type=click.Path(exists=True, dir_okay=False), help="A profile file instead.")
@output.json_option()
@output.words_options()
def show(where: str | None, path: str | None, as_json: bool, words: "Words") -> None:
    """The profile that counts for a library, line by line, and those that were adopted before."""
    from recommender.curation.house import keeping

    address = _address(where)
    read = _checked(lambda: keeping.read(Path(path)) if path else keeping.adopted(address), as_json)
    held = [] if path else _checked(lambda: keeping.kept(address), as_json)
    if as_json:
        output.emit(
            {
                "format": 1,
                "profile": read.model_dump(mode="json") if read else None,
                "kept": [{"number": one.number, "counts": one.counts, "at": one.profile.at} for one in held],
            }
        )
        return
    if read is None:
        click.echo("No profile counts for this library: every answer is the textbook's.")
    else:
        _show(read, words)
    for one in held:
        code = "house.counts" if one.counts else "house.kept"
        click.echo(words.told(code, number=one.number, at=one.profile.at, cases=one.profile.cases))


@profile.command("try")
@click.argument("file", type=click.Path(exists=True, dir_okay=False))
@library_option()
@output.json_option()
@output.words_options()
def try_it(file: str, where: str | None, as_json: bool, words: "Words") -> None:
    """At which decisions of the library's cases another option would lead under a profile. Nothing is written.

    The cases taught the profile, so this shows what it does and not how well it does: that is what learn measures.

    \b
    Example: rpd-casebook profile try house.yaml --library sqlite:///cases.db
    """
    from recommender.api.libraries import open_source, precedents_of
    from recommender.curation.evaluation.rule_trial import try_profile
    from recommender.curation.house.keeping import read
    from recommender.knowledge.in_force import knowledge

    address, cases = _cases(where, as_json)
    base = knowledge()
    found = _checked(lambda: read(Path(file)), as_json)
    library = precedents_of(open_source(address))
    trial = try_profile(cases, base, found, library, partial(output.tell_how_far, "cases"))
    judged = trial.verdict
    changes = [
        {"case": c.case_id, "decision": c.decision, "before": c.before, "after": c.after, "stored": c.stored}
        for c in trial.changes
    ]
    if as_json:
        output.emit(
            {
                "format": 1,
                "cases": trial.cases,
                "decisions": trial.decisions,
                "judged": trial.judged,
                "agree_before": trial.agree_before,
                "agree_after": trial.agree_after,
                "changes": changes,
                "verdict": {
                    "better": judged.better,
                    "worse": judged.worse,
                    "neither": judged.neither,
                    "low": judged.low,
                    "high": judged.high,
                },
            }
        )
        return
    from recommender.cli.advise.decisions import named

    for c in trial.changes:
        kind = c.decision.partition(":")[0]
        line = words.told(
            "verb.profile.instead",
            case=c.case_id,
            decision=named(c.decision, words),
            after=words.option(kind, c.after),
            before=words.option(kind, c.before),
            own=words.option(kind, c.stored) if c.stored else None,
        )
        click.echo(line)
    click.echo(
        words.told(
            "house.cases_decisions_another",
            cases=trial.cases,
            decisions=trial.decisions,
            changes=len(trial.changes),
            agree_before=trial.agree_before,
            judged=trial.judged,
            agree_after=trial.agree_after,
            better=judged.better,
            worse=judged.worse,
            neither=judged.neither,
            low=f"{judged.low:.0%}",
            high=f"{judged.high:.0%}",
        )
    )


def _who_option() -> Callable[[Any], Any]:
    return click.option(
        "--who", envvar="RPD_CASEBOOK_WHO", default="educator", show_default=True,
        help="A role or initials for the history. Also from RPD_CASEBOOK_WHO; a library of a team knows it.",
    )  # fmt: skip


@profile.command()
@click.argument("which")
@library_option()
@_who_option()
def adopt(which: str, where: str | None, who: str) -> None:
    """Make a profile count for a library: WHICH is a file, or the number of one that counted before.

    A database keeps it with its cases, so that it counts for everybody who works with that library; in a library of a
    team only a steward may adopt one. For a folder of cases it is kept beside the configuration file.

    \b
    Example: rpd-casebook profile adopt house.yaml --library sqlite:///cases.db
    """
    from recommender.curation.house import keeping

    address = _address(where)
    try:
        if Path(which).is_file():
            profile = _checked(lambda: keeping.read(Path(which)), False)
            kept = _checked(lambda: keeping.adopt(address, profile, who), False)
        else:
            kept = _checked(lambda: keeping.adopt_again(address, which, who), False)
    except KeyError:
        _fail(which, "neither a file nor the number of a profile", "see: profile show", False)
    except OSError as error:
        _fail(
            str(error.filename),
            output.told("house.cannot_written", strerror=str(error.strerror)),
            "a folder to write in",
            False,
        )
    click.echo(output.told("house.profile_counts_now", number=kept.number, named=_named(address)))


@profile.command("take-back")
@library_option()
@_who_option()
def take_back(where: str | None, who: str) -> None:
    """From now on no profile counts for the library; what was adopted stays on file."""
    from recommender.curation.house import keeping

    done = _checked(lambda: keeping.take_back(_address(where), who), False)
    click.echo(output.told("house.taken_back" if done else "house.none_counted"))


def learned_document(found: "Learned") -> dict[str, Any]:
    """What was learned, with the trial of every kind of decision and why it was not adopted."""
    return {
        "format": 1,
        "cases": found.cases,
        "profile": found.profile.model_dump(mode="json") if found.profile else None,
        "trials": [
            {
                "decision": trial.kind, "adopted": trial.adopted, "chance": trial.chance,
                **trial.measured.model_dump(mode="json"), "out_of_reach": found.unreachable.get(trial.kind, 0),
            }
            for trial in found.trials
        ],
    }  # fmt: skip


def _show_learned(found: "Learned", words: "Words") -> None:
    from recommender.curation.house.telling import measured

    click.echo(words.told("house.approved_cases_design", cases=found.cases))
    for trial in found.trials:
        click.echo(f"{trial.kind}: {words.text(measured(trial.measured, trial.decided.cases))}")
        click.echo("  " + _verdict(trial, found))
    if found.profile is None:
        click.echo("Nothing was learned that could not be chance: no profile.")
    else:
        _show(found.profile, words)


def _verdict(trial: "Trial", found: "Learned") -> str:
    away = found.unreachable.get(trial.kind, 0)
    code = "house.learned" if trial.adopted else "house.not_learned"
    return output.told(code, left=say("house.choices_blocked_need", away=count(away)) if away else None)


def _show(found: "Profile", words: "Words") -> None:
    from recommender.curation.house.telling import told
    from recommender.knowledge.in_force import knowledge

    click.echo(
        output.style(
            words.told("house.house_profile_cases", digest=found.digest, at=found.at, cases=found.cases),
            bold=True,
        )
    )
    for kind, lines in told(found, knowledge()).items():
        click.echo(kind)
        for line in words.lines(lines):
            click.echo(f"  {line}")


def _address(where: str | None) -> str:
    from recommender.api import libraries

    return libraries.address(libraries.CONFIGURED if where is None else where)


def _named(address: str) -> str:
    """The address without its password."""
    from recommender.cli.advise.libraries import shown_address

    return shown_address(address)


def _cases(where: str | None, as_json: bool) -> tuple[str, "list[Case]"]:
    from recommender.api import libraries

    address = _address(where)
    return address, _checked(lambda: list(libraries.open_source(address).cases()), as_json)


def _checked(call: Any, as_json: bool) -> Any:
    """What a call gives; a file or library that cannot be used is reported and ends the command with status 1."""
    from recommender.domain.errors import CaseError, Problem
    from recommender.precedents.store.errors import LibraryError

    try:
        return call()
    except CaseError as error:
        output.report(error, as_json)
    except LibraryError as error:
        if not as_json:
            output.warn(str(error))
            sys.exit(output.INVALID)
        problem = Problem("library", "library", str(error), "a library that can be opened")
        output.report(CaseError([problem], "library"), as_json)
    sys.exit(output.INVALID)


def _fail(where: str, found: str, allowed: str, as_json: bool) -> None:
    from recommender.domain.errors import CaseError, Problem

    output.report(CaseError([Problem(where, "", found, allowed)], where), as_json)
    sys.exit(output.INVALID)
