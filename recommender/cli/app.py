"""``app``: starts the screens on this machine."""

import os
import sys

import click

from recommender.cli import output
from recommender.domain.limits import MOST_UPLOAD_MB

# What keeps the screens private and quiet stands here as well as in .streamlit/config.toml, so that it holds from
# any folder and in an installed copy.
_SETTINGS = {
    "server.address": "127.0.0.1",
    "server.fileWatcherType": "none",
    "server.maxUploadSize": str(MOST_UPLOAD_MB),  # each place for a file says less where less is enough
    "server.showEmailPrompt": "false",
    "browser.gatherUsageStats": "false",
    "client.toolbarMode": "viewer",
    "client.showErrorDetails": "none",
    "client.showErrorLinks": "false",
    "logger.hideWelcomeMessage": "true",  # it speaks of Streamlit and not of the screens
}


@click.command()
@click.option(
    "--port", type=click.IntRange(1, 65535), default=8501, show_default=True, help="Port on 127.0.0.1."
)
@click.option(
    "--library",
    "where",
    metavar="WHERE",
    default=None,
    help="A database URL, a folder of case files, or none. Left out: the configured library, else the packaged demo.",
)
@click.option("--no-browser", is_flag=True, help="Do not open a browser window.")
def app(port: int, where: str | None, no_browser: bool) -> None:
    """Start the screens in a browser, on this machine only.

    They listen on the loopback address and nowhere else. One person needs no log-in; over a library that a team
    shares people log in (library people --help). No usage statistics are sent. Working copies of cases are kept in
    the user's cache folder.

    \b
    Example: rpd-casebook app --library sqlite:///cases.db
    """
    from recommender.precedents.store.errors import LibraryError
    from recommender.precedents.store.opening import ENVIRONMENT, open_library
    from recommender.resources import app_script

    try:
        open_library(where)
    except LibraryError as error:
        click.echo(str(error), err=True)
        sys.exit(1)
    if where is not None:
        os.environ[ENVIRONMENT] = where
    click.echo(output.told("verb.screens_http_ctrl", port=port))
    sys.exit(serve(str(app_script()), arguments(port, no_browser)))


def arguments(port: int, no_browser: bool) -> list[str]:
    """The settings as Streamlit's own arguments."""
    wanted = {**_SETTINGS, "server.port": str(port), "server.headless": str(no_browser).lower()}
    return [f"--{name}={value}" for name, value in wanted.items()]


def serve(script: str, settings: list[str]) -> int:
    """Run the server until it is stopped (Ctrl-C); its exit status."""
    from streamlit.web import cli

    sys.argv = ["streamlit", "run", script, *settings]
    try:
        cli.main(standalone_mode=False)
    except click.exceptions.Abort:
        return 0
    return 0
