"""``soundedge record list|export|rebuild|suspects|lot|part``: the shop's ledger, which is only ever added to."""

from __future__ import annotations

from pathlib import Path

import click

from ..basis.on_paper import counted
from .flags import answer_options, show, tell

_DATA = click.option("--data", type=click.Path(), required=True, envvar="SOUNDEDGE_DATA", help="The shop's data folder.")


@click.group("record")
def command() -> None:
    """The kept records. SOUNDEDGE_DATA names the data folder when --data is left out."""


@command.command("list")
@_DATA
def jobs_in_ledger(data: str) -> int:
    """Every job in the ledger, with the number of its entries and the fingerprint of the last."""
    from ..services.evidence.keep_job import jobs_in_ledger

    for job, events, head in jobs_in_ledger(Path(data)):
        tell(f"{job}  {counted(events, 'entry', 'entries')}  head {head}")
    return 0


@command.command("export")
@click.argument("job")
@click.option("--out", type=click.Path(), required=True, help="Where record.json goes.")
@_DATA
def export(job: str, out: str, data: str) -> int:
    """Write the record of JOB as it is kept, byte for byte."""
    from ..services.evidence.keep_job import exported
    from ..services.files import write_whole

    raw = exported(Path(data), job)
    write_whole(Path(out), raw)
    tell(f"{out}: {len(raw)} bytes. Check it with: soundedge verify {out}")
    return 0


@command.command("rebuild")
@_DATA
def rebuild(data: str) -> int:
    """Throw away everything derived from the entries, derive it again, then verify the ledger."""
    from ..services.evidence.keep_job import rebuild

    tell(rebuild(Path(data)))
    return 0


@command.command("suspects")
@click.option("--tol", default=3.0, show_default=True, help="Tolerance of a gauge on its shim, %.")
@answer_options
@_DATA
def suspects(tol: float, as_json: bool, data: str) -> int:
    """Which kept readings, jobs and certificates fall with a gauge that failed its check.

    Exit 3 when any does.
    """
    from ..services.desk.affected import suspects

    answer = suspects(Path(data), tol_pct=tol, tell=lambda line: tell(line, error=True))
    rows = [("suspect readings", str(len(answer["suspect"]))), ("jobs held", ", ".join(answer["jobs_held"]) or "none"),
            ("certificates held", ", ".join(answer.get("certificates_held", [])) or "none")]
    rows += [(f"gauge {gauge}", f"last good check {at or 'never'}") for gauge, at in answer["last_good"].items()]
    rows += [(f"look first at {one['rank']}", f"{one['job']}: corrected minimum {one['corrected_min_um']:.0f} µm")
             for one in answer["triage"]]
    show(answer, as_json, rows, title="Readings since each gauge's last good check")
    return 3 if answer["suspect"] else 0


@command.command("lot")
@click.argument("lot")
@_DATA
def lot(lot: str, data: str) -> int:
    """Which kept jobs stand on material lot LOT."""
    from ..services.desk.affected import by_lot

    found = by_lot(Path(data), lot)
    for one in found:
        tell(f"{one['job']}  part {one['part']}  {', '.join(one['entries'])}  "
            f"certificates: {', '.join(one['certificates']) or 'none'}")
    if not found:
        tell(f"No kept job stands on lot {lot}.")
    return 0


@command.command("part")
@click.argument("tag")
@_DATA
def part(tag: str, data: str) -> int:
    """The kept repairs of part TAG, where and how large: the [[history]] of its next job."""
    from ..services.desk.affected import by_part

    found = by_part(Path(data), tag)
    for one in found:
        tell(f"{one['job']}  {one['at'][:10]}  x {one['x']:.0f} mm, y {one['y']:.0f} mm, d {one['d']:.0f} mm")
    if not found:
        tell(f"No repair of part {tag} is kept.")
    return 0
