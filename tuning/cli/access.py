"""Passphrases of the dashboard on the network: set, or asked for once."""

import sys
from typing import TYPE_CHECKING

import click

from . import main

if TYPE_CHECKING:
    from dashboard.passphrases import AccessFile


@main.command()
@click.option("--viewer", is_flag=True, help="Set the one for people who may look but not write.")
@click.option(
    "--from-stdin", is_flag=True, help="Read it from the first line of standard input, for scripts."
)
def passphrase(viewer: bool, from_stdin: bool) -> None:
    """Set the passphrase that `tuning serve --lan` asks for.

    It is kept hashed, in a file of yours that nobody else may read. Whoever is logged in has to log in again.
    """
    from dashboard.passphrases import OWNER, VIEWER, AccessFile

    file, role = AccessFile(), VIEWER if viewer else OWNER
    if from_stdin:
        file.set(role, sys.stdin.readline())
    else:
        _ask(file, role)
    click.echo(f"The {role}'s passphrase is set; it is kept hashed in {file.path}.")


def asked_access() -> "AccessFile":
    """The passphrases; where none is set and somebody sits at the terminal, they are asked for one."""
    from dashboard.passphrases import OWNER, AccessFile

    file = AccessFile()
    if file.read() is None:
        if not sys.stdin.isatty():
            raise click.UsageError(
                "Other machines need a passphrase and no passphrase is set. Run: tuning passphrase"
            )
        click.echo("Other machines will have to give a passphrase. None is set yet.")
        _ask(file, OWNER)
    return file


def _ask(file: "AccessFile", role: str) -> None:
    from dashboard.passphrases import SHORTEST

    text = f"New passphrase for {role}s, {SHORTEST} characters or more (it is not shown)"
    file.set(role, click.prompt(text, hide_input=True, confirmation_prompt="Once more"))
