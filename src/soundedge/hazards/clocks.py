"""Hot work and its clocks: is the permit in force, and may the fire watch leave?

>>> from datetime import UTC, datetime, timedelta
>>> ended = datetime(2031, 5, 4, 14, 10, tzinfo=UTC)
>>> watch_until(ended, 60).isoformat()
'2031-05-04T15:10:00+00:00'
>>> minutes_between(ended, ended + timedelta(seconds=90))
1.5
"""

from __future__ import annotations

from datetime import datetime, timedelta

from ..basis.errors import OutOfRange
from ..basis.sentences import say


def watch_until(ended: datetime, watch_min: float) -> datetime:
    """When the fire watch ends: hot work's end plus the watch. [min]"""
    return later(ended, watch_min)


def later(moment: datetime, minutes: float) -> datetime:
    """A moment so many minutes later; OutOfRange past the year 9999."""
    try:
        return moment + timedelta(minutes=minutes)
    except OverflowError:
        raise OutOfRange("now", say("hazards.time_past_9999")) from None


def minutes_between(start: datetime, end: datetime) -> float:
    """Minutes from ``start`` to ``end``, negative when it lies before. [min]"""
    return (end - start).total_seconds() / 60.0
