"""``rpd-casebook``: verbs are loaded only when they are called, so that ``--help`` stays quick."""

import contextlib
import importlib
import os
import sys
from typing import Any

import click

from recommender.version import __version__

# verb -> (module, attribute, one-line help shown without loading the module)
_VERBS: dict[str, tuple[str, str]] = {
    "classify": (
        "recommender.cli.advise.classify:classify",
        "Kennedy class with modifications, and which rule decided what.",
    ),
    "recommend": ("recommender.cli.advise.recommend:recommend", "The whole recommendation for a case."),
    "precedents": (
        "recommender.cli.advise.precedents:precedents",
        "Nearest stored cases, what is alike, what differs.",
    ),
    "review": (
        "recommender.cli.advise.review:review",
        "The prescription, or a design, held against the recommendation.",
    ),
    "explain": (
        "recommender.cli.advise.explain:explain",
        "Why this option, why not that one, and what would change it.",
    ),
    "resurvey": (
        "recommender.cli.advise.resurvey:resurvey",
        "A design held against the survey after preparation, tooth by tooth.",
    ),
    "letter": ("recommender.cli.advise.documents:letter", "The letter to the dentist, as PDF."),
    "ticket": ("recommender.cli.advise.documents:ticket", "The bench ticket, as PDF."),
    "read-answer": (
        "recommender.cli.advise.documents:read_answer",
        "The dentist's answer, from the page that letter --form makes, into the case.",
    ),
    "drawing": ("recommender.cli.advise.documents:drawing", "The arch with its framework, as SVG."),
    "read-order": (
        "recommender.cli.read_order:read_order",
        "A dentist's order in free text, as proposals for a case.",
    ),
    "survey": (
        "recommender.cli.survey:survey",
        "Survey figures with bands from a scanned cast.",
    ),
    "rules": ("recommender.cli.rules.verbs:rules", "List, filter, explain and check the rules."),
    "library": ("recommender.cli.library.group:library", "Build and look after a case library."),
    "exercise": ("recommender.cli.teach.exercise:exercise", "Set, answer, print and review exercises."),
    "evaluate": (
        "recommender.cli.teach.evaluate_confidence:evaluate",
        "Agreement with published cases and with a library; whether what is said of how sure it is holds.",
    ),
    "profile": (
        "recommender.cli.teach.profile:profile",
        "A house's own hand: learn it from a library, read it, try it, adopt it, take it back.",
    ),
    "app": ("recommender.cli.app:app", "Start the screens."),
}


class _LazyGroup(click.Group):
    """A group that imports a verb's module only when that verb is run."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(_VERBS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in _VERBS:
            return None
        module_name, attribute = _VERBS[cmd_name][0].split(":")
        command: click.Command = getattr(importlib.import_module(module_name), attribute)
        return command

    def invoke(self, ctx: click.Context) -> Any:
        """Runs a verb; a full disk or a folder that may not be written to ends it with one sentence."""
        try:
            found = super().invoke(ctx)
            sys.stdout.flush()
        except BrokenPipeError:
            raise
        except OSError as error:
            from recommender.precedents.store.engine import from_system

            where = error.filename or "standard output or a temporary file"
            with contextlib.suppress(OSError):
                sys.stderr.write(f"{from_system(error, str(where))}\n")
            with contextlib.suppress(OSError):
                # what is left in the buffer cannot be written either
                os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
            sys.exit(1)
        return found

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Verbs"):
            formatter.write_dl([(verb, text) for verb, (_, text) in _VERBS.items()])


@click.group(cls=_LazyGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="rpd-casebook")
def main() -> None:
    """Design support for removable partial denture frameworks.

    A proposal for a qualified person: the prescribing dentist decides, and local regulation and the licensed
    technician stand above anything printed here.
    """
