"""What may be done now on a job of the shop? The same question as that of a job folder, asked of the ledger's entries."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from ...basis.quantity import instant_text
from ...job.acts.door import may_at
from ...job.acts.may import May
from ...job.kinds import Event
from ..evidence.records import events_in
from .book import head_of, opened


def may_on(data: Path, job: str, *, at: str | None = None, act: str | None = None, repair: str | None = None) -> May:
    """Every act still to come, or the one named, by the entries up to ``at`` (that of the last entry if left out).

    Raises
    ------
    BenchError
        No such job, act, repair or time.
    """
    return may_at(_events(data, job), at, act=act, repair=repair, from_record=True)


def may_now(data: Path, job: str) -> May:
    """Every act still to come, as things stand at this moment; at that of the last entry where a clock runs ahead.

    Raises
    ------
    BenchError
        No such job.
    """
    events = _events(data, job)
    now = max(datetime.now(UTC), *(event.at for event in events))
    return may_at(events, instant_text(now), from_record=True, done=False)


def _events(data: Path, job: str) -> list[Event]:
    with opened(data) as ledger:
        head_of(ledger, job)
        entries = list(ledger.record(job).entries)
    return events_in(entries)
