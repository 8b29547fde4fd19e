"""Which jobs fall when this gauge fails a check, or when this lot turns out bad?

The readings and checks of all kept jobs are asked together (the instruments room), so that a gauge found wrong in one job is
found in all. A check that was only looked at, not written down, can be asked the same way before anybody holds a part.
"""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Any

from ...basis.errors import Missing, NotEnough
from ...basis.sentences import say
from ...history.recall import checks_and_readings
from ..affected import by_lot, told_in
from ..ask import ask
from .board import listed


def falls_with_gauge(
    data: Path,
    gauge: str,
    *,
    tol_pct: float,
    now: datetime,
    reference_um: float | None = None,
    reading_um: float | None = None,
) -> dict[str, Any]:
    """The instruments room's answer on one gauge over all jobs.

    Parameters
    ----------
    tol_pct : float
        How far a gauge may be off on the shim, in percent.
    reference_um, reading_um : float, optional
        A check that is not written down yet: what would fall if it showed this, now.

    Returns
    -------
    dict
        The room's answer, with ``checks_n`` and ``readings_n`` (how many), ``last_check`` (its finding) and ``rows``: each job
        to hold in the order in which it is looked at, with what the board says of it.

    Raises
    ------
    NotEnough
        The gauge was never checked, and no check is given.
    """
    if (reference_um is None) != (reading_um is None):
        raise Missing("reading_um", say("desk.check_two_numbers"))
    whole = checks_and_readings(told_in(data))
    checks = [one for one in whole["checks"] if one["instrument"] == gauge]
    readings = [one for one in whole["readings"] if one["instrument"] == gauge]
    if reference_um is not None:
        checks.append(
            {"instrument": gauge, "at": now.isoformat(), "reference_um": reference_um, "reading_um": reading_um}
        )
    if not checks:
        raise NotEnough("gauge", say("desk.check_shim_kept", gauge=gauge[:60]))
    answer = ask("instruments", {"checks": checks, "readings": readings, "tol_pct": tol_pct})
    board = {line.number: line for line in listed(data)}
    rows = [one | {"line": board.get(one["job"])} for one in answer["triage"]]
    held = {one["job"] for one in rows}
    rows += [
        {"job": job, "line": board.get(job), "unproven": True} for job in answer["jobs_unproven"] if job not in held
    ]
    return answer | {
        "last_check": answer["findings"][-1],
        "checks_n": len(checks),
        "readings_n": len(readings),
        "rows": rows,
    }


def falls_with_lot(data: Path, lot: str) -> list[dict[str, Any]]:
    """The jobs with a layer of this lot, released ones first: they are out of the shop already."""
    board = {line.number: line for line in listed(data)}
    found = [one | {"line": board.get(one["job"])} for one in by_lot(data, lot)]
    return sorted(found, key=lambda one: (not one["certificates"], one["job"]))
