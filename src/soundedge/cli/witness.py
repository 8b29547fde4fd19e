"""``soundedge witness FOLDER``: let a second place keep what the ledger was, so that nobody can write it anew unseen."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import click

from .flags import tell
from .people import DATA, KEYS


@click.command("witness")
@click.argument("folder", type=click.Path(), required=False)
@click.option("--claim", default=None, help="The text of a printed certificate's square code, beginning with SE1|.")
@KEYS
@DATA
def command(folder: str | None, claim: str | None, keys: str | None, data: str) -> int:
    """Compare the ledger with every checkpoint there is, then write the newest one to FOLDER (a stick, another machine).

    Without FOLDER it only compares. Exit 0 when the ledger continues all of them, 4 when it does not, 2 when it cannot be
    asked.
    """
    from ..services.evidence import key_files, keyring, witness

    place = key_files.key_folder(keys)
    if claim is not None:
        tell(witness.check_claim(claim, Path(data), folder=place))
    if folder is not None:
        held = keyring.load(place, data=Path(data))
        tell(witness.witness(Path(folder), Path(data), keys=held, now=datetime.now(UTC)))
    elif claim is None:
        found = witness.guard_ledger(Path(data), folder=place)
        tell(found.said)
        for name in found.away:
            tell(f"Not there now, not asked: '{name}'.")
        for one in found.restored:
            tell(one.sentence)
    return 0
