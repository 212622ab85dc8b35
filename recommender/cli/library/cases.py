"""``library list``, ``show``, ``edit``, ``history``, ``restore``, ``outcome``, ``approve``, ``retire``, …"""

from typing import TYPE_CHECKING, Any

import click

from recommender.cli import output
from recommender.cli.advise.libraries import library_option
from recommender.cli.library.common import (
    HELP,
    database,
    opened_option,
    reason,
    source,
    table,
    told,
    who_option,
    why_option,
)

if TYPE_CHECKING:
    from recommender.wording.words import Words

_STATES = click.Choice(["draft", "approved", "retired"])


@click.command("list", context_settings=HELP)
@library_option()
@click.option("--status", type=_STATES, default=None, help="Only cases in this state.")
@click.option("--arch", type=click.Choice(["maxilla", "mandible"]), default=None, help="Only this arch.")
@click.option("--kennedy", default=None, help="Only this class, as in 'Class II, modification 1'.")
@click.option("--with-outcome", is_flag=True, help="Only cases of which it is known how they fared.")
@output.json_option()
def list_cases(
    where: str | None,
    status: str | None,
    arch: str | None,
    kennedy: str | None,
    with_outcome: bool,
    as_json: bool,
) -> None:
    """The cases of a library.

    \b
    Example: rpd-casebook library list --library cases.db --status draft
    """
    with told():
        wanted = {
            "status": status,
            "arch": arch,
            "kennedy": kennedy,
            "outcome_known": True if with_outcome else None,
        }
        rows = [row for row in _heads(where) if all(v is None or row[k] == v for k, v in wanted.items())]
    if as_json:
        for row in rows:
            output.emit({"format": 1} | row)
        return
    made = table("", "case", "rev.", "arch", "class", "state", "outcome", "title")
    for row in rows:
        made.add_row(
            str(row["case"]), str(row["revision"] or ""), str(row["arch"]), str(row["kennedy"] or "none"),
            _state(row), "known" if row["outcome_known"] else "", str(row["title"] or ""),
        )  # fmt: skip
    output.console().print(made)
    click.echo(output.told("library.cases_e", rows=len(rows)))


def _state(row: dict[str, Any]) -> str:
    waits = row["serving"] is not None and row["serving"] != row["revision"]
    return (
        output.told("library.revision_serves", status=row["status"], serving=row["serving"])
        if waits
        else str(row["status"])
    )


def _heads(where: str | None) -> list[dict[str, Any]]:
    """Heads of a database, or the same worked out for the cases of a folder."""
    from recommender.precedents.store import documents
    from recommender.precedents.store.opening import configured, is_database

    names = ("arch", "kennedy", "status", "outcome_known", "title")
    meant = where if where is not None else configured()
    if meant is not None and meant != "none" and is_database(meant):
        with database(meant, write=False) as library:
            heads = library.heads()
        return [
            {"case": head.id, "revision": head.revision, "serving": head.serving}
            | {name: getattr(head, name) for name in names}
            for head in heads
        ]
    found = []
    for case in source(where).cases():
        columns = documents.columns(case)
        values = {name: getattr(columns, name) for name in names}
        found.append({"case": case.id, "revision": None, "serving": None} | values)
    return found


@click.command(context_settings=HELP)
@click.argument("case")
@library_option()
@click.option("--revision", type=click.IntRange(min=1), default=None, help="An earlier version.")
@output.json_option()
def show(case: str, where: str | None, revision: int | None, as_json: bool) -> None:
    """One case as YAML (or JSON), in its latest or an earlier version.

    \b
    Example: rpd-casebook library show harbour-0012 --library cases.db --revision 1
    """
    with told():
        from recommender.precedents.store.exporting.export import as_yaml

        if revision is None:
            found = _get(where, case)
        else:
            with database(where, write=False) as library:
                found = library.get(case, revision).case
        if as_json:
            from recommender.precedents.store.documents import as_data

            output.emit(as_data(found))
        else:
            click.echo(as_yaml(found).decode(), nl=False)


def _get(where: str | None, case_id: str) -> Any:
    from recommender.precedents.source import latest_of
    from recommender.precedents.store.errors import NoSuchCase

    try:
        return latest_of(source(where), case_id)
    except KeyError:
        raise NoSuchCase(f"there is no case {case_id!r} in this library") from None


@click.command(context_settings=HELP)
@click.argument("file")
@library_option()
@opened_option()
@who_option()
@why_option(required=True)
def edit(file: str, where: str | None, opened: int | None, who: str, why: str) -> None:
    """Save the changed case in FILE (or - for standard input) as a new version.

    With --opened, somebody else's save in between is told with both versions and nothing is overwritten.
    An approved case that is changed waits as a draft for a reviewer; until then it serves as it was approved.

    \b
    Example: rpd-casebook library show c-7 --library cases.db > c-7.yaml     (edit c-7.yaml)
             rpd-casebook library edit c-7.yaml --library cases.db --opened 3 --who KM --why "tilt measured
             again"
    """
    with told():
        from recommender.curation.review import revise

        case = output.read_one(file)
        with database(where, write=True) as library:
            revision = opened if opened is not None else library.get(case.id).revision
            version, said = revise(library, case, opened=revision, who=who, why=why)
    click.echo(output.told("library.revision_saved", id=case.id, revision=version.revision))
    if said:
        output.warn(said)


@click.command(context_settings=HELP)
@click.argument("case")
@library_option()
@output.json_option()
def history(case: str, where: str | None, as_json: bool) -> None:
    """Every version of a case: who, when, why, and what changed; of a deleted one who took it out, and why.

    \b
    Example: rpd-casebook library history harbour-0012 --library cases.db
    """
    with told(), database(where, write=False) as library:
        from recommender.curation.bulk import trace_of
        from recommender.precedents.store.documents import differences
        from recommender.precedents.store.errors import NoSuchCase

        try:
            versions = library.history(case)
        except NoSuchCase as error:
            gone = trace_of(library, case)
            if gone is None:
                raise
            raise NoSuchCase(f"{error}; it was deleted by {gone.who} at {gone.at}: {gone.why}") from None
    before = None
    for version in versions:
        now = version.case
        changes: list[tuple[str, Any, Any]] = [] if before is None else differences(before, now)
        before = now
        if as_json:
            output.emit({
                "format": 1, "case": case, "revision": version.revision, "kind": version.kind, "who": version.who,
                "at": version.at, "why": version.why,
                "changes": [{"field": path, "before": old, "after": new} for path, old, new in changes],
            })  # fmt: skip
            continue
        click.echo(
            output.told(
                "library.revision",
                revision=version.revision,
                kind=version.kind,
                who=version.who,
                at=version.at,
                why=version.why or "-",
            )
        )
        for path, old, new in changes:
            click.echo(f"    {path}: {_said(old)} -> {_said(new)}")


def _said(value: object) -> str:
    from recommender.domain.errors import shown

    return "not recorded" if value is None else shown(value)


@click.command(context_settings=HELP)
@click.argument("case")
@click.argument("revision", type=click.IntRange(min=1))
@library_option()
@opened_option()
@who_option()
@why_option()
def restore(case: str, revision: int, where: str | None, opened: int | None, who: str, why: str) -> None:
    """Make an earlier version the latest again, as a new version; what came between stays readable.

    \b
    Example: rpd-casebook library restore harbour-0012 2 --library cases.db --who KM --why "edited by mistake"
    """
    with told(), database(where, write=True) as library:
        latest = opened if opened is not None else library.get(case).revision
        version = library.restore(case, revision, opened=latest, who=who, why=reason(why))
    click.echo(
        output.told(
            "library.revision_now_revision", case=case, revision=revision, revision_two=version.revision
        )
    )


@click.command(context_settings=HELP)
@click.argument("case")
@library_option()
@opened_option()
@who_option()
@why_option()
@click.option(
    "--months", type=click.FloatRange(min=0, max=1200), default=None, help="Followed so far, in months."
)
@click.option("--accepted/--declined", default=None, help="Whether the dentist accepted the design.")
@click.option("--worn/--not-worn", "worn", default=None, help="Whether it is still worn.")
@click.option("--satisfaction", type=click.IntRange(1, 5), default=None, help="1 to 5.")
@click.option("--event", "events", multiple=True, metavar="KIND[:MONTH[:TOOTH]]",
              help="What happened, e.g. clasp_fracture:9:14; may be given again.")  # fmt: skip
def outcome(
    case: str,
    where: str | None,
    opened: int | None,
    who: str,
    why: str,
    months: float | None,
    accepted: bool | None,
    worn: bool | None,
    satisfaction: int | None,
    events: tuple[str, ...],
) -> None:
    """Add follow-up to a case; what was recorded before stays.

    \b
    Example: rpd-casebook library outcome c-7 --library cases.db --who KM --months 24 --event relined:20
    """
    with told():
        from recommender.curation.outcomes import FollowUp, add_follow_up

        follow_up = FollowUp(months, accepted, worn, satisfaction, [_event(text) for text in events])
        with database(where, write=True) as library:
            said = reason(why) or "follow-up"
            version = add_follow_up(library, case, follow_up, who=who, why=said, opened=opened)
    click.echo(output.told("library.revision_follow_up", case=case, revision=version.revision))


def _event(text: str) -> Any:
    from pydantic import ValidationError

    from recommender.domain.case import Event

    kind, month, tooth = (*text.split(":"), "", "")[:3]
    try:
        return Event.model_validate({"event": kind, "month": float(month) if month else None,
                                     "tooth": int(tooth) if tooth else None})  # fmt: skip
    except (ValidationError, ValueError) as error:
        from typing import get_args

        from recommender.domain.vocabulary import EventKind

        allowed = output.told("library.kind_month_tooth", get_args=", ".join(get_args(EventKind)))
        raise click.UsageError(f"--event {text}: write {allowed}") from error


@click.command(context_settings=HELP)
@click.argument("case")
@library_option()
@opened_option()
@who_option()
@click.option("--reason", "why", default="", help="Why it is approved although a rule speaks against it.")
@click.option("--teaching-note", default=None, help="What it teaches.")
@output.words_options()
def approve(
    case: str,
    where: str | None,
    opened: int | None,
    who: str,
    why: str,
    teaching_note: str | None,
    words: "Words",
) -> None:
    """Let a case count as a precedent.

    Refused while a text in it may identify a patient. A design that the rules exclude or advise against needs
    a reason, which is shown wherever the case is cited.

    \b
    Example: rpd-casebook library approve c-7 --library cases.db --who tutor --reason "the dentist wanted no
    palate"
    """
    with told(words):
        from recommender.curation.review import approve as approving

        with database(where, write=True) as library:
            version = approving(
                library, case, who=who, reason=why, teaching_note=teaching_note, opened=opened
            )
    click.echo(output.told("library.approved_revision", case=case, revision=version.revision))


def _with_reason(verb: str, done: str, text: str, example: str) -> click.Command:
    @click.command(verb, context_settings=HELP, help=f"{text}\n\n\b\nExample: {example}")
    @click.argument("case")
    @library_option()
    @opened_option()
    @who_option()
    @click.option("--reason", "why", required=True, help="Kept with the case.")
    def command(case: str, where: str | None, opened: int | None, who: str, why: str) -> None:
        with told():
            from recommender.curation import review

            act = {"retire": review.retire, "reopen": review.reopen, "turn-down": review.turn_down}[verb]
            with database(where, write=True) as library:
                version = act(library, case, who=who, reason=why, opened=opened)
        click.echo(output.told("library.revision_a", case=case, done=done, revision=version.revision))

    return command


retire = _with_reason(
    "retire", "retired", "Take a case out of use as a precedent. It stays readable.",
    'rpd-casebook library retire c-7 --library cases.db --who tutor --reason "superseded"',
)  # fmt: skip
turn_down = _with_reason(
    "turn-down", "the change was turned down", "Decide against a change of an approved case: what serves stays.",
    'rpd-casebook library turn-down c-7 --library cases.db --who tutor --reason "measured wrongly"',
)  # fmt: skip
reopen = _with_reason(
    "reopen", "a draft again", "Make an approved or retired case a draft again.",
    'rpd-casebook library reopen c-7 --library cases.db --who tutor --reason "to be measured again"',
)  # fmt: skip
