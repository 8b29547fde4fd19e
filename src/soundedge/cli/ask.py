"""``soundedge ask ROOM < request.json > answer.json``: the pair of request and answer as it is."""

from __future__ import annotations

import json

import click

from ..services.ask import ROOMS, schema
from .door import answer_stdin
from .flags import tell


@click.command("ask", epilog="Rooms: " + ", ".join(ROOMS))
@click.argument("room", metavar="ROOM")
@click.option("--schema", "as_schema", is_flag=True, help="Print the JSON Schemas of request and answer instead.")
def command(room: str, as_schema: bool) -> int:
    """Read a request as JSON on standard input and write the answer as JSON.

    Exit 0 with an answer, 2 with {"error": {"kind", "field", "message"}}, 3 when a measurement is refused.
    """
    if as_schema:
        tell(json.dumps(schema(room), ensure_ascii=False, indent=1))
        return 0
    return answer_stdin(room)
