"""Where on the axis is a moment? Working hours to scale, idle hours folded to one width.

>>> from datetime import UTC
>>> day = datetime(2036, 5, 14, tzinfo=UTC)
>>> busy = [(day.replace(hour=7), day.replace(hour=9)), (day.replace(hour=13), day.replace(hour=14))]
>>> axis = axis_of(busy, west=0, east=280, fold=100)
>>> [round(axis.x(day.replace(hour=hour))) for hour in (7, 8, 9, 13, 14)], str(axis.folds[0].idle)
([0, 60, 120, 220, 280], '4:00:00')
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta, tzinfo

IDLE = timedelta(minutes=90)
STEPS_MIN = (5, 10, 15, 30, 60, 120, 180, 240, 360, 720)


@dataclass(frozen=True)
class Stretch:
    """A piece of the axis: from when to when, from where to where; ``folded`` where nothing happened."""

    start: datetime
    end: datetime
    west: float
    east: float
    folded: bool = False

    @property
    def idle(self) -> timedelta:
        """How long it lasts."""
        return self.end - self.start


@dataclass(frozen=True)
class Axis:
    """The whole axis, its stretches in order of time."""

    stretches: tuple[Stretch, ...]

    @property
    def start(self) -> datetime:
        """Its first moment."""
        return self.stretches[0].start

    @property
    def end(self) -> datetime:
        """Its last moment."""
        return self.stretches[-1].end

    @property
    def folds(self) -> list[Stretch]:
        """Where idle hours are folded."""
        return [one for one in self.stretches if one.folded]

    def x(self, moment: datetime) -> float:
        """Where a moment is; before or after the axis, its end."""
        for one in self.stretches:
            if moment <= one.end:
                share = max(0.0, (moment - one.start) / (one.end - one.start))
                return one.west + share * (one.east - one.west)
        return self.stretches[-1].east

    def ticks(self, zone: tzinfo, apart: float) -> list[datetime]:
        """Round times of the zone's clock, at least so far apart, none inside a fold."""
        open_ = [one for one in self.stretches if not one.folded]
        scale = max((one.east - one.west) / max(one.idle.total_seconds() / 60, 1e-9) for one in open_)
        step = next((step for step in STEPS_MIN if step * scale >= apart), STEPS_MIN[-1])
        return [at for one in open_ for at in _round(one.start, one.end, step, zone)]

    def midnights(self, zone: tzinfo) -> list[datetime]:
        """Every midnight of the zone on the axis."""
        first, last = self.start.astimezone(zone).date(), self.end.astimezone(zone).date()
        days = (date.fromordinal(n) for n in range(first.toordinal() + 1, last.toordinal() + 1))
        return [at for at in (datetime.combine(day, time(), zone) for day in days) if self.start < at <= self.end]


def axis_of(busy: Iterable[tuple[datetime, datetime]], *, west: float, east: float, fold: float) -> Axis:
    """The axis of what went on.

    Parameters
    ----------
    busy : iterable of (start, end)
        When something happened; a moment has start and end alike.
    west, east : float
        Its ends.
    fold : float
        The width of folded idle hours.

    Raises
    ------
    ValueError
        Nothing happened.
    """
    runs: list[list[datetime]] = []
    for start, end in sorted(busy):
        if runs and start - runs[-1][1] <= IDLE:
            runs[-1][1] = max(runs[-1][1], end)
        else:
            runs.append([start, end])
    if not runs:
        raise ValueError("nothing happened")
    edge = timedelta(minutes=2)
    for run in runs:  # a moment alone has a little width too
        if run[1] - run[0] < 2 * edge:
            run[0], run[1] = run[0] - edge, run[1] + edge
    folds = len(runs) - 1
    fold = min(fold, (east - west) / 2 / folds) if folds else fold
    scale = (east - west - folds * fold) / sum((end - start).total_seconds() for start, end in runs)
    out, x = [], west
    for number, (start, end) in enumerate(runs):
        if number:
            out.append(Stretch(runs[number - 1][1], start, x, x + fold, True))
            x += fold
        wide = (end - start).total_seconds() * scale
        out.append(Stretch(start, end, x, x + wide))
        x += wide
    return Axis(tuple(out))


def _round(start: datetime, end: datetime, step_min: int, zone: tzinfo) -> Iterator[datetime]:
    at = start.astimezone(zone)
    past = at.hour * 60 + at.minute
    at = at.replace(hour=0, minute=0, second=0, microsecond=0) + timedelta(minutes=-(-past // step_min) * step_min)
    while at <= end:
        if at >= start:
            yield at
        at += timedelta(minutes=step_min)
