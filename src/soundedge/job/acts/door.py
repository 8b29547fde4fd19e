"""The question as it comes to a door, in plain words: of the job folder, of the desk, of the API. All get this one answer.

    may_at(events, "2026-08-19T08:47:00Z")             what may be done at that moment, by the entries up to then
    may_at(events, None, act="spark_on", repair="B")   one act, at the moment of the last entry
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from ...basis.errors import OutOfRange, Unknown, Unreadable
from ...basis.quantity import NotThat, read_instant
from ...basis.sentences import say
from ..kinds import Event
from .may import May, may
from .moment import Moment
from .point import ACTS


def may_at(events: Sequence[Event], at: str | None, *, act: str | None = None, repair: str | None = None,
           given: Mapping[str, Any] | None = None, from_record: bool = False, done: bool = True,
           heard: dict[tuple[int, str], Any] | None = None, standing: Moment | None = None) -> May:
    """What may be done at ``at`` (that of the last entry if left out); ``done``: what was done is judged as well;
    ``heard``, ``standing``: what the rooms and steps have said of this job already.

    Raises
    ------
    BenchError
        No such act or repair, no time, or a time before the job.
    """
    if act is not None and act not in ACTS:
        raise Unknown("act", say("acts.unknown", act=act[:40], known=", ".join(ACTS)))
    try:
        moment = read_instant(at) if at is not None else None
    except NotThat as bad:
        raise Unreadable("at", bad.message) from None
    if moment is not None and all(event.at > moment for event in events):
        raise OutOfRange("at", say("acts.before_the_job", at=at))
    return may(events, moment, act=act, repair=repair, given=given, from_record=from_record, done=done, heard=heard,
               standing=standing)
