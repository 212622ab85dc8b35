"""``library``: build and look after a case library. Sub-verbs are loaded only when they are called."""

import importlib

import click

from recommender.cli.library.common import HELP

_STORE = "recommender.cli.library.store"
_CASES = "recommender.cli.library.cases"
_IDENTITY = "recommender.cli.library.identity"
_BRING_IN = "recommender.cli.library.bring_in"
_BULK = "recommender.cli.library.bulk"
_TAKE_OUT = "recommender.cli.library.take_out"
_STUDY = "recommender.cli.library.study"
_COMPARING = "recommender.cli.library.comparing"
_INDEX = "recommender.cli.library.index"
_PEOPLE = "recommender.cli.library.people"
# verb -> (module, attribute, one-line help shown without loading the module)
_VERBS: dict[str, tuple[str, str, str]] = {
    "init": (_STORE, "init", "Make a library: a copy of the demo cases, or empty."),
    "import": (
        _BRING_IN,
        "import_cases",
        "Bring in a folder, zip, JSON Lines, CSV or XLSX; a dry run first.",
    ),
    "export": (_TAKE_OUT, "export_cases", "Write cases out: YAML, JSON, zip, CSV, XLSX, Turtle, JSON-LD."),
    "list": (_CASES, "list_cases", "The cases, filtered."),
    "show": (_CASES, "show", "One case, in any of its versions."),
    "edit": (_CASES, "edit", "Save a changed case from a file as a new version."),
    "history": (_CASES, "history", "Who changed what, when and why."),
    "restore": (_CASES, "restore", "Make an earlier version the latest again."),
    "outcome": (_CASES, "outcome", "Add follow-up: months worn, events, satisfaction."),
    "approve": (_CASES, "approve", "Let a case count as a precedent."),
    "turn-down": (_CASES, "turn_down", "Decide against a change of an approved case."),
    "retire": (_CASES, "retire", "Take a case out of use as a precedent."),
    "reopen": (_CASES, "reopen", "Make an approved or retired case a draft again."),
    "bulk": (_BULK, "bulk", "Approve, retire, redact … all that a search finds; a trial first."),
    "screen-text": (_IDENTITY, "screen_text", "Say what in a text could identify a patient."),
    "looked-at": (_IDENTITY, "looked_at", "Say that texts that looked like patient identity are none."),
    "redact": (_IDENTITY, "redact", "Take a text that identifies a patient out of a case and its history."),
    "check": (_STUDY, "check", "Look the library through: files, rules, identity."),
    "coverage": (_STUDY, "coverage", "What the library covers and lacks."),
    "survival": (_STUDY, "survival", "How long each option lasted, by Kaplan and Meier."),
    "duplicates": (_COMPARING, "duplicates", "Cases that nearly repeat each other."),
    "conflicts": (_COMPARING, "conflicts", "The same situation, another choice."),
    "index": (_INDEX, "index", "Keep the cases of a large library ready to be asked at once."),
    "people": (_PEOPLE, "people", "Who works in a library on PostgreSQL, and in which role."),
    "backup": (_STORE, "backup", "Copy the library while it is in use, and verify the copy."),
    "restore-backup": (_STORE, "restore_backup", "Make the library what a backup holds."),
    "repair": (_STORE, "repair", "Mend a damaged library from history or a backup."),
    "migrate": (_STORE, "migrate", "Bring a library of an earlier version up to date."),
}


class _LazyGroup(click.Group):
    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(_VERBS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in _VERBS:
            return None
        module, attribute, _ = _VERBS[cmd_name]
        command: click.Command = getattr(importlib.import_module(module), attribute)
        from recommender.cli.library.index import CHANGING, then_index

        return then_index(command) if cmd_name in CHANGING else command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Verbs"):
            formatter.write_dl([(verb, text) for verb, (_, _, text) in _VERBS.items()])


@click.group(cls=_LazyGroup, context_settings=HELP)
def library() -> None:
    """Build and look after a case library.

    A library lies in one SQLite file, or on a PostgreSQL server for a group. Nothing in it may identify a
    patient. Who may read and write is settled by the access rights of the file, or on a server by the roles of
    a team in the database ('library people').

    \b
    Example: rpd-casebook library init cases.db
             rpd-casebook library import past-work.zip --library cases.db --who KM
    """
