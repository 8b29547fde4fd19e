"""``soundedge record list|export|rebuild``: the shop's ledger, which is only ever added to."""

from __future__ import annotations

from pathlib import Path

import click

from .flags import say

_DATA = click.option("--data", type=click.Path(), required=True, envvar="SOUNDEDGE_DATA", help="The shop's data folder.")


@click.group("record")
def command() -> None:
    """The kept records. SOUNDEDGE_DATA names the data folder when --data is left out."""


@command.command("list")
@_DATA
def listed(data: str) -> int:
    """Every job in the ledger, with the number of its events and its head."""
    from ..services.ledger import listed

    for job, events, head in listed(Path(data)):
        say(f"{job}  {events} events  head {head}")
    return 0


@command.command("export")
@click.argument("job")
@click.option("--out", type=click.Path(), required=True, help="Where record.json goes.")
@_DATA
def export(job: str, out: str, data: str) -> int:
    """Write the record of JOB as it is kept, byte for byte."""
    from ..services.files import write_whole
    from ..services.ledger import exported

    raw = exported(Path(data), job)
    write_whole(Path(out), raw)
    say(f"{out}: {len(raw)} bytes. Check it with: soundedge verify {out}")
    return 0


@command.command("rebuild")
@_DATA
def rebuild(data: str) -> int:
    """Throw away everything derived from the events and derive it anew, then verify the ledger."""
    from ..services.ledger import rebuild

    say(rebuild(Path(data)))
    return 0
