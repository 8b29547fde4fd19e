"""Was the steel dry from its preparation to now, and is the air good for a layer, also for the last one?

    0.4 K below the dew point at 09:00, 6 K above it at 10:00        → condensed: prepare again, drying does not undo it
    155 min between two readings, 120 allowed                         → unknown: read, look for bloom, salts and dust again
    2.1 K at one reading, 3 K asked, never down to 0                  → a dip: look again; the engineer accepts it in writing
    layer 3 the next morning, steel 1 K below the dew point           → no layer; a good reading an hour later does not heal it
    steel measured at 131 °C all round, the hall wet                  → the dew rule rests

Asked by the judge for each recorded layer at its own time, and before the act for now. What was not read is unknown, never wet.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, Literal

from ...basis.finding import Finding
from ...basis.sentences import Sentence, say
from ...basis.sources import cite
from ...conditions.ask import FORMS
from ...conditions.condensed import Stretch, condensed
from ...conditions.given import ConditionLimits, ConditionsRequest
from ...conditions.log import Reading, Rules
from ..case import Case, clock_time
from ..kinds import Event
from .hold_climate import held, needed, overdue
from .hold_climate import source as hold_source
from .pause import Pause, gap_min_max, hot_since, paused


@dataclass(frozen=True)
class Against:
    """What the air says against work: a fact, its state, why, and the one move."""

    fact: str
    state: Literal["missing", "old", "odd", "failing"]
    because: str
    verb: Literal["measure", "read_again", "correct", "ask_engineer"]
    what: str
    by: str = "technician"
    value: float | None = None
    unit: str = ""
    limit: float | None = None
    source: str = ""


def since_preparation(case: Case, prepared: datetime, end: datetime, *, hot: datetime | None = None) -> list[Against]:
    """What is against steel that was prepared then and is to take its first layer at ``end``; nothing when it stayed dry.

    ``hot`` is when it was first measured hot all round, where that is known otherwise than from the entries.
    """
    log = _log(case)
    rests = hot or hot_since(case, end)
    if rests is not None:  # what was read elsewhere while this steel was hot says nothing of it
        end = max(prepared, min(end, rests))
        log = [one for one in log if one.at <= end]
    rules = _rules(case, end)
    whole = condensed(log, prepared, end, rules)
    if whole.state == "yes":
        because = say("acts.condensed", **_when(whole, end), margin=whole.margin_k)
        return [Against("condensed", "failing", because, "correct", say("acts.prepare_again_wet"), value=whole.margin_k,
                        unit="K", limit=0.0, source=_source(case, "dew_margin_k"))]
    return [*_unknown(case, log, prepared, end, rules), *_dipped(case, log, whole, prepared, end),
            *_not_held(case, whole, prepared, end)]


def extendable(case: Case, prepared: datetime, end: datetime) -> bool:
    """Whether the climate was held since the preparation, so that the engineer may give the steel more time in writing."""
    return held(case, condensed(_log(case), prepared, end, _rules(case, end)))


def at(case: Case, moment: datetime, *, restart: bool = False, hot: bool = False) -> list[Against]:
    """What the air is against at a later layer or a restart: by the last reading, and the line to the next if there is one.

    ``hot``: the steel was just measured hot all round. Film that got wet in the pause is dried and looked at again.
    """
    pause = paused(case, moment)
    out = [*_wet_film(case, pause, moment), *_unabraded(case, pause, moment)]
    if hot or hot_since(case, moment) is not None:
        return out
    read = [event for event in case.job.of("air.read") if event.at <= moment]
    source = _source(case, "dew_margin_k")
    if not read:
        return [*out, Against("air_log", "missing", say("acts.air_never"), "measure", say("acts.air_read"), source=source)]
    last, age = read[-1], (moment - read[-1].at) / timedelta(minutes=1)
    limits = [("log_gap_min_max", gap_min_max(case))]
    own = case.procedure.value("air_age_min_max")
    if own is not None and (restart or pause is not None):
        limits.append(("air_age_min_max", own))
    key, limit = min(limits, key=lambda pair: pair[1])
    if age > limit:
        out.append(Against("air_log", "old", _last_read(case, last.at, moment),
                           "read_again", say("acts.air_read"), value=age, unit="min", limit=limit, source=_source(case, key)))
    against = [found for found in judged(case, last, "dew_margin_k", "rh_pct_max") if found.verdict != "conforms"]
    out += [_of(found) for found in against]
    least = case.procedure.value("dew_margin_k", ConditionLimits().dew_margin_k)
    line = condensed(_log(case), moment, moment, _rules(case, moment)).margin_k
    if not against and least is not None and line is not None and line < least:
        because = say("acts.air_on_the_line", margin=line, limit=least, at=clock_time(moment, moment))
        out.append(Against("dew_margin", "failing", because, "ask_engineer", say("acts.layer_engineer"), "engineer", line, "K",
                           least, source))
    return out


def judged(case: Case, read: Event, *limits: str) -> list[Finding]:
    """The room's findings on one reading of air and steel, by these limits of the procedure."""
    body = read.body
    request = {"air_c": body.air_c, "rh_pct": body.rh_pct, "steel_c": body.steel_c} | _tolerance(case, read)
    return list(case.ask(FORMS, request | limits_for(case, *limits)).findings)


def limits_for(case: Case, *keys: str) -> dict[str, Any]:
    """The limits of these names that the procedure sets, with their sources, and its rule of decision, as the room is asked."""
    procedure = case.procedure
    limits = {key: procedure.value(key) for key in keys if key in procedure.limits}
    return {
        "limits": limits,
        "limit_sources": {key: procedure.cite(key) for key in limits},
        "decision": {"rule": procedure.decision.rule, "probability": procedure.decision.probability},
    }


def _last_read(case: Case, read: datetime, moment: datetime) -> Sentence:
    """How long before now, or before the layer that was laid at that moment, the air was read."""
    at, minutes = clock_time(read, moment), round((moment - read) / timedelta(minutes=1))
    if any(event.at == moment for event in case.job.of("layer.fused", "heat.started")):
        return say("acts.air_old_then", at=at, minutes=minutes, then=clock_time(moment, moment))
    return say("acts.air_old", at=at, minutes=minutes)


def _unknown(case: Case, log: list[Reading], prepared: datetime, end: datetime, rules: Rules) -> Iterator[Against]:
    """Time in which it may have been wet, unless everything that water spoils was looked at again after it."""
    if not any(prepared <= one.at <= end for one in log):
        yield Against("air_log", "missing", say("acts.air_missing"), "measure", say("acts.air_read"),
                      source=_source(case, "log_gap_min_max"))
        return
    looked = _looked_again(case, prepared, end)
    rest = condensed(log, looked or prepared, end, rules)
    if rest.unread:
        gap = max(rest.unread, key=lambda one: one.minutes)
        open_end = gap.end == end and not any(one.at == end for one in log)
        because = _last_read(case, gap.start, end) if open_end else say(
            "acts.air_gap", minutes=round(gap.minutes), start=clock_time(gap.start, end), end=clock_time(gap.end, end))
        yield Against("air_log", "old" if open_end else "missing", because, "read_again" if open_end else "measure",
                      say("acts.air_gap_look"), "inspector", gap.minutes, "min", rules.gap_min_max,
                      _source(case, "log_gap_min_max"))
    elif rest.state == "unknown":
        yield Against("condensed", "odd", say("acts.condensed_perhaps", **_when(rest, end), margin=rest.margin_k,
                                              worst=rest.margin_worst_k), "read_again", say("acts.air_gap_look"), "inspector",
                      rest.margin_worst_k, "K", 0.0, _source(case, "dew_margin_k"))


def _dipped(case: Case, log: list[Reading], whole: Stretch, prepared: datetime, end: datetime) -> Iterator[Against]:
    """Outside the limits for a while, never shown wet: outside the procedure, unless the engineer's instruction takes it in and
    the surface was looked at again when it was over."""
    looked = _looked_again(case, prepared, end)
    since = whole if looked is None else condensed(log, looked, end, _rules(case, end))
    for key, value, after in (("dew_margin_k", whole.margin_k, since.margin_k), ("rh_pct_max", whole.rh_pct, since.rh_pct)):
        default = getattr(ConditionLimits(), key)
        governs, printed = case.procedure.value(key, default), case.printed.value(key, default)
        taken_in = not _outside(key, value, governs)
        if taken_in and not (_outside(key, value, printed) and _outside(key, after, printed)):
            continue
        because = (say("acts.air_dipped", margin=value, limit=printed, **_when(whole, end)) if key == "dew_margin_k" else
                   say("acts.air_damp", rh=value, limit=printed))
        unit = "K" if key == "dew_margin_k" else "%"
        if taken_in:
            yield Against("air_log", "missing", because, "measure", say("acts.air_gap_look"), "inspector", value, unit, printed,
                          _source(case, key))
        else:
            yield Against("air_log", "failing", because, "ask_engineer", say("acts.air_dipped_look"), "engineer", value, unit,
                          governs, _source(case, key))
        return


def _not_held(case: Case, whole: Stretch, prepared: datetime, end: datetime) -> Iterator[Against]:
    """More time was given in writing, but the climate in which the steel waited was not held."""
    if overdue(case, prepared, end) and not held(case, whole) and whole.margin_k is not None and whole.rh_pct is not None:
        least, most = needed(case)
        because = say("acts.hold_climate_broken", margin=whole.margin_k, rh=whole.rh_pct, least=least, most=most)
        yield Against("air_log", "failing", because, "correct", say("acts.prepare_again"), "technician", whole.margin_k, "K",
                      least, hold_source(case))


def _outside(key: str, value: float | None, limit: float | None) -> bool:
    return value is not None and limit is not None and (value < limit if key == "dew_margin_k" else value > limit)


def _looked_again(case: Case, start: datetime, end: datetime) -> datetime | None:
    """Up to when all that water spoils was measured again: salts and dust where the procedure limits them."""
    checks = [event for event in case.job.of("surface.checked") if start <= event.at <= end]
    wanted = [("salts_mg_m2_max", ("salts_mg_m2", "salt_us_cm")), ("dust_rating_max", ("dust_rating",))]
    lasts = [max((event.at for event in checks if any(getattr(event.body, name) is not None for name in names)), default=None)
             for key, names in wanted if key in case.procedure.limits]
    if None in lasts or not checks:
        return None
    return min((one for one in lasts if one is not None), default=checks[-1].at)


def _wet_film(case: Case, pause: Pause | None, moment: datetime) -> Iterator[Against]:
    """Film on which water settled in the pause, and which nobody looked at since."""
    if pause is None:
        return
    end = pause.end or moment
    again = [event.at for event in case.job.of("visual.looked", "film.sanded", "surface.prepared")
             if pause.start <= event.at <= moment and getattr(event.body, "accepted", True)]
    found = condensed(_log(case), max(again, default=pause.start), max(end, *again) if again else end, _rules(case, moment))
    if found.state == "yes":
        yield Against("condensed", "failing", say("acts.film_wet", **_when(found, moment), margin=found.margin_k), "correct",
                      say("acts.film_dry"), value=found.margin_k, unit="K", limit=0.0, source=_source(case, "dew_margin_k"))


def _unabraded(case: Case, pause: Pause | None, moment: datetime) -> Iterator[Against]:
    """Film that was cold for longer than the procedure allows and was not abraded before powder goes on it."""
    limit = case.procedure.value("pause_abrade_min_max")
    if pause is None or limit is None:
        return
    minutes = ((pause.end or moment) - pause.start) / timedelta(minutes=1)
    done = [event for event in case.job.of("film.sanded", "surface.prepared") if pause.start <= event.at <= moment]
    if minutes > limit and not done:
        yield Against("abraded", "missing", say("acts.film_not_abraded", minutes=round(minutes), limit=limit), "correct",
                      say("acts.film_abrade"), value=minutes, unit="min", limit=limit,
                      source=_source(case, "pause_abrade_min_max"))


def _of(found: Finding) -> Against:
    """A finding of the room: *correct* only what was measured and is bad."""
    too_close = found.verdict == "indeterminate"
    return Against(found.rule, "odd" if too_close else "failing", found.because, "read_again" if too_close else "correct",
                   found.next_move, value=found.value, unit=found.unit, limit=found.limit, source=found.source)


def _log(case: Case) -> list[Reading]:
    return [Reading(event.at, event.body.air_c, event.body.rh_pct, event.body.steel_c) for event in case.job.of("air.read")]


def _rules(case: Case, moment: datetime) -> Rules:
    """Gap and tolerances; those of the meter that took the last reading up to a moment."""
    fields = ConditionsRequest.model_fields
    read = [event for event in case.job.of("air.read") if event.at <= moment]
    own = _tolerance(case, read[-1]) if read else {}
    tolerances = {key: own.get(key, fields[key].default) for key in ("tol_air_k", "tol_rh_pct", "tol_steel_k")}
    return Rules(None, None, gap_min_max(case), **tolerances)


def _tolerance(case: Case, read: Event) -> dict[str, float]:
    tool = case.job.instruments.get(read.body.instrument or "")
    return {} if tool is None or not tool.tol else {"tol_air_k": tool.tol, "tol_steel_k": tool.tol}


def _source(case: Case, key: str) -> str:
    """Where a limit comes from; a default says so."""
    if key in case.procedure.limits:
        return case.procedure.cite(key)
    default = "ambient_every_2h" if key == "log_gap_min_max" else "steel_3k_rule"
    return f"default, your procedure sets none: {cite(default)}"


def _when(stretch: Stretch, end: datetime) -> dict[str, str]:
    assert stretch.lowest_start is not None and stretch.lowest_end is not None
    return {"start": clock_time(stretch.lowest_start, end), "end": clock_time(stretch.lowest_end, end)}
