"""Which jobs are affected when this gauge fails a check, or when this lot turns out bad.

The readings and checks of all kept jobs are asked together (the instruments room), so that a gauge found wrong in one job is
found in all. A check that was only looked at, not written down, can be asked the same way before anybody holds a part.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

from ...basis.errors import Missing, NotEnough
from ...basis.sentences import say
from ...history.recall import Told, checks_and_readings, repairs_of, standing_on_lot, told_by
from ...job.fold import fold
from ...record.rotation import SHOP
from ..ask import ask
from ..cache import Cache
from ..evidence.ledger_place import open_ledger
from ..evidence.records import events_in
from .board import listed

JOBS_HELD = 20_000  # of all shops together
_told = Cache(JOBS_HELD)


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
        checks.append({"instrument": gauge, "at": now.isoformat(), "reference_um": reference_um, "reading_um": reading_um})
    if not checks:
        raise NotEnough("gauge", say("desk.no_check_kept", gauge=gauge[:60]))
    answer = ask("instruments", {"checks": checks, "readings": readings, "tol_pct": tol_pct})
    board = {line.number: line for line in listed(data)}
    rows = [one | {"line": board.get(one["job"])} for one in answer["triage"]]
    held = {one["job"] for one in rows}
    rows += [{"job": job, "line": board.get(job), "unproven": True} for job in answer["jobs_unproven"] if job not in held]
    return answer | {"last_check": answer["findings"][-1], "checks_n": len(checks), "readings_n": len(readings), "rows": rows}


def falls_with_lot(data: Path, lot: str) -> list[dict[str, Any]]:
    """The jobs with a layer of this lot, released ones first: they are out of the shop already."""
    board = {line.number: line for line in listed(data)}
    found = [one | {"line": board.get(one["job"])} for one in by_lot(data, lot)]
    return sorted(found, key=lambda one: (not one["certificates"], one["job"]))


def told_in(data: Path, *, tell: Callable[[str], None] = lambda line: None) -> list[Told]:
    """What every job of the ledger says."""
    with open_ledger(data, make=False) as ledger:
        numbers = [number for number in ledger.jobs() if number != SHOP]
        out = []
        for place, number in enumerate(numbers, 1):
            if place % 100 == 0:
                tell(say("desk.jobs_read", place=place, all=len(numbers)))
            found = told(ledger, data, number)
            if found is not None:
                out.append(found)
    return out


def told(ledger: Any, data: Path, number: str) -> Told | None:
    """What one job of the ledger says; None when it was never opened."""
    key = (str(data), number)
    held: tuple[str, Told | None] | None = _told.get(key)
    if held is not None and held[0] == ledger.head(number):
        return held[1]
    entries = list(ledger.record(number).entries)
    opened = any(entry.kind == "job.opened" for entry in entries)
    found = told_by(fold(events_in(entries))) if opened else None
    _told.put(key, (entries[-1].digest, found))
    return found


def suspects(data: Path, *, tol_pct: float, tell: Callable[[str], None] = lambda line: None) -> dict[str, Any]:
    """The instruments room's answer on all shim checks and readings of the shop.

    Raises
    ------
    NotEnough
        No gauge was ever checked.
    """
    request = checks_and_readings(told_in(data, tell=tell))
    if not request["checks"]:
        raise NotEnough("data", say("services.gauge_check_missing"))
    return ask("instruments", request | {"tol_pct": tol_pct})


def by_lot(data: Path, lot: str) -> list[dict[str, Any]]:
    """The jobs that stand on a lot."""
    return [one._asdict() for one in standing_on_lot(told_in(data), lot)]


def by_part(data: Path, tag: str) -> list[dict[str, Any]]:
    """The repairs of a part, as a ``[[history]]`` of the next job needs them."""
    return [one._asdict() for one in repairs_of(told_in(data), tag)]
