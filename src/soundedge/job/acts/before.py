"""May this one act be done, on this repair, at this moment? The one gate, for what is asked and for what was done.

    before(events, "heat_on", at=…)     go · go_with_warnings · no, with every open point and its one move

The judgement of what was done asks the same for each recorded act, at its own time.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from datetime import datetime
from typing import Any

from ...basis.errors import BenchError, Unknown
from ...basis.sentences import say
from ..kinds import HOLD_POINTS, Event
from ..rules.seen import seen
from . import gauging, grinding, heating, layering, opening, releasing, sanding, signing, sparking, wiping
from .moment import Moment, moment
from .point import ACTS, Act, Point, State, Until, ordered, soonest

ASKED: dict[str, Callable[[Moment], Iterator[Point | Until]]] = {
    "wipe": wiping.wipe, "grind": grinding.grind, "heat_on": heating.heat_on, "first_layer": layering.first_layer,
    "next_layer": layering.next_layer, "restart": layering.restart, "check_gauge": gauging.check_gauge,
    "measure_film": gauging.measure_film, "sand": sanding.sand, "release": releasing.release, "open_part": opening.open_part,
    "return_to_service": releasing.return_to_service,
}


def before(events: Iterable[Event], act: str, *, at: datetime, repair: str | None = None, zone: str | None = None,
           hold_point: str | None = None, given: Mapping[str, Any] | None = None, by: str = "",
           from_record: bool = False) -> Act:
    """The answer for one act.

    Parameters
    ----------
    events : iterable of Event
        All entries of the job; those later than ``at`` are not looked at.
    act : str
        One of ``ACTS``; ``spark_on`` needs a ``zone``, ``sign`` a ``hold_point``.
    given : mapping, optional
        What the act's own entry would say: ``{"solvent": "acetone", "ml": 4, "space_l": 4000}`` before a wipe.

    Raises
    ------
    Unknown
        No such act, zone or hold point.
    """
    return answered(moment(events, at, repair=repair, given=given, by=by, from_record=from_record), act, zone, hold_point)


def answered(now: Moment, act: str, zone: str | None = None, hold_point: str | None = None, entry: str = "") -> Act:
    """The answer for one act at a moment that is known already."""
    if act not in ACTS:
        raise Unknown("act", say("acts.unknown", act=act[:40], known=", ".join(ACTS)))
    asked = _asked(act, zone, hold_point)
    points: list[Point] = []
    ends: list[Until | None] = []
    try:
        for said in asked(now):
            if isinstance(said, Until):
                ends.append(said)
            else:
                points.append(said)
        own = list(_seen(now, act))
        points = [point for point in points if point.because not in {one.because for one in own}] + own
    except BenchError as fault:
        if not now.case.from_record:
            raise
        points.append(Point("0", "X", "entries", "odd", fault.message, "correct", say("acts.entries_contradict"), "technician"))
    return Act(act, now.repair, ordered(points), soonest(ends), zone, hold_point, entry)


def _seen(now: Moment, act: str) -> Iterator[Point]:
    """What was looked at or tried and was bad, where it would spoil this act; in place of what a step says of it."""
    for bad in seen(now.case):
        if act in bad.acts:
            by = "engineer" if bad.verb in ("ask_engineer", "stop") else "gas_tester" if bad.step == "hazards" else "inspector"
            state: State = "missing" if bad.absent else "failing"
            yield Point(bad.rule, bad.cls, bad.fact, state, bad.because, bad.verb, bad.what, by,
                        value=bad.value, unit=bad.unit, limit=bad.limit, source=bad.source)


def _asked(act: str, zone: str | None, hold_point: str | None) -> Callable[[Moment], Iterator[Point | Until]]:
    if act == "spark_on":
        named = zone or "repair"
        if named not in sparking.ZONES:
            raise Unknown("zone", say("acts.zone_unknown", zone=named[:40], known=", ".join(sparking.ZONES)))
        return lambda now: sparking.spark_on(now, named)
    if act == "sign":
        point = hold_point or "disposition"
        if point not in HOLD_POINTS:
            raise Unknown("hold_point", say("acts.hold_point_unknown", point=point[:40], known=", ".join(HOLD_POINTS)))
        return lambda now: signing.sign(now, point)
    if act not in ASKED:
        raise Unknown("act", say("acts.not_answered", act=act.replace("_", " ")))
    return ASKED[act]
