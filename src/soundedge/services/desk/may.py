"""What may be done now on a job of the shop? The same question as that of a job folder, asked of the ledger's entries."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from ...basis.quantity import instant_text
from ...job.acts.door import may_at
from ...job.acts.may import May
from ...job.kinds import Event
from ..cache import Cache
from ..evidence.records import events_in
from .book import head_of, opened

_kept = Cache(80)  # by the job's head: its entries as events, and what the rooms have said of them


def may_on(data: Path, job: str, *, at: str | None = None, act: str | None = None, repair: str | None = None) -> May:
    """Every act still to come, or the one named, by the entries up to ``at`` (that of the last entry if left out).

    Raises
    ------
    BenchError
        No such job, act, repair or time.
    """
    events, heard = _events(data, job)
    return may_at(events, at, act=act, repair=repair, from_record=True, heard=heard)


def may_now(data: Path, job: str) -> May:
    """Every act still to come, as things stand at this moment; at that of the last entry where a clock runs ahead.

    Raises
    ------
    BenchError
        No such job.
    """
    events, heard = _events(data, job)
    now = max(datetime.now(UTC), *(event.at for event in events))
    return may_at(events, instant_text(now), from_record=True, done=False, heard=heard)


def _events(data: Path, job: str) -> tuple[Sequence[Event], dict[tuple[int, str], Any]]:
    with opened(data) as ledger:
        key = (str(data), job, head_of(ledger, job))
        found = _kept.get(key)
        if found is None:
            found = events_in(list(ledger.record(job).entries)), {}
            _kept.put(key, found)
    return found  # type: ignore[no-any-return]
