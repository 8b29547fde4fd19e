"""When was the heat off, and since when is the steel too hot for water?

    layer 2 fused 09:14, heat off 09:20, on again 10:35       → a pause from 09:20 to 10:35
    probe at the coldest place 131 °C at 08:50, layer 08:56   → hot: the dew rule rests
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise

from ...conditions.given import LOG_GAP_MIN_MAX
from ..case import Case

HOT_C = 100.0  # water boils at 100 °C under 1013 hPa: none settles on steel that was measured at this or more
_ALL_ROUND = ("coldest", "back")  # a probe that speaks for all the steel of the repair; one at the spot does not


@dataclass(frozen=True)
class Pause:
    """The heat was off from ``start``; ``end`` is None while it still is."""

    start: datetime
    end: datetime | None


def hot_since(case: Case, moment: datetime) -> datetime | None:
    """Since when the steel of this repair has been too hot for water, all round, as measured up to a moment; None: it is not.

    A measurement stands for as long as the heat may be off (``pause_min_max``), before and after; without that limit never.
    """
    minutes = case.procedure.value("pause_min_max")
    if minutes is None:
        return None
    span, later, start = timedelta(minutes=minutes), moment, None
    for read_at, celsius, all_round in reversed(_measured(case, moment)):
        if celsius < HOT_C:
            return None if start is None else max(read_at, start - span)
        if later - read_at > span:
            break
        later = read_at
        start = read_at if all_round else start
    return None if start is None else start - span


def paused(case: Case, moment: datetime) -> Pause | None:
    """The last pause of the heat between the layer below and that moment, by what was recorded.

    Heat is off when it was switched off for longer than ``pause_min_max``, when the film was measured below 100 °C, or when
    nothing tells of heat for longer than the air log may have gaps.
    """
    below = max((event.at for event in case.job.of("layer.fused") if event.at < moment), default=None)
    if below is None:
        return None
    measured = [(read_at, celsius) for read_at, celsius, _ in _measured(case, moment) if read_at >= below]
    on = sorted({below, *(event.at for event in case.job.of("heat.started") if below <= event.at < moment),
                 *(read_at for read_at, celsius in measured if celsius >= HOT_C)})
    cold = [read_at for read_at, celsius in measured if celsius < HOT_C]
    off = [event.at for event in case.job.of("heat.paused", "hot_work.ended") if below <= event.at <= moment]
    least = timedelta(minutes=case.procedure.value("pause_min_max") or 0.0)
    longest = timedelta(minutes=gap_min_max(case))
    for start, end in reversed([*pairwise(on), (on[-1], moment)]):
        until = None if end == moment and end not in on else end
        switched = [one for one in off if start <= one <= end and end - one > least]
        if switched:
            return Pause(switched[0], until)
        if end - start > longest or any(start < one <= end for one in cold):
            return Pause(start, until)
    return None


def gap_min_max(case: Case) -> float:
    """The longest time without an air reading: the procedure's, or the default. [min]"""
    named = case.procedure.value("log_gap_min_max")
    return LOG_GAP_MIN_MAX if named is None else named


def _measured(case: Case, moment: datetime) -> list[tuple[datetime, float, bool]]:
    """What probes and logs showed on steel and film up to a moment: when, how hot, and whether it speaks for all of it."""
    out = [(event.at, event.body.probe_c, event.body.place in _ALL_ROUND) for event in case.job.of("probe.read")
           if event.body.place != "hottest_lining"]
    out += [(event.at, event.body.film_c, False) for event in case.job.of("film.cooled")]
    out += [(log.body.started_at + timedelta(seconds=row.time_s), row.reading_c, row.aimed_at == "back_contact")
            for log in case.job.of("heat.logged") if log.body.started_at is not None for row in log.body.readings
            if row.aimed_at in ("back_contact", "painted_dot")]
    return sorted(one for one in out if one[0] <= moment)
