"""``library check``, ``coverage``, ``survival``: what an educator looks through."""

import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from recommender.cli import output
from recommender.cli.advise.libraries import library_option
from recommender.cli.library.common import HELP, database, progress, source, table, told

if TYPE_CHECKING:
    from recommender.curation.seen import Looked
    from recommender.precedents.library import PrecedentLibrary
    from recommender.precedents.source import CaseSource
    from recommender.wording.words import Words


def looked_through(library: "CaseSource", *, drafts: bool) -> "Looked":
    """What the approved cases of a library are (``drafts``: all), with progress; a database by several processes."""
    from recommender.curation.seen import look
    from recommender.curation.stored_look import look_at_stored
    from recommender.precedents.store.database_source import DatabaseSource
    from recommender.precedents.store.documents import status

    if not isinstance(library, DatabaseSource):
        return look(case for case in library.cases() if drafts or status(case) == "approved")
    with progress("reading", library.count()) as step:
        return look_at_stored(library, os.cpu_count() or 1, step, drafts=drafts)


def standing(library: "CaseSource") -> "PrecedentLibrary":
    """The library ready to be asked, from its index where one is kept, with progress where it has to be derived."""
    from recommender.precedents.index.building import library_of
    from recommender.precedents.index.serving import KEPT_FROM, Indexed, serve

    if not isinstance(library, Indexed):
        return library_of(library)
    jobs = (os.cpu_count() or 1) if library.count() >= KEPT_FROM else 1
    with progress("deriving", None) as step:
        return serve(library, progress=lambda done, _of: step(done), jobs=jobs).library


@click.command(context_settings=HELP)
@library_option()
@click.option(
    "--rules", is_flag=True, help="Hold every approved design against the rules too (some 50 cases a second)."
)
@output.json_option()
@output.words_options()
def check(where: str | None, rules: bool, as_json: bool, words: "Words") -> None:
    """Look the library through: is everything as it was saved, does a text look like patient identity?

    Exit status 1 if anything was found.

    \b
    Example: rpd-casebook library check --library cases.db --rules
    """
    with told():
        found = list(_findings(where, rules, words))
    for kind, text in found:
        if as_json:
            output.emit({"format": 1, "kind": kind, "text": text})
        else:
            click.echo(f"{kind}: {text}")
    if found:
        sys.exit(output.INVALID)
    if not as_json:
        click.echo("nothing found")


def _findings(where: str | None, rules: bool, words: "Words") -> Any:
    from recommender.curation.looking import look_at_cases, look_at_library
    from recommender.precedents.store.database_source import DatabaseSource

    stored = source(where)
    if isinstance(stored, DatabaseSource):
        from recommender.precedents.store.checking import faults

        with progress("as it was saved", stored.count()) as step:
            damage = faults(stored.library, step)
        yield from (("damage", line) for line in damage)
        with progress("looking", stored.count()) as step:
            looks = [
                one
                for one in look_at_library(stored, rules=rules, jobs=os.cpu_count() or 1, told=step)
                if one.hits or one.against
            ]
    else:
        looks = list(look_at_cases(stored.cases(), rules=rules))
    for one in looks:
        yield from (("identity", f"{one.case_id}: {hit}") for hit in one.hits)
        yield from (("rule", f"{one.case_id}: {line}") for line in words.lines(list(one.against)))


@click.command(context_settings=HELP)
@library_option()
@click.option("--picture", type=click.Path(path_type=Path, dir_okay=False), default=None,
              help="Write the picture (SVG) to this file.")  # fmt: skip
@click.option(
    "--most", type=click.IntRange(min=1), default=12, show_default=True, help="Lines of each table."
)
@click.option("--drafts", is_flag=True, help="Count drafts and retired cases too.")
@output.json_option()
def coverage(where: str | None, picture: Path | None, most: int, drafts: bool, as_json: bool) -> None:
    """What the approved cases of a library cover and lack, weighed by how often such arches reach a laboratory.

    \b
    Example: rpd-casebook library coverage --library cases.db --picture coverage.svg
    """
    with told():
        from recommender.curation.coverage import covered

        library = source(where)
        found = covered(looked_through(library, drafts=drafts))
        with progress("who carries the load", None) as step:
            carried = _carried(standing(library), step)
        if picture is not None:
            from recommender.curation.picture import coverage_svg
            from recommender.precedents.store.exporting.export import replacing

            with replacing(picture) as part:
                part.write_text(coverage_svg(found), encoding="utf-8")
    if as_json:
        output.emit({"format": 1} | found.document() | {"citations": carried})
        return
    from recommender.domain.labels import word_label

    made = table(
        output.told("library.cases_most_wanted", cases=found.cases),
        "kind of arch",
        "held",
        "expected",
        "share",
    )
    for cell in found.cells[:most]:
        made.add_row(cell.label, str(cell.held), f"{cell.expected:.1f}", f"{cell.share:.1%}")
    output.console().print(made)
    lacking = table("options that no case of an arch and class uses, commonest arches first", "arch", "class",
                    "decision", "option")  # fmt: skip
    for absent in found.absent[:most]:
        arch = word_label("arch", absent.arch)
        lacking.add_row(arch, absent.kennedy, *_named(absent.decision, absent.option))
    output.console().print(lacking)
    if found.most_helpful is not None:
        click.echo(output.told("library.case_would_help_most", text=found.most_helpful.text))
    click.echo(
        output.told(
            "library.half_evidence_rests",
            half=carried["half"],
            approved=carried["approved"],
            even=carried["even"],
            what=", ".join(carried["most_cited"][:5]) or "none",
            n=len(carried["never"]),
        )
    )
    if carried["asked"] < carried["of"]:
        click.echo(output.told("library.asked_about_decisions", asked=carried["asked"], of=carried["of"]))
    click.echo(f"Class frequencies: {found.source}")
    click.echo(output.told("library.expected_numbers_rest", assumed=found.assumed))


def _carried(library: "PrecedentLibrary", step: Any) -> dict[str, Any]:
    from recommender.curation.citations import citations_in

    found = citations_in(library, told=lambda done, _of: step(done))
    return {
        "asked": found.asked, "of": found.of,
        "approved": len(found.by_case), "half": found.half, "even": found.even, "never": list(found.never),
        "most_cited": [one.case_id for one in found.by_case if one.times],
        "share": {one.case_id: one.share for one in found.by_case},
    }  # fmt: skip


@click.command(context_settings=HELP)
@library_option()
@click.option("--for", "decision", type=click.Choice(["retainer", "connector", "replacement"]), default=None,
              help="Only this decision.")  # fmt: skip
@click.option(
    "--definition", default=None, help="Which events count as failure; --list-definitions shows them."
)
@click.option("--list-definitions", is_flag=True, help="Show the definitions of failure and end.")
@click.option(
    "--make-default", is_flag=True, help="Keep the definition as this library's own (with --library)."
)
@click.option("--drafts", is_flag=True, help="Count drafts too, not only approved and retired cases.")
@output.json_option()
def survival(
    where: str | None,
    decision: str | None,
    definition: str | None,
    list_definitions: bool,
    make_default: bool,
    drafts: bool,
    as_json: bool,
) -> None:
    """How long each option lasted, by Kaplan and Meier's method, with its band and the number still followed.

    Published ten-year survival runs from about 50 to 90 per cent by the definition of failure alone, so the
    definition is always shown.

    \b
    Example: rpd-casebook library survival --library cases.db --for retainer --definition part_failed
    """
    from recommender.curation.survival import figures

    known = figures()
    if list_definitions:
        for one in known.definitions:
            click.echo(f"{one.id}: {one.text} ({', '.join(sorted(one.events))})")
        return
    with told():
        meant = definition if definition is not None else _own_definition(where)
        try:
            chosen = known.definition(meant)
        except KeyError:
            raise click.UsageError(
                f"--definition: one of {', '.join(d.id for d in known.definitions)}"
            ) from None
        if make_default:
            with database(where, write=True) as library:
                library.set_setting("failure_definition", chosen.id)
        _print_survival(where, decision, chosen, drafts, as_json)


def _named(decision: str, option: str) -> tuple[str, str]:
    """A decision (``connector.mandible`` where connectors are told apart by arch) and an option of it in words."""
    from recommender.wording.words import words_in

    kind = decision.partition(".")[0]
    return words_in().term("decision", kind), words_in().option(kind, option)


def _own_definition(where: str | None) -> str | None:
    from recommender.precedents.store.opening import configured, is_database

    meant = where if where is not None else configured()
    if meant is None or meant == "none" or not is_database(meant):
        return None
    with database(meant, write=False) as library:
        kept = library.setting("failure_definition")
    return kept if isinstance(kept, str) else None


def _print_survival(
    where: str | None, decision: str | None, chosen: Any, drafts: bool, as_json: bool
) -> None:
    from dataclasses import asdict

    from recommender.curation.survival import survival as worked_out
    from recommender.precedents.store.documents import status

    cases = (case for case in source(where).cases() if drafts or status(case) != "draft")
    found = worked_out(cases, chosen, decision)
    if as_json:
        document = asdict(found)
        document["definition"] = {
            "id": chosen.id, "label": chosen.label, "text": chosen.text, "events": sorted(chosen.events),
        }  # fmt: skip
        output.emit({"format": 1} | document)
        return
    months = (
        [output.told("library.months_a", month=f"{point.month:g}") for point in found.curves[0].points]
        if found.curves
        else []
    )
    made = table(
        output.told("library.survival_failure", text=chosen.text),
        "decision",
        "option",
        "dentures",
        "followed",
        "failed",
        *months,
    )
    for curve in found.curves:
        cells = [_point(point) for point in curve.points]
        made.add_row(
            *_named(curve.decision, curve.option),
            str(curve.cases),
            str(curve.units),
            str(curve.failures),
            *cells,
        )
    output.console().print(made)
    click.echo(
        output.told("library.brackets_band_n", confidence=f"{found.confidence:.0%}", caution=found.caution)
    )
    for reason, number in sorted(found.left_out.items()):
        click.echo(output.told("library.left_out_parts_a", number=number, reason=reason))


def _point(point: Any) -> str:
    if point.survival is None:
        return output.told("library.too_few_say_n", at_risk=point.at_risk)
    return f"{point.survival:.0%} ({point.low:.0%}-{point.high:.0%}), n {point.at_risk}"
