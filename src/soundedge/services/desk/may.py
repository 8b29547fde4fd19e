"""What may be done now on a job of the shop? The same question as that of a job folder, asked of the ledger's entries."""

from __future__ import annotations

from pathlib import Path

from ...job.acts.door import may_at
from ...job.acts.may import May
from ..evidence.records import events_in
from .book import head_of, opened


def may_on(data: Path, job: str, *, at: str | None = None, act: str | None = None, repair: str | None = None) -> May:
    """Every act still to come, or the one named, by the entries up to ``at`` (that of the last entry if left out).

    Raises
    ------
    BenchError
        No such job, act, repair or time.
    """
    with opened(data) as ledger:
        head_of(ledger, job)
        entries = list(ledger.record(job).entries)
    return may_at(events_in(entries), at, act=act, repair=repair, from_record=True)
