"""When was heat on, as far as the entries say? What must be good before heat is judged at each of these moments.

    heat switched on 08:50, layer 1 begun 08:58, fused 09:05      → 08:50, 08:58, 09:05
    a log by the clock, its first reading above 100 °C at 08:52   → 08:52 as well
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

from ...basis.sentences import Sentence, say
from ..case import Case
from ..fold import Job
from ..kinds import Event
from .pause import HOT_C


@dataclass(frozen=True)
class Hot:
    """Heat at one moment, and the entry that tells of it."""

    at: datetime
    event: Event
    begun: bool = False  # the moment is that at which its powder went on

    @property
    def what(self) -> Sentence:
        """What was done then, as a sentence begins."""
        if self.event.kind == "layer.fused":
            number = self.event.body.number
            return say("acts.hot_layer_begun", number=number) if self.begun else say("acts.hot_layer", number=number)
        return say("acts.hot_logged") if self.event.kind == "heat.logged" else say("acts.hot_switched_on")


def heated(job: Job) -> list[Hot]:
    """Every moment at which heat was on, in order of time."""
    found = [Hot(event.at, event) for event in job.of("heat.started", "layer.fused")]
    found += [Hot(event.body.started_at, event, begun=True) for event in job.of("layer.fused")
              if event.body.started_at is not None and event.body.started_at < event.at]
    found += [Hot(first, log) for log, first, _ in _logged(job)]
    return sorted(found, key=lambda one: one.at)


def last_heat(case: Case) -> datetime | None:
    """When there was heat last: a layer, heat switched on, or a reading above 100 °C in a log that says when it began.

    Of one repair among several, heat that names none is not taken for its own.
    """
    ends = [event.at for event in case.job.of("heat.started", "layer.fused")
            if event.kind == "layer.fused" or case.repair is None or event.body.repair is not None]
    return max([*ends, *(last for _, _, last in _logged(case.job))], default=None)


def _logged(job: Job) -> Iterator[tuple[Event, datetime, datetime]]:
    """Each log that says when it began, and its first and last reading that was hot."""
    for log in job.of("heat.logged"):
        hot = [row.time_s for row in log.body.readings if row.reading_c >= HOT_C]
        if log.body.started_at is not None and hot:
            yield log, *(log.body.started_at + timedelta(seconds=s) for s in (min(hot), max(hot)))
