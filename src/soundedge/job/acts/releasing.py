"""May it be released, and may it go back into service?

    every repair proved and signed, fire watch over since 10:55      → go
    fire watch until 10:55, asked 10:40                              → wait until 10:55
"""

from __future__ import annotations

from collections.abc import Iterator

from ...basis.sentences import say
from . import of_steps
from .moment import Moment, clock_time
from .point import Point, Until

_NOT_BEFORE = ("release_signed",)


def release(now: Moment) -> Iterator[Point | Until]:
    """Every step proved, every hold point signed, the fire watch over."""
    for name in now.asked.all():
        cls = "P" if name == "hazards" else "X" if name == "hold_points" else "Q"
        yield from of_steps.points(now, name, "A13.3", cls, by="inspector",  # type: ignore[arg-type]
                                   only=lambda block: block.rule not in _NOT_BEFORE)
    watch = now.job.last("hot_work.ended")
    if watch is not None and watch.body.fire_watch_until > now.at:
        until = clock_time(watch.body.fire_watch_until, now.at)
        yield Point("A13.5", "P", "fire_watch", "missing", say("acts.fire_watch_runs", until=until), "wait_until",
                    say("acts.fire_watch_wait", until=until), "technician", source=now.case.procedure.cite("fire_watch_min"))
