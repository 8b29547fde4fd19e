"""``soundedge serve``: open the bench for browsers, on this machine alone or for the shop's tablets."""

from __future__ import annotations

import os
import sys
from datetime import UTC, datetime
from pathlib import Path

import click

from .flags import tell


@click.command("serve")
@click.option("--root", type=click.Path(), envvar="SOUNDEDGE_ROOT", default="soundedge-bench", show_default=True,
              help="The installation's folder; made when it is new.")
@click.option("--host", default="127.0.0.1", show_default=True, help="Where it listens; 0.0.0.0 for every device in the shop.")
@click.option("--port", type=int, default=8741, show_default=True, help="The port; 0 takes a free one.")
@click.option("--tls", is_flag=True, help="Speak TLS with the shop's own certificate; needed for tablets.")
@click.option("--name", "names", multiple=True, help="One more name or address the tablets use; may be given again.")
@click.option("--new-authority", is_flag=True, help="Make a new authority; each tablet must then install it.")
@click.option("--workers", type=int, default=2, show_default=True, help="Processes.")
@click.option("--threads", type=int, default=16, show_default=True, help="Threads in each process.")
@click.option("--log", type=click.Path(), default=None, help="Write the log here instead of standard error.")
def command(root: str, host: str, port: int, tls: bool, names: tuple[str, ...], new_authority: bool, workers: int,
            threads: int, log: str | None) -> int:
    """Open the bench for browsers. Tablets: soundedge serve --tls --host 0.0.0.0 --root FOLDER"""
    from ..services.people import serve

    os.umask(0o077)  # whatever the bench writes is its owner's alone
    settings = serve.Settings(Path(root), host, port, tls or new_authority, names, workers, threads,
                              Path(log) if log else None, new_authority)
    if log:
        serve.write_lines(Path(log))
    prepared = serve.prepare(settings, now=datetime.now(UTC))
    for line in serve.said(prepared):
        tell(line)
    sys.stdout.flush()
    code = serve.run(prepared)
    tell("The bench is closed." if code == 0 else "The bench ended with a fault; the last lines of the log say which.")
    return code
