"""Is it forbidden here, did the engineer decide otherwise, and does the instruction that allows it still run?

    [[prohibited]] repair of blisters, override none        → stop: strip and reline, scrap, or back to the owner
    instruction KBW-26-41 until 12:00, asked 12:10          → no: ask for a new one before anything more is done
"""

from __future__ import annotations

from collections.abc import Iterator

from ...basis.sentences import say
from ..case import clock_time
from ..rules import instruction
from ..steps.disposition import needed
from . import of_steps
from .moment import Moment
from .point import Point, Until

_STANDING = ("prohibited", "prohibited_service", "engineer_decided", "engineer_instructs", "instruction_expired", "taken_in")


def standing(now: Moment, rule: str) -> Iterator[Point | Until]:
    """What stands above every act of the repair, the later ones too."""
    yield from of_steps.points(now, "disposition", rule, "X", by="technician", only=lambda block: block.rule in _STANDING)
    keys = needed(now.case)
    if keys is None:
        return
    ended = instruction.expired(now.job, keys, now.at)
    if ended is not None:
        yield Point(rule, "X", "written_instruction", "dead",
                    say("acts.instruction_ended", number=ended.body.number, at=clock_time(ended.body.expires, now.at)),
                    "ask_engineer", say("acts.instruction_new"), "engineer", source=instruction.cited(now.job, ended))
        return
    for event in instruction.instructions(now.job):
        if event.body.expires is not None and event.body.expires >= now.at and (
                not keys or set(keys) & set(event.body.limits or {})):
            yield Until(event.body.expires, say("acts.until_instruction", number=event.body.number))
