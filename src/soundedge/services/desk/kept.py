"""What is kept of a job in memory? One state, the newest, and a new entry folds onto it.

    151 entries there, 151 known            → nothing is read
    152 entries there, 151 known            → entry 152 alone is read
    another record there than the known one → all of it is read again

What is known is asked for by the job's head, so nothing old is shown after another worker has written. What follows from all
entries together (the judgement) is thought anew with each of them, and once. Bounded in bytes, so that a long job does not
fill a worker.
"""

from __future__ import annotations

import threading
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from cachetools import LRUCache

from ...job.kinds import Event
from ...record.entry import Entry
from ..evidence.records import events_in
from .book import head_of

HELD_BYTES = 90_000_000
OF_EACH_BYTE = 24  # what an entry's byte takes once it is read, judged and laid out as rows
OF_EACH_JOB = 300_000  # its steps


@dataclass(frozen=True)
class Folded:
    """A job's entries, and the same as events, as of its last. ``thought``: what was made of them so far, by name; whoever
    makes something holds ``lock``, so that it is made once."""

    entries: tuple[Entry, ...]
    events: tuple[Event, ...]
    size: int
    thought: dict[Any, Any] = field(default_factory=dict)
    lock: Any = field(default_factory=threading.RLock)
    rows_before: tuple[dict[str, Any], ...] = ()  # the rows of the first entries, made before the later ones came

    @property
    def head(self) -> str:
        """Digest of the last entry."""
        return self.entries[-1].digest

    def onto(self, later: Sequence[Entry]) -> Folded:
        """With entries that follow these."""
        rows = tuple(self.thought.get("rows", self.rows_before))
        return Folded((*self.entries, *later), (*self.events, *events_in(later)), self.size + _size(later), rows_before=rows)


_lock = threading.Lock()
_held: LRUCache[tuple[str, str], Folded] = LRUCache(HELD_BYTES, getsizeof=lambda one: min(one.size, HELD_BYTES))


def folded(ledger: Any, data: Path, job: str, *, keep: bool = True) -> Folded:
    """The job as it lies in the ledger now. ``keep``: in memory, for the next caller.

    Raises
    ------
    Unknown
        No such job.
    RecordBroken
        An entry that is not what its kind must be.
    """
    head, held = head_of(ledger, job), _get(data, job)
    if held is not None and held.head == head:
        return held
    if held is not None:
        later = ledger.entries(job, after=len(held.entries))
        if later and later[0].prev == held.head:
            return _put(data, job, held.onto(later), keep)
    return _put(data, job, _anew(ledger.entries(job)), keep)


def of_entries(data: Path, job: str, entries: Sequence[Entry], *, keep: bool = True) -> Folded:
    """The same of entries that were read already."""
    held = _get(data, job)
    if held is not None and held.head == entries[-1].digest:
        return held
    known = len(held.entries) if held is not None else 0
    if held is not None and known < len(entries) and entries[known - 1].digest == held.head:
        return _put(data, job, held.onto(entries[known:]), keep)
    return _put(data, job, _anew(entries), keep and (held is None or len(entries) > known))


def forget() -> None:
    """Forget every job: as after a start."""
    with _lock:
        _held.clear()


def held_bytes() -> int:
    """About how many bytes the jobs in memory take."""
    with _lock:
        return int(_held.currsize)


def _anew(entries: Sequence[Entry]) -> Folded:
    return Folded(tuple(entries), tuple(events_in(entries)), OF_EACH_JOB + _size(entries))


def _size(entries: Sequence[Entry]) -> int:
    return OF_EACH_BYTE * sum(len(entry.raw) for entry in entries)


def _get(data: Path, job: str) -> Folded | None:
    with _lock:
        return _held.get((str(data), job))


def _put(data: Path, job: str, made: Folded, keep: bool) -> Folded:
    with _lock:
        there = _held.get((str(data), job))
        if there is not None and there.head == made.head:
            return there  # somebody was quicker, and has thought of it perhaps
        if keep:
            _held[str(data), job] = made
    return made
