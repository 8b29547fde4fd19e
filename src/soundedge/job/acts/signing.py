"""May I sign this hold point? Is all of it recorded and good, and is it somebody else's work?

    film read cold, every zone, by gauge G7           → go
    the same, one zone not measured                   → measure it first
    one place measured and below its limit            → only a signature against
"""

from __future__ import annotations

from collections.abc import Iterator

from ...basis.sentences import say
from ..kinds import KINDS, REPAIR_STEPS
from ..rules.waived import evidence
from . import of_steps
from .moment import Moment
from .point import Point, Until

# Hold point → the steps whose answer it signs.
SIGNED_STEPS = {"disposition": ("survey", "disposition"), "surface": ("conditions",), "film": ("thickness", "instruments"),
          "holiday": ("holiday",)}


def sign(now: Moment, point: str) -> Iterator[Point | Until]:
    """One hold point: evidence, that it conforms, and that the signer did not do the work."""
    if not evidence(now.job, point):
        yield Point("A12.1", "X", point, "missing", say("acts.sign_nothing", point=point), "measure",
                    say("acts.sign_record_first"), "technician", source=now.case.rule_book)
        return
    for name in SIGNED_STEPS.get(point, ()) if point != "surface" or now.asked.repaired else ():  # no steel was bared
        yield from of_steps.points(now, name, "A12.2", "X", by="inspector")
    if now.by:
        done = [event for event in now.job.events if event.kind in REPAIR_STEPS and event.by == now.by]
        if done:
            yield Point("A12.3", "X", "own_work", "failing", say("acts.sign_own_work", name=now.job.name_of(now.by)), "ask",
                        say("acts.sign_another"), "inspector", source="common practice, no source")


def signed_before(now: Moment, rule: str, kind: str) -> Iterator[Point]:
    """The hold points that an entry of this kind must not come before."""
    for point in KINDS[kind].follows:
        if point not in now.case.hold_points:
            continue
        yield from of_steps.points(now, "hold_points", rule, "X", by="inspector", fact=f"hold_point_{point}",
                                   only=lambda block, name=f"hold_point_{point}": block.rule == name)  # type: ignore[misc]


def open_points(now: Moment) -> list[str]:
    """The hold points with evidence that wait for a signature."""
    held = {block.rule for block in now.step("hold_points").blocks}
    return [point for point in now.case.hold_points if f"hold_point_{point}" in held]
