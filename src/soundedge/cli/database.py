"""``soundedge database``: PostgreSQL for the ledgers and accounts, where a shop wants it.

    soundedge database prepare          by the database's owner, once and after each new version
    soundedge database show --data …    where does this shop's ledger lie?
    soundedge database move --data …    from its file into the database
    soundedge database share --root …   photos and keys too, for more than one host
    soundedge database shared --root …  what the hosts share, opened and checked
"""

from __future__ import annotations

from pathlib import Path

import click

from .flags import tell
from .people import DATA

ROOT = click.option("--root", type=click.Path(), envvar="SOUNDEDGE_ROOT", default="soundedge-bench", show_default=True,
                    help="The installation's folder.")


@click.group("database")
def command() -> None:
    """PostgreSQL for the ledgers and accounts; without it they are files."""


@command.command("prepare")
@click.option("--owner", "owner_url", envvar="SOUNDEDGE_DATABASE_OWNER_URL", required=True,
              help="The database's address with its owner's role. Better than typing a password here: put the address into "
                   "SOUNDEDGE_DATABASE_OWNER_URL for this one command, or the password into the password file of PostgreSQL.")
@click.option("--role", default="soundedge_app", show_default=True, help="The bench's own role; made when it is not there.")
@click.option("--password-file", type=click.Path(), default=None,
              help="A file whose first line is the password of a role that is made; without it the role has none.")
def prepare(owner_url: str, role: str, password_file: str | None) -> int:
    """Make tables, guards and the bench's role. Run again it changes nothing that is there, and says what is out of order."""
    from ..services.people.installation import prepare_database

    tell(prepare_database(owner_url, role, password=_first_line(password_file)))
    return 0


@command.command("show")
@DATA
def show(data: str) -> int:
    """Where the ledger of a shop's data folder lies, and how it is kept there."""
    from ..services.evidence import ledger_place

    tell(ledger_place.where(Path(data)))
    return 0


@command.command("move")
@DATA
def move(data: str) -> int:
    """Take a shop's ledger from its file into the database that SOUNDEDGE_DATABASE_URL names; the file is kept beside it."""
    from ..services.evidence import ledger_place

    tell(ledger_place.move(Path(data)))
    return 0


@command.command("share")
@ROOT
def share(root: str) -> int:
    """Bring keys, photos and pages of an installation into the database, so that a second host can open the bench."""
    from ..services.evidence import sharing

    tell(sharing.share(Path(root)))
    return 0


@command.command("shared")
@ROOT
def shared(root: str) -> int:
    """What the hosts of an installation share, each key and file opened and checked."""
    from ..services.evidence import sharing

    tell(sharing.state(Path(root)))
    return 0


def _first_line(file: str | None) -> str:
    if file is None:
        return ""
    from ..services.files import read_text

    lines = read_text(Path(file), what="The password", field="password-file").splitlines()
    return lines[0] if lines else ""
