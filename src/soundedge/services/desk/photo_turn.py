"""Whose turn is it to have a photo unpacked? One of 50 megapixels takes some 250 MB of memory while its card is looked for.

One at a time of a shop, in all processes together; what an entry brings has a turn of its own, so that no entry waits behind
those who only look. Somebody who asks for more at once than a page does is told to wait.

    with looked_at(data, person, MEASURED):
        survey(...)
"""

from __future__ import annotations

import fcntl
import os
import threading
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path

from ...basis.errors import Refused
from ...basis.sentences import say

# What a person may have asked for at once, of one process: a browser loads six pictures at a time, and a page measures one.
SHOWN, MEASURED = 6, 3
_guarded = threading.Lock()
_asked: Counter[tuple[str, str, int]] = Counter()


class Waiting(Refused):
    """This person's earlier photos are still being looked at."""

    kind = "locked"


@contextmanager
def looked_at(data: Path, person: str, most: int) -> Iterator[None]:
    """The turn of a person who looks or measures and writes nothing down; ``most`` is SHOWN or MEASURED.

    Raises
    ------
    Waiting
        As many of their photos wait or are being looked at already.
    """
    asked = (str(data), person, most)
    with _guarded:
        if _asked[asked] >= most:
            raise Waiting("photo", say("desk.photos_wait", n=most))
        _asked[asked] += 1
    try:
        with _turn(data, "looked"):
            yield
    finally:
        with _guarded:
            _asked[asked] -= 1
            if not _asked[asked]:
                del _asked[asked]


@contextmanager
def entered(data: Path) -> Iterator[None]:
    """The turn of a photo that an entry brings."""
    with _turn(data, "entered"):
        yield


@contextmanager
def _turn(data: Path, kind: str) -> Iterator[None]:
    with _lock(str(data), kind):
        try:
            handle = os.open(data / f".photo-{kind}", os.O_RDWR | os.O_CREAT, 0o600)
        except OSError:  # a full disk or one that is only read: then one at a time of each process
            yield
            return
        try:
            fcntl.flock(handle, fcntl.LOCK_EX)
            yield
        finally:
            os.close(handle)


@cache
def _lock(data: str, kind: str) -> threading.Lock:
    return threading.Lock()
