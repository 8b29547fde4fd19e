"""When was what done on this job, and what ends next? Its time axis for a page, drawn by report/time_strip.py."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from ...job.judge import Outcome
from ...report.time_strip import Look, ends_next, time_strip
from .part_picture import Reader

WIDE_PX, PHONE_PX = 1120.0, 326.0


@dataclass(frozen=True)
class TimeAxis:
    """SVG of the whole job, empty while nothing has happened; and of what ends next, empty when nothing does."""

    whole: str
    next: str


def time_axis(outcome: Outcome, reader: Reader, now: datetime | None) -> TimeAxis:
    """The time axis of a judged job; a released one has no now."""
    at = None if outcome.verdict == "released" else now
    return TimeAxis(
        time_strip(outcome, Look(WIDE_PX, now=at, said=reader.said, name="axis")),
        ends_next(outcome, Look(PHONE_PX, now=at, said=reader.said, name="axis-next")),
    )
