"""May it be released, and may it go back into service?

    every repair proved and signed, fire watch over since 10:55      → go
    fire watch until 10:55, asked 10:40                              → wait until 10:55
    temporary until 30 September, asked 4 October                    → stop: expired
"""

from __future__ import annotations

from collections.abc import Iterator

from ...basis.on_paper import words
from ...basis.sentences import say
from .. import edition
from ..case import clock_time
from ..rules.limited import limits_of
from . import of_steps
from .moment import Moment
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


def return_to_service(now: Moment) -> Iterator[Point | Until]:
    """Is it released, is this the part, and does its release still run?"""
    part = now.job.the("part.identified")
    if not _released(now):
        yield Point("A14.1", "P", "release", "missing", say("acts.not_released"), "stop", say("acts.not_released_then"),
                    "inspector", source=now.case.rule_book)
    tag = now.given.get("tag")
    if tag is not None and str(tag) != part.tag:
        yield Point("A14.1", "P", "tag", "failing", say("acts.other_part", given=str(tag), tag=part.tag), "stop",
                    say("acts.other_part_then"), "inspector", source=now.case.rule_book)
    limits = limits_of(now.case, now.at)
    if limits is None:
        return
    body = limits.body
    if body.expires is not None and body.expires < now.at:
        yield Point("A14.3", "P", "expiry", "dead",
                    say("acts.expired", kind=words(body.service_class), end=clock_time(body.expires, now.at)), "stop",
                    say("acts.expired_then"), "engineer", source=limits.id)
    elif body.expires is not None:
        yield Until(body.expires, say("acts.until_expiry", kind=words(body.service_class)))
    if body.conditions:
        yield Point("A14.2", "P", "service", "odd", say("acts.only_for", conditions=body.conditions.rstrip(".")), "ask_owner",
                    say("acts.only_for_ask"), "owner", "warns", source=limits.id)
    if body.first_look is None and now.given.get("first_look") is None:
        yield Point("A14.4", "Q", "first_look", "missing", say("acts.first_look_missing"), "ask_engineer",
                    say("acts.first_look_ask"), "engineer", "informs", source="common practice, no source")


def _released(now: Moment) -> bool:
    """Whether the release was signed and nothing held it; or it was released by the rules of its own edition."""
    judged = now.job.judged[-1].body if now.job.judged else None
    if judged is not None and judged.verdict == "released" and not edition.judged_here(judged.rules or 1):
        return True
    return now.job.last("release.signed") is not None and not any(step.blocks for step in now.asked.all().values())

