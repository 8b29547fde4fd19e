"""``soundedge verify FILE…``: certificates and records, offline; one plain sentence each."""

from __future__ import annotations

import json

import click

from ..basis.errors import BenchError
from .flags import answer_options, say


@click.command("verify")
@click.argument("files", nargs=-1, required=True, type=click.Path())
@answer_options
def command(files: tuple[str, ...], as_json: bool) -> int:
    """Check FILES: certificate.pdf or record.json.

    Exit 0 when all hold, 4 when one does not say what it said (it is named), 2 when a file cannot be used.
    """
    from ..services.verify import verify_file

    results, code = [], 0
    for file in files:
        try:
            found = verify_file(file)
        except BenchError as fault:
            code = max(code, fault.exit_code)
            found = {"file": file} | fault.as_json()
        results.append(found)
        if not as_json:
            say(f"{file}: {found['sentence']}" if "sentence" in found else f"✕ {file}: {found['error']['message']}")
    if as_json:
        say(json.dumps(results, ensure_ascii=False, indent=1))
    return code
