"""Did each layer have its own time above fusion? A reading lies in at most one layer.

A log that says when it began (``started_at``) is cut at the layers' own clock times. One that does not is held against the sum:
layers lie one after another, so together they had no more time above fusion than the whole log.

>>> layers_that_fit(70.0, 30.0), layers_that_fit(150.0, 30.0)
(2, 5)
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from ..kinds import Event


@dataclass(frozen=True)
class Own:
    """The rows of the log that lie in one layer's own time."""

    layer: Event
    rows: tuple[dict[str, Any], ...]


def layers_that_fit(logged_s: float, dwell_s: float) -> int:
    """How many layers a log can prove at most, by its time above fusion."""
    return 10**6 if dwell_s <= 0 else int(logged_s / dwell_s + 1e-9)


def timed(logs: Sequence[Event]) -> bool:
    """Whether every log says when it began."""
    return bool(logs) and all(log.body.started_at is not None for log in logs)


def own_rows(layers: Sequence[Event], logs: Sequence[Event]) -> list[Own]:
    """Each layer with the rows between the layer below (or its own start, if later) and its fusing."""
    rows = sorted(((log.body.started_at + timedelta(seconds=row.time_s), row) for log in logs for row in log.body.readings),
                  key=lambda pair: pair[0])
    out: list[Own] = []
    below: datetime | None = None
    for layer in layers:
        start = max((moment for moment in (layer.body.started_at, below) if moment is not None), default=None)
        inside = [(at, row) for at, row in rows if (start is None or at > start) and at <= layer.at]
        out.append(Own(layer, tuple(row.model_dump() | {"time_s": (at - inside[0][0]).total_seconds()} for at, row in inside)))
        below = layer.at
    return out


def overlapping(layers: Sequence[Event]) -> tuple[Event, Event] | None:
    """The first two layers by one person of which the later began before the earlier had fused; only begun ones can be told.

    One pair of hands fuses one layer at a time, of whichever repair. Two people with two guns may fuse two repairs side by
    side, never two layers of one.
    """
    for place, later in enumerate(layers):
        begun = later.body.started_at
        for earlier in layers[:place] if begun is not None else ():
            same = earlier.by == later.by or earlier.body.repair == later.body.repair
            if same and begun < earlier.at:
                return earlier, later
    return None
