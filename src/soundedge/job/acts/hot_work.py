"""May anything be hot, or spark, here and now? The permit, the flammable gas, the solvent.

    gas read 08:40 at 0 %, acetone wiped 09:10, asked 09:15   → the reading is dead: it is from before the solvent
    the same reading, no solvent, permit until 14:30, open hall → it stands until 14:30

In an open hall a reading stands for the permit's shift, until solvent is used; in an enclosed place for as many minutes as the
procedure says (``gas_age_min_max``). An estimate never replaces the meter.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta

from ...basis.on_paper import words
from ...basis.procedure import LEL_PCT_MAX
from ...basis.sentences import say
from ..case import clock_time
from ..kinds import Event
from ..odd import SOURCE as ODD
from ..rules import gas as gas_rules
from ..steps.hazards import zero_after_much
from .moment import Moment
from .point import Point, Until, Weight

PERMIT_SOURCE = "common practice, no source"


def permit_at(now: Moment) -> Event | None:
    """The permit in force at this moment."""
    return gas_rules.permit_at(now.job, now.at)


def permit(now: Moment, rule: str, *, core: bool) -> Iterator[Point | Until]:
    """The hot-work permit: in force here and now. Without one there is no heat."""
    held = permit_at(now)
    if held is not None:
        yield Until(held.body.until, say("acts.until_permit", number=held.body.number))
        return
    weight: Weight = "blocks" if core or now.case.requires("permit") else "informs"
    given = now.job.of("permit.issued")
    if not given:
        yield Point(rule, "P", "permit", "missing", say("acts.permit_missing"), "ask", say("acts.permit_ask"), "site_safety",
                    weight, source=PERMIT_SOURCE)
        return
    last = given[-1]
    if last.at > now.at or last.body.until >= now.at:
        return
    yield Point(rule, "P", "permit", "dead",
                say("acts.permit_ended", number=last.body.number, until=clock_time(last.body.until, now.at)), "ask",
                say("acts.permit_ask_new"), "site_safety", weight, source=str(last.body.number))


def gas(now: Moment, rule: str, *, heat: bool = False, spark: bool = False, close: bool = False) -> Iterator[Point | Until]:
    """Flammable gas: read after the last solvent, still standing, and low enough. A procedure's reading is that before heat."""
    read, solvent = now.job.last("vapour.read"), now.job.last("solvent.used")
    close = close or gas_rules.enclosed(now.job, now.at)
    core = close or (solvent is not None and (read is None or read.at <= solvent.at))
    weight: Weight = "blocks" if core or (heat and now.case.requires("vapour_reading")) else "informs"
    measure = say("acts.gas_measure")

    def point(state: str, because: str, what: str = measure, verb: str = "measure", of: Weight = weight,
              **numbers: object) -> Point:
        return Point(rule, "P", "gas", state, because, verb, what, "gas_tester", of, where="lowest point, spot",  # type: ignore[arg-type]
                     source=now.case.procedure.cite("lel_pct_max"), **numbers)  # type: ignore[arg-type]

    if read is None:
        yield point("missing", say("acts.gas_missing_after_solvent", solvent=words(solvent.body.solvent),
                                   at=clock_time(solvent.at, now.at)) if solvent else say("acts.gas_missing"))
        return
    at = clock_time(read.at, now.at)
    if solvent is not None and read not in gas_rules.since_solvent(now.job, now.at):
        yield point("dead", say("acts.gas_before_solvent", at=at, solvent=words(solvent.body.solvent),
                                wiped=clock_time(solvent.at, now.at)))
        return
    shown, limit, source = _share(read), *_limit(now, spark)
    if shown > limit:
        yield Point(rule, "P", "gas", "failing", say("acts.gas_high", pct=shown, at=at, limit=limit), "correct",
                    say("acts.gas_ventilate"), "technician", value=shown, unit="%", limit=limit,
                    where="lowest point, spot", source=source)
        return
    for one in zero_after_much(now.case):
        if one.entry == read.id:
            yield Point(rule, "P", one.rule, "odd", one.because, "read_again", one.move, "gas_tester", value=0.0, unit="%",
                        limit=limit, where="lowest point, spot", source=ODD)
    end = _until(now, read, close)
    if end is not None and end.at < now.at:
        yield point("old", say("acts.gas_old", at=at, until=clock_time(end.at, now.at)), say("acts.gas_again"), "read_again",
                    value=shown, unit="%", limit=limit)
    elif end is not None:
        yield end


def _share(read: Event) -> float:
    """What the meter showed, as a share of the explosive limit of the gas that is there."""
    return gas_rules.share_of(read)


def _limit(now: Moment, spark: bool) -> tuple[float, str]:
    for key in ("spark_lel_pct_max", "lel_pct_max") if spark else ("lel_pct_max",):
        if key in now.case.procedure.limits:
            return now.case.procedure.need(key), now.case.procedure.cite(key)
    return LEL_PCT_MAX, gas_rules.LEL_SOURCE


def _until(now: Moment, read: Event, close: bool) -> Until | None:
    """Until when a reading stands."""
    if close:
        minutes, _ = now.limit("gas_age_min_max")
        if minutes is None:
            return None
        return Until(read.at + timedelta(minutes=minutes), say("acts.until_gas_age", minutes=minutes))
    held = permit_at(now)
    if held is None:
        return None
    shift = now.limit("permit_min_max")[0] or (held.body.until - held.at).total_seconds() / 60
    if read.at < held.body.until - timedelta(minutes=shift) and read.at < held.at:
        return Until(max(read.at, _end_before(now, held.at)), say("acts.until_gas_shift"))
    return Until(held.body.until, say("acts.until_gas_shift"))


def _end_before(now: Moment, moment: datetime) -> datetime:
    """The end of the last permit that ended before."""
    return max((event.body.until for event in now.job.of("permit.issued") if event.body.until < moment),
               default=moment - timedelta(seconds=1))
