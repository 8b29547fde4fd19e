"""Reads jobs in the background after a start, so that whoever opens the board first need not wait until all are judged.

Newest jobs first, one at a time, and after each a rest as long as it took, so that whoever asks meanwhile is not slowed by
more than half. Only what board and recall keep of a job stays in memory.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

from ...record.rotation import SHOP
from ..evidence.ledger_place import open_ledger
from .affected import told
from .board import LINES_HELD, line


def warm(data: Path, *, rest: Callable[[float], None] = time.sleep) -> int:
    """Read a shop's jobs once; how many were read.

    Raises
    ------
    BenchError
        The ledger cannot be read.
    """
    with open_ledger(data, make=False) as ledger:
        numbers = [job for job in reversed(ledger.jobs()) if job != SHOP][:LINES_HELD]
        for job in numbers:
            began = time.perf_counter()
            line(ledger, data, job, keep_state=False)
            told(ledger, data, job)
            rest(time.perf_counter() - began)
    return len(numbers)
