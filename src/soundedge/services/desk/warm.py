"""Reads jobs in the background after a start, so that whoever opens the board first need not wait until all are judged.

Only jobs that are not released are judged: what is released is a row of the store's. Newest first, one at a time, and after
each a rest as long as it took, so that whoever asks meanwhile is not slowed by more than half. Only what board and recall
keep of a job stays in memory.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

from ..evidence.ledger_place import open_ledger
from .affected import told
from .board import read_ahead


def warm(data: Path, *, rest: Callable[[float], None] = time.sleep) -> int:
    """Read a shop's jobs once; how many were read.

    Raises
    ------
    BenchError
        The ledger cannot be read.
    """
    count, began = 0, time.perf_counter()
    with open_ledger(data, make=False) as ledger:
        for job in read_ahead(ledger, data):
            told(ledger, data, job)
            count += 1
            rest(time.perf_counter() - began)
            began = time.perf_counter()
    return count
