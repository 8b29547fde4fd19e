"""How people say who they are on the command line: ``--by NAME`` and a passphrase, typed or from a file."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import click

from ..basis.errors import Contradiction
from ..basis.sentences import say

DATA = click.option("--data", type=click.Path(), required=True, envvar="SOUNDEDGE_DATA", help="The shop's data folder.")
DATA_IF_ANY = click.option("--data", type=click.Path(), default=None, envvar="SOUNDEDGE_DATA",
                           help="The shop's data folder: keys inside it are refused.")
KEYS = click.option("--keys", type=click.Path(), default=None, envvar="SOUNDEDGE_KEYS",
                    help="The keys' folder; ~/.config/soundedge/keys when left out.")


def two_people(command: Callable[..., Any]) -> Callable[..., Any]:
    """Adds ``--by`` (twice), ``--passphrase-file`` (twice, in the same order) and ``--because``."""
    for option in (
        click.option("--because", required=True, help="The reason, at least 10 characters; it is kept."),
        click.option("--passphrase-file", "files", multiple=True, type=click.Path(),
                     help="A file with the passphrase, in the order of --by; asked for when left out."),
        click.option("--by", "by", multiple=True, help="Who declares it. Give it twice: two different people."),
    ):
        command = option(command)
    return command


def passphrases(by: Sequence[str], files: Sequence[str]) -> list[tuple[str, str]]:
    """Each name with its passphrase.

    Raises
    ------
    Contradiction
        Another number of files than of names.
    """
    if files and len(files) != len(by):
        raise Contradiction("passphrase-file", say("cli.passphrase_files", people=len(by), files=len(files)))
    return [(name, passphrase(name, files[n] if files else None)) for n, name in enumerate(by)]


def passphrase(name: str, file: str | None, *, new: bool = False) -> str:
    """A passphrase from the first line of a file, or typed without being shown (twice for a new one)."""
    if file is not None:
        from ..services.files import read_text

        lines = read_text(Path(file), what="The passphrase", field="passphrase").splitlines()
        return lines[0] if lines else ""
    return click.prompt(f"Passphrase of {name}", hide_input=True, confirmation_prompt=new, err=True)
