"""Whether this shop's ledger may be written. Asked of everybody who has seen it (witness.py), at most every five minutes.

When it does not continue what a witness has seen, the shop is read-only in the browser until two people have declared a
restore, or the right ledger is back.
"""

from __future__ import annotations

import threading
import time
from pathlib import Path

from ...basis.errors import BenchError
from ...basis.sentences import Sentence
from ..evidence import witness
from .shop_place import shop_key_folder

EVERY_S = 300.0  # own estimate: reading a year's ledger takes under a second
_held: dict[str, tuple[float, Sentence | None]] = {}
_lock = threading.Lock()


def stopped(data: Path) -> Sentence | None:
    """Why nothing may be written, one sentence; None when it may."""
    key, now = str(data), time.monotonic()
    with _lock:
        found = _held.get(key)
        if found is not None and now - found[0] < EVERY_S:
            return found[1]
        _held[key] = (now, found[1] if found else None)  # others go on meanwhile
    said = _asked(data)
    with _lock:
        _held[key] = (time.monotonic(), said)
    return said


def forget(data: Path) -> None:
    """Ask again at the next request."""
    with _lock:
        _held.pop(str(data), None)


def _asked(data: Path) -> Sentence | None:
    said = None
    for _ in range(2):  # somebody may have written between the two looks at ledger and checkpoint
        try:
            witness.guard(data, folder=shop_key_folder(data))
            return None
        except BenchError as fault:
            said = fault.message
    return said
