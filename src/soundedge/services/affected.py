"""What falls when a gauge fails or a lot is called back? All kept jobs asked at once.

What a job says is kept in memory by the job's head, so that only a job that has moved on is read again, whoever wrote to it.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from ..basis.errors import NotEnough
from ..basis.sentences import say
from ..history.recall import Told, checks_and_readings, repairs_of, standing_on_lot, told_by
from ..job.fold import fold
from ..record.rotation import SHOP
from .ask import ask
from .cache import Cache
from .evidence.ledger_place import open_ledger
from .evidence.records import events_in

JOBS_HELD = 20_000  # of all shops together
_told = Cache(JOBS_HELD)


def told_in(data: Path, *, tell: Callable[[str], None] = lambda line: None) -> list[Told]:
    """What every job of the ledger says."""
    with open_ledger(data, make=False) as ledger:
        numbers = [number for number in ledger.jobs() if number != SHOP]
        out = []
        for place, number in enumerate(numbers, 1):
            if place % 100 == 0:
                tell(f"{place} of {len(numbers)} jobs read")
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
        raise NotEnough("data", say("services.gauge_check_kept_ledger"))
    return ask("instruments", request | {"tol_pct": tol_pct})


def by_lot(data: Path, lot: str) -> list[dict[str, Any]]:
    """The jobs that stand on a lot."""
    return [one._asdict() for one in standing_on_lot(told_in(data), lot)]


def by_part(data: Path, tag: str) -> list[dict[str, Any]]:
    """The repairs of a part, as a ``[[history]]`` of the next job needs them."""
    return [one._asdict() for one in repairs_of(told_in(data), tag)]
