"""``drawing``, ``letter`` and ``ticket``: a case on paper.

The file is written whole or not at all. Exit status 1: the case or the library cannot be used, there is no such
framework, or the ticket is refused because the design is provisional.
"""

import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

import click

from recommender.cli import output
from recommender.cli.advise.libraries import asked_profile, library_option
from recommender.domain.case import Case

if TYPE_CHECKING:
    from recommender.advice.recommend import Recommender
    from recommender.documents.proposal import Flag, Origin, Proposal
    from recommender.wording.words import Words


def _file_option(kind: str) -> Callable[[Any], Any]:
    return click.option(
        "-o", "--output", "target", required=True, metavar="FILE",
        type=click.Path(dir_okay=False, allow_dash=True, path_type=Path),
        help=f"Where to write the {kind}; - for standard output.",
    )  # fmt: skip


def _paper_option() -> Callable[[Any], Any]:
    return click.option(
        "--paper", type=click.Choice(["a4", "letter", "us-letter"]), default="a4", show_default=True,
        help="Paper size; letter and us-letter are the same.",
    )  # fmt: skip


def _framework_option() -> Callable[[Any], Any]:
    return click.option(
        "--framework", type=click.IntRange(1, 20), default=1, show_default=True,
        help="Which framework of the recommendation, best first.",
    )  # fmt: skip


def _own_option() -> Callable[[Any], Any]:
    return click.option(
        "--own-design", is_flag=True, help="Take the design that stands in the case instead of a framework."
    )


@click.command()
@output.case_argument(many=False)
@_file_option("SVG")
@_framework_option()
@_own_option()
@library_option(profile=True)
@output.words_options()
def drawing(
    case: str, target: Path, framework: int, own_design: bool, where: str | None, words: "Words"
) -> None:
    """The arch with its framework, as SVG, seen facing the patient.

    What was prescribed or stored and cannot be made is flagged at its part.

    \b
    Example: rpd-casebook drawing my-case.yaml -o my-case.svg
    """
    read = _read(case)
    from recommender.documents.drawing import arch_drawing

    if own_design and read.design is not None:
        # Needs no recommendation, so it also draws a case about which there is no advice.
        picture = arch_drawing(
            read, read.design, numbering=words.numbering, language=words.language, faults=_faults(read, where)
        )
    else:
        recommender, _ = _recommender(where)
        from recommender.documents.argument import reasons

        proposal = _proposal(recommender, read, framework, own_design, asked_too=True)
        picture = arch_drawing(
            read, proposal.design, numbering=words.numbering, language=words.language,
            provisional=proposal.provisional, faults=proposal.faults,
            reasons={part: words.text(why) for part, why in reasons(proposal).items()},
        )  # fmt: skip
    _write(target, picture.svg.encode("utf-8"))


@click.command()
@output.case_argument(many=False)
@_file_option("PDF")
@_framework_option()
@library_option(profile=True)
@output.words_options()
@_paper_option()
@click.option(
    "--form", "as_form", is_flag=True,
    help="A page (HTML) that the dentist answers on screen and sends back as a file, for read-answer.",
)  # fmt: skip
def letter(
    case: str, target: Path, framework: int, where: str | None, words: "Words", paper: str, as_form: bool
) -> None:
    """The letter to the dentist: the proposal, where it departs from the prescription, and room to answer.

    \b
    Example: rpd-casebook letter my-case.yaml -o letter.pdf
             rpd-casebook letter my-case.yaml --form -o answer.html
    """
    read = _read(case)
    recommender, origin = _recommender(where)
    from recommender.advice.analysis import NoAdviceError
    from recommender.documents.letter import asked_of, letter_about, worked_out
    from recommender.documents.proposal import NoDesignError
    from recommender.documents.typesetting import pdf

    try:
        analysis, answer = worked_out(recommender, read, framework)
        document = letter_about(analysis, answer, origin, words=words, framework=framework)
        asked = asked_of(analysis, answer, framework) if as_form else None
    except (NoAdviceError, NoDesignError) as error:
        _refuse(_why(error))
    if asked is None:
        _write(target, pdf(document, paper))
        return
    from recommender.documents.answers.form import answer_page

    _write(target, answer_page(document, asked, words))


@click.command("read-answer")
@click.argument("answer_file", metavar="FILE")
@output.case_argument(many=False)
@click.option(
    "-o", "--output", "target", metavar="FILE", default=None,
    type=click.Path(dir_okay=False, allow_dash=True, path_type=Path),
    help="Write the case with the answer in it; left out, nothing is written.",
)  # fmt: skip
@_framework_option()
@library_option(profile=True)
@output.words_options()
@output.json_option()
def read_answer(
    answer_file: str,
    case: str,
    target: Path | None,
    framework: int,
    where: str | None,
    words: "Words",
    as_json: bool,
) -> None:
    """The dentist's answer, saved from the page of `letter --form`, read into the case.

    Says item by item what was agreed to, and whether the design is signed as it stands. What was written beside a yes
    goes into the field that was asked for where the words say it, else into the note with its question. An answer to
    another design than the one that the case leads to now voids the signature: what changed is said, and nothing is
    written (exit status 1).

    \b
    Example: rpd-casebook read-answer my-case-answer.json my-case.yaml -o my-case.yaml
    """
    from recommender.advice.analysis import NoAdviceError
    from recommender.documents.answers.recorded import recorded
    from recommender.documents.answers.returned import MOST_BYTES, AnswerError, read_returned
    from recommender.documents.letter import asked_of, worked_out
    from recommender.documents.proposal import NoDesignError
    from recommender.precedents.store.exporting.export import as_yaml

    read = _read(case)
    try:
        with open(answer_file, "rb") as stream:
            returned = read_returned(stream.read(MOST_BYTES + 1))
        recommender, _ = _recommender(where)
        analysis, answer = worked_out(recommender, read, framework)
        found = recorded(read, asked_of(analysis, answer, framework), returned)
    except OSError as error:
        _refuse(f"{answer_file}: could not be read ({error.strerror or error})")
    except AnswerError as error:
        _refuse(f"{answer_file}: {words.text(error.statement)}")
    except (NoAdviceError, NoDesignError) as error:
        _refuse(_why(error))
    if as_json:
        from recommender.documents.results.answer import answer_document

        output.emit(answer_document(words, found, returned))
    else:
        for line in words.lines(found.lines):
            click.echo(line)
    if found.void:
        sys.exit(output.INVALID)
    if target is not None:
        _write(target, as_yaml(found.case))


@click.command()
@output.case_argument(many=False)
@_file_option("PDF")
@_framework_option()
@_own_option()
@library_option(profile=True)
@output.words_options()
@_paper_option()
@click.option(
    "--despite-provisional", metavar="REASON", default=None,
    help="Print the ticket of a provisional design all the same; the reason is printed on it.",
)  # fmt: skip
def ticket(
    case: str,
    target: Path,
    framework: int,
    own_design: bool,
    where: str | None,
    words: "Words",
    paper: str,
    despite_provisional: str | None,
) -> None:
    """The bench ticket: block-out, wax pattern, order of work, checks.

    A design that rests on facts that were not recorded is not printed without a reason.

    \b
    Example: rpd-casebook ticket my-case.yaml --own-design -o ticket.pdf
    """
    if despite_provisional is not None and not despite_provisional.strip():
        raise click.BadParameter("a reason in words", param_hint="--despite-provisional")
    read = _read(case)
    recommender, origin = _recommender(where)
    from recommender.documents.ticket import ProvisionalError
    from recommender.documents.ticket import ticket as compose
    from recommender.documents.typesetting import pdf

    proposal = _proposal(recommender, read, framework, own_design)
    try:
        document = compose(proposal, origin, words=words, despite_provisional=despite_provisional)
    except ProvisionalError as error:
        _refuse(_why(error))
    _write(target, pdf(document, paper))


def _read(argument: str) -> Case:
    from recommender.domain.errors import CaseError

    try:
        return output.read_one(argument)
    except CaseError as error:
        output.report(error, False)
        sys.exit(output.INVALID)


def _recommender(where: str | None) -> "tuple[Recommender, Origin]":
    """A recommender over the library that is meant, and the stamps of rules and library for the foot of the page."""
    from recommender.api import libraries
    from recommender.documents.proposal import origin_of
    from recommender.domain.errors import CaseError
    from recommender.precedents.store.errors import LibraryError

    library = libraries.CONFIGURED if where is None else where
    try:
        source = libraries.open_source(library)
        origin = origin_of(source.version(), demo=libraries.address(library) == "demo")
        return libraries.recommender(library, profile=asked_profile()), origin
    except CaseError as error:
        output.report(error, False)
    except LibraryError as error:
        output.warn(str(error))
    sys.exit(output.INVALID)


def _proposal(
    recommender: "Recommender", case: Case, framework: int, own: bool, *, asked_too: bool = False
) -> "Proposal":
    from recommender.advice.analysis import NoAdviceError
    from recommender.advice.confidence.answers import Confidence
    from recommender.advice.confidence.attach import with_standing
    from recommender.advice.recommend import recommendation
    from recommender.documents.proposal import NoDesignError, flagged, own_design, proposal_of

    try:
        analysis = recommender.work(case)
        answer = with_standing(
            recommendation(analysis, 0 if own else max(framework, 3)), Confidence(analysis)
        )
        return flagged(
            analysis, own_design(answer) if own else proposal_of(answer, framework), asked_too=asked_too
        )
    except (NoAdviceError, NoDesignError) as error:
        _refuse(_why(error))


def _faults(case: Case, where: str | None) -> "tuple[Flag, ...]":
    """What cannot be made of the case's own design; nothing for a case about which there is no advice."""
    from recommender.advice.analysis import NoAdviceError
    from recommender.documents.proposal import faults_in

    recommender, _ = _recommender(where)
    try:
        analysis = recommender.work(case)
    except NoAdviceError:
        return ()
    return faults_in(analysis, case.design) if case.design is not None else ()


def _why(error: Exception) -> str:
    """What a refusal says."""
    statement = getattr(error, "statement", None)
    if statement is None:
        return str(error)
    from recommender.wording.words import words_in

    return words_in().text(statement)


def _refuse(message: str) -> NoReturn:
    output.warn(message)
    sys.exit(output.INVALID)


def _write(target: Path, content: bytes) -> None:
    if str(target) == "-":
        click.echo(content, nl=False)
        return
    from recommender.domain.writing import write_whole

    try:
        write_whole(target, content)
    except OSError as error:
        _refuse(f"{target}: could not be written ({error.strerror or error})")
