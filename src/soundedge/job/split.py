"""Which outlines does a split take the place of? One spot turned out to be two: each goes on under a letter of its own.

    A found as one spot; ground, it is C and D, each outlined; A split    → A's outlines stay written, and count no more
    split before D is outlined, or after a layer of A                     → it counts for nothing (rules/split.py)
    A outlined again afterwards                                           → damage A, as if there had been none before
"""

from __future__ import annotations

from collections.abc import Sequence

from .kinds import Event


def split_up(events: Sequence[Event]) -> dict[str, Event]:
    """Id of an outline that counts no more → the split that took its place; ``events`` in order of time."""
    found: dict[str, Event] = {}
    for event in events:
        if event.kind == "repair.split" and why_not(events, event) is None:
            found |= {one.id: event for one in before(events, event) if one.kind == "damage.outlined"
                      and one.body.id == event.body.of and one.id not in found}
    return found


def why_not(events: Sequence[Event], split: Event) -> str | None:
    """Why a split counts for nothing: ``unknown`` damage, or a ``layer`` was laid before; None when it counts."""
    earlier = before(events, split)
    known = {event.body.id for event in earlier if event.kind == "damage.outlined"}
    into = set(split.body.into)
    if split.body.of not in known or split.body.of in into or len(into) < 2 or not into <= known:
        return "unknown"
    laid = any(event.kind == "layer.fused" and event.body.repair in (None, split.body.of) for event in earlier)
    return "layer" if laid else None


def before(events: Sequence[Event], split: Event) -> Sequence[Event]:
    """What stands before a split."""
    return events[: next(number for number, event in enumerate(events) if event.id == split.id)]
