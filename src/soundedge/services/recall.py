"""What falls when a gauge fails or a lot is called back? All kept jobs asked at once."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from ..basis.errors import NotEnough
from ..history.recall import checks_and_readings, repairs_of, standing_on_lot
from ..job.fold import Job, fold
from .ask import ask
from .opened import open_ledger
from .records import events_in


def jobs_in(data: Path, *, tell: Callable[[str], None] = lambda line: None) -> list[Job]:
    """Every job of the ledger, folded."""
    with open_ledger(data, make=False) as ledger:
        numbers = ledger.jobs()
        out = []
        for place, number in enumerate(numbers, 1):
            if place % 100 == 0:
                tell(f"{place} of {len(numbers)} jobs read")
            entries = list(ledger.record(number).entries)
            if any(entry.kind == "job.opened" for entry in entries):
                out.append(fold(events_in(entries)))
    return out


def suspects(data: Path, *, tol_pct: float, tell: Callable[[str], None] = lambda line: None) -> dict[str, Any]:
    """The instruments room's answer on all shim checks and readings of the shop.

    Raises
    ------
    NotEnough
        No gauge was ever checked.
    """
    request = checks_and_readings(jobs_in(data, tell=tell))
    if not request["checks"]:
        raise NotEnough("data", "No gauge check is kept in this ledger. Check the gauges on shims and record it.")
    return ask("instruments", request | {"tol_pct": tol_pct})


def by_lot(data: Path, lot: str) -> list[dict[str, Any]]:
    """The jobs that stand on a lot."""
    return [one._asdict() for one in standing_on_lot(jobs_in(data), lot)]


def by_part(data: Path, tag: str) -> list[dict[str, Any]]:
    """The repairs of a part, as a ``[[history]]`` of the next job needs them."""
    return [one._asdict() for one in repairs_of(jobs_in(data), tag)]
