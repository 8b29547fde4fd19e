"""``soundedge doctor``: is the shop's record saved, verified, backed up and witnessed; are clock and keys right?"""

from __future__ import annotations

import json
from pathlib import Path

import click

from .flags import answer_options, tell
from .people import DATA, KEYS


@click.command("doctor")
@KEYS
@DATA
@answer_options
def command(keys: str | None, data: str, as_json: bool) -> int:
    """Look at the data folder from all sides: one sentence each, with what to do. Exit 0 when all is well, 3 otherwise."""
    from ..services.evidence import key_files
    from ..services.evidence.doctor import examine

    looks = examine(Path(data), folder=key_files.key_folder(keys))
    if as_json:
        found = [{"name": one.name, "well": one.well, "said": one.said} for one in looks]
        tell(json.dumps(found, ensure_ascii=False, indent=1))
    else:
        for one in looks:
            tell(f"{'●' if one.well else '■'} {one.name.ljust(10)} {one.said}")
    return 0 if all(one.well for one in looks) else 3
