"""``survey``: a scanned cast read into survey figures with bands."""

import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import click

from recommender.cli import output
from recommender.domain.case import Case
from recommender.domain.errors import CaseError, Problem
from recommender.domain.statement import Field, Word, quantity, several, teeth

if TYPE_CHECKING:
    from recommender.survey.marks import Marks
    from recommender.survey.record import TakenOver
    from recommender.survey.result import Figure, Survey
    from recommender.wording.words import Words

DEMO = "demo"


@click.command()
@click.argument("scan", metavar="SCAN")
@click.option(
    "--case",
    "case_file",
    metavar="CASE",
    required=True,
    help="The case: which teeth stand, which are missing.",
)
@click.option(
    "--opposing", metavar="SCAN", default=None, help="The opposing arch in occlusion, in the same frame."
)
@click.option(
    "--marks", "marks_file", metavar="MARKS", default=None, help="What a person confirmed, as YAML."
)
@click.option(
    "--propose",
    metavar="FILE",
    default=None,
    help="Write the proposals as marks, to be looked at and confirmed.",
)
@click.option(
    "-o", "out", metavar="CASE", default=None, help="Write the case with the figures of confirmed teeth."
)
@click.option(
    "--overwrite", is_flag=True, help="With -o: replace recorded figures that the scan contradicts."
)
@click.option("--picture", metavar="FILE.svg", default=None, help="Write the arch as an ink drawing.")
@click.option(
    "--charts",
    metavar="FOLDER",
    default=None,
    help="Write the paths, and the zones and the wall of each abutment, as ink drawings.",
)
@output.words_options()
@output.json_option()
def survey(
    scan: str, case_file: str, opposing: str | None, marks_file: str | None, propose: str | None, out: str | None,
    overwrite: bool, picture: str | None, charts: str | None, as_json: bool, words: "Words",
) -> None:  # fmt: skip
    """Undercuts, survey line, widths and clearances of a scanned cast, with their bands and what they rest on.

    SCAN is an STL, PLY or OBJ file in millimetres, or the word demo for an invented cast. Nothing of the scan is
    kept: a case gets the figures of teeth whose outline and margin a person confirmed, once unit, side and level are
    confirmed.

    \b
    Example: rpd-casebook survey demo --case cases_demo/harbour-0001.yaml --propose marks.yaml
             rpd-casebook survey cast.stl --case my-case.yaml --marks marks.yaml -o surveyed.yaml
    """
    from recommender.api.surveying import survey_figures
    from recommender.survey.settings import in_force

    try:
        case = output.read_one(case_file)
    except CaseError as error:
        output.report(error, as_json)
        sys.exit(output.INVALID)
    files = _Files(scan, opposing, marks_file, propose, out, picture, charts)
    with in_force(survey_figures()):
        sys.exit(_answered(files, case, overwrite, as_json, words))


class _Files(NamedTuple):
    """Names of the files that are read and written."""

    scan: str
    opposing: str | None
    marks: str | None
    propose: str | None
    out: str | None
    picture: str | None
    charts: str | None


def _answered(files: _Files, case: Case, overwrite: bool, as_json: bool, words: "Words") -> int:
    """Survey, write what was asked for, print; the exit status."""
    from recommender.survey.errors import ScanError

    rows: tuple[TakenOver, ...] = ()
    try:
        found = _surveyed(files.scan, case, files.marks, files.opposing)
        if files.out is not None:
            rows = _write_case(found, case, files.out, overwrite)
        if files.propose is not None:
            _write(files.propose, _proposals(found))
        if files.picture is not None:
            from recommender.survey.pictures.arch import arch_picture

            _write(files.picture, arch_picture(found, words))
        if files.charts is not None:
            _write_charts(found, case, Path(files.charts), words)
    except (ScanError, OSError) as error:
        told = _refusal(words, error)
        output.report(
            CaseError([Problem(files.scan, "", told, "a scan of the cast of this case")], case.id), as_json
        )
        return output.INVALID
    if as_json:
        from recommender.documents.results.survey import survey_document, taken_over_document

        document: dict[str, Any] = {"case": case.id, **survey_document(words, found)}
        if files.out is not None:
            document["taken_over"] = taken_over_document(rows)
        output.emit(document)
    else:
        _print(words, found, case, rows, overwrite)
    return output.DONE


def _refusal(words: "Words", error: Exception) -> str:
    if isinstance(error, OSError):
        return error.strerror or str(error)
    statement = getattr(error, "statement", None)
    return str(error) if statement is None else words.text(statement)


def _surveyed(scan: str, case: Case, marks_file: str | None, opposing: str | None) -> "Survey":
    from recommender.survey.entry import demo_scan, dentition_of, marks_from, survey_scan
    from recommender.survey.scan import load_scan
    from recommender.survey.surveying import survey as run

    marks: Marks | None = marks_from(marks_file) if marks_file is not None else None
    if scan != DEMO:
        return survey_scan(scan, case, marks, opposing)
    output.warn("An invented cast is being made; no patient stands behind it.")
    other = load_scan(Path(opposing)).mesh if opposing is not None else None
    return run(demo_scan(case), dentition_of(case), marks, other)


def _write_case(found: "Survey", case: Case, out: str, overwrite: bool) -> "tuple[TakenOver, ...]":
    from recommender.precedents.store.exporting.export import as_yaml
    from recommender.survey.record import DIFFERS, taken_over, to_take_over

    differing = [row.path for row in to_take_over(found, case) if row.how == DIFFERS] if overwrite else []
    new, rows = taken_over(found, case, differing)
    _write(out, as_yaml(new).decode("utf-8"))
    return rows


def _write(name: str, text: str) -> None:
    from recommender.survey.writing import write_whole

    write_whole(Path(name), text.encode("utf-8"))


def _write_charts(found: "Survey", case: Case, folder: Path, words: "Words") -> None:
    from recommender.survey.entry import dentition_of
    from recommender.survey.pictures.charts import path_picture, radial_picture, wall_picture

    folder.mkdir(parents=True, exist_ok=True)
    _write(str(folder / "paths.svg"), path_picture(found, words))
    for tooth in found.teeth:
        if tooth in dentition_of(case).beside_spaces():
            _write(str(folder / f"zones-{words.tooth(tooth)}.svg"), radial_picture(found, tooth, words))
            _write(str(folder / f"wall-{words.tooth(tooth)}.svg"), wall_picture(found, tooth, words))


_MARKS_HEAD = """\
# Proposals read off the scan. Look at each in the drawing, correct it, then set confirmed: true.
# Confirm the unit, name one tooth under side, and give three points of the level.
"""


def _proposals(found: "Survey") -> str:
    import yaml

    from recommender.survey.marks import marks_document
    from recommender.survey.proposing import proposed_marks

    held = yaml.safe_dump(marks_document(proposed_marks(found)), sort_keys=False, default_flow_style=None)
    return f"{_MARKS_HEAD}{held}"


def _print(
    words: "Words", found: "Survey", case: Case, rows: "tuple[TakenOver, ...]", overwrite: bool
) -> None:
    from recommender.survey.settings import settings
    from recommender.survey.statements import (
        figure_statement,
        gauge_statement,
        path_standing,
        path_statement,
        path_statements,
    )

    def figure_words(figure: "Figure") -> str:
        return words.text(figure_statement(figure))

    scan = found.scan
    say: Callable[[str], None] = click.echo
    say(output.style(words.told("verb.survey.of", case=case.id), bold=True))
    say("A proposal for a qualified person; what is not confirmed by one does not enter a case.")
    say(
        words.told(
            "verb.survey.scan",
            triangles=f"{scan.triangles:,}",
            edge=quantity(scan.raw.edge_mm, "mm", 2),
            unit=scan.unit,
            unit_confirmed=_confirmed(found.unit_confirmed),
            side_confirmed=_confirmed(found.side_confirmed),
            level=Word("survey_level", "three_points" if found.level_confirmed else "from_crests"),
        )
    )
    say(words.told("verb.survey.teeth", n=len(found.teeth), teeth=teeth(found.teeth)))
    for doubt in found.doubts:
        say(output.style(f"DOUBT: {words.text(doubt)}", bold=True))
    path = path_statement(found.path)
    say("\n" + words.told("verb.survey.path", path=path, by=Word("path_by", found.path_chosen_by)))
    if (open_still := path_standing(found)) is not None:
        say(f"  {words.text(open_still)}")
    if found.search is not None:
        good = several(path_statement(entry) for entry in found.search.plateau[:12])
        say("  " + words.told("verb.survey.as_good", paths=good))
        level_score = next(s for s in found.search.scores if s.tilt_ap_deg == 0 and s.tilt_lateral_deg == 0)
        for line in path_statements(found.path, level_score):
            say(f"  {words.text(line)}")
    if found.tripod is not None:
        heights = ", ".join(f"{height:.1f}" for height in found.tripod.heights_level_mm)
        say("  " + words.told("verb.survey.tripod", heights=heights))
    for tooth, entry in found.teeth.items():
        head = words.told(
            "verb.survey.tooth",
            tooth=teeth([tooth]),
            outline=Word("survey_state", entry.outline),
            margin=Word("survey_state", entry.margin),
        )
        say("\n" + output.style(head, bold=True))
        for zone, figure in entry.undercuts_mm.items():
            gauges = gauge_statement(figure)
            say(f"  {zone:13} {figure_words(figure)}{'; ' + words.text(gauges) if gauges else ''}")
        say("  " + words.told("verb.survey.crown_height", figure=figure_words(entry.crown_height_mm)))
    for space in found.spaces:
        width = figure_words(space.width_mm)
        say("\n" + words.told("verb.survey.space", teeth=teeth(space.teeth), width=width))
        say("  " + words.told("verb.survey.clearance", figure=figure_words(space.clearance_mm)))
    if found.palate is not None:
        palate = found.palate
        vault, rugae = figure_words(palate.vault_mm), figure_words(palate.rugae_mm)
        say("\n" + words.told("verb.survey.palate", vault=vault, rugae=rugae))
        say("  " + words.told("verb.survey.length", figure=figure_words(palate.length_mm)))
    if rows:
        say(output.style("\nTaken over, beside what was recorded before", bold=True))
        for row in rows:
            if row.how == "differs":
                code = "verb.survey.replaced" if overwrite else "verb.survey.kept"
                told = words.told(code, field=Field(row.path), before=str(row.before), after=str(row.after))
                say("  " + told)
        say("  " + words.told("verb.survey.alike", n=sum(row.how != "differs" for row in rows)))
    say("\n" + words.told("verb.survey.cannot_tell", what="; ".join(settings()["not_in_a_scan"])))


def _confirmed(known: bool) -> Word:
    return Word("confirmed", "yes" if known else "no")
