"""The table of faults. ``python -m tests.evidence`` does the long form (minutes), ``--short`` what pytest does too."""

from __future__ import annotations

import random
import sys

from . import faults
from .faults import Row

SHORT = {"kills": 25, "power": 60, "errors": 400, "full": 5, "flips": 2, "edits": 300, "restores": 10, "loaded": 5,
         "rebuilds": 3, "retries": 40, "races": 20}
LONG = {"kills": 1000, "power": 1000, "errors": 400, "full": 100, "flips": 20, "edits": 10_000, "restores": 100, "loaded": 100,
        "rebuilds": 50, "retries": 1000, "races": 1000}


def rows(size: dict[str, int], seed: int = 2031):
    """Every fault in turn; None where this machine does not allow it."""
    dice = random.Random(seed)
    yield "kill -9 under write load", lambda: faults.kills(size["kills"], dice)
    yield "power cut × 3 images", lambda: faults.power_cuts(size["power"], dice)
    yield "I/O error or full at operation k", lambda: faults.io_errors(size["errors"])
    yield "file store, call k fails", lambda: faults.file_errors()
    yield "disk full", lambda: faults.disk_full(size["full"], dice)
    yield "single bit", lambda: faults.bit_flips(size["flips"])
    yield "edit of the database by hand", lambda: faults.edits(size["edits"], dice)
    yield "older backup put in place", lambda: faults.restores(size["restores"])
    yield "backup under load, brought back", lambda: faults.loaded(size["loaded"])
    yield "rebuilt from the log", lambda: faults.rebuilds(size["rebuilds"])
    yield "event sent again", lambda: faults.retries(size["retries"], dice)
    yield "two release one job at once", lambda: faults.races(size["races"])


def main() -> int:
    """Print the table; 1 when anything was lost, half, or passed unseen."""
    bad = 0
    print(f"{'fault':42s} {'done':>7s} {'seconds':>8s}  measured")
    for name, work in rows(SHORT if "--short" in sys.argv else LONG):
        row: Row | None = work()
        if row is None:
            print(f"{name:42s} {'—':>7s} {'':8s}  not done: the file layer of this Python's SQLite cannot be reached")
            continue
        bad += row.bad
        wrong = "   ← WRONG" if row.bad else ""
        print(f"{row.fault:42s} {row.done:7d} {row.seconds:8.1f}  {row.measured}{wrong}", flush=True)
    print("Nothing was lost and nothing passed unseen." if not bad else f"{bad} faults were not held.")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
