"""The work that is disturbed: a shop that writes events into its ledger, and what must be true afterwards."""

from __future__ import annotations

import hashlib
from datetime import UTC, datetime, timedelta
from pathlib import Path

from soundedge.record.write import Said
from soundedge.services.evidence.ledger_place import open_ledger
from soundedge.store.ledger import FILE, Ledger

NOW = datetime(2031, 5, 4, 13, 0, tzinfo=UTC)


def said(n: int) -> Said:
    """The n-th event of the shop: small, large, and in several jobs."""
    body = {"air_c": 19.8 + n % 7 / 10, "rh_pct": 52, "steel_c": 18.6, "remark": "µ" * (n * 37 % 900)}
    return Said(f"e{n}", "air.read", "ines", NOW, body)


def job_of(n: int) -> str:
    return f"KBW-2031-{n % 3:03d}"


def append(ledger: Ledger, n: int) -> None:
    """Write event n; when this returns it is acknowledged."""
    ledger.append(job_of(n), [said(n)], now=NOW + timedelta(seconds=n))


def missing(ledger: Ledger, acknowledged: set[int]) -> set[int]:
    """Acknowledged events that are not there."""
    there = {int(entry.id[1:]) for job in ledger.jobs() for entry in ledger.record(job).entries
             if entry.kind == "air.read"}
    return acknowledged - there


def after(folder: Path, acknowledged: set[int]) -> tuple[int, int, int]:
    """(lost, half, unopenable) after whatever has happened: opened as the shop would, verified, and counted."""
    from soundedge.basis.errors import BenchError

    try:
        ledger = open_ledger(folder)
    except BenchError:
        return (0, 0, 1)
    with ledger:
        try:
            ledger.verify()
        except BenchError:
            return (len(missing(ledger, acknowledged)) if ledger.size() else 0, 1, 0)
        return (len(missing(ledger, acknowledged)), 0, 0)


def digest(folder: Path) -> str:
    return hashlib.sha256((folder / FILE).read_bytes()).hexdigest()
