"""Does a damage's place fit the part? Asked at the desk before an entry or a correction is taken."""

from __future__ import annotations

from typing import Any

from ...disposition.place import lay
from ...job.fold import Job, fold
from ...job.kinds import Event
from ...job.rules.places import laid_on, misplaced
from ..evidence.records import events_in
from .book import Known


def fits_the_part(ledger: Any, held: Known, event: Event) -> None:
    """Raises Contradiction when an outline's place does not fit the part of this job."""
    if event.kind == "damage.outlined" and event.body.place is not None:
        job = fold(events_in(list(ledger.record(held.number).entries)))
        lay(event.body.place, laid_on(job), name=event.body.id, field="body.place")


def stays_in_place(before: Job, after: Job) -> None:
    """Raises Contradiction when a correction leaves a damage without a place that had one."""
    already = misplaced(before)
    for entry, fault in misplaced(after).items():
        if entry not in already:
            raise fault
