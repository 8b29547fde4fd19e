"""What may be done now on a job of the shop? The same question as that of a job folder, asked of the ledger's entries."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from ...basis.quantity import instant_text
from ...job.acts.door import may_at
from ...job.acts.may import May
from ...job.acts.moment import Moment, as_judged, moment
from ..evidence.records import released_by_other
from .book import opened
from .kept import Folded, folded
from .state import outcome_of


def may_on(data: Path, job: str, *, at: str | None = None, act: str | None = None, repair: str | None = None) -> May:
    """Every act still to come, or the one named, by the entries up to ``at`` (that of the last entry if left out).

    Raises
    ------
    BenchError
        No such job, act, repair or time.
    """
    held = _read(data, job)
    return may_at(held.events, at, act=act, repair=repair, from_record=True, heard=_heard(held))


def may_now(data: Path, job: str) -> May:
    """Every act still to come, as things stand at this moment; at that of the last entry where a clock runs ahead.

    Raises
    ------
    BenchError
        No such job.
    """
    held = _read(data, job)
    now = max(datetime.now(UTC), *(event.at for event in held.events))
    with held.lock:
        return may_at(held.events, instant_text(now), from_record=True, done=False, heard=_heard(held),
                      standing=_standing(held))


def _read(data: Path, job: str) -> Folded:
    with opened(data) as ledger:
        return folded(ledger, data, job)


def _heard(held: Folded) -> dict[tuple[int, str], object]:
    """What the rooms have said of these entries."""
    return held.thought.setdefault("heard", {})  # type: ignore[no-any-return]


def _standing(held: Folded) -> Moment:
    """The job with all its entries. Its steps are those of the judged job, where they are nothing but the steps' own word."""
    found: Moment | None = held.thought.get("standing")
    if found is None:
        last, outcome = max(event.at for event in held.events), outcome_of(held)
        job = outcome.job
        if job.corrections or job.voids or job.replaced or released_by_other(held.entries) is not None:
            found = moment(held.events, last, from_record=True, answers=_heard(held))
        else:
            found = as_judged(outcome.case, outcome.steps, last)
        held.thought["standing"] = found
    return found
