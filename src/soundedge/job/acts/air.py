"""Was the steel dry all the way here, and is it clean and rough still? The conditions room, asked from preparation to now.

    prepared 07:50, air read 08:20 with 9 K to spare, now 08:40            → dry as far as it was read
    a gap of 155 min since the preparation                                  → unknown in between: read now, look again
    0.4 K below the dew point at 09:00, 6 K above it at 10:00               → condensed: prepare again

A dry reading after a wet one does not make the steel clean again. What was not read is unknown, never wet.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import Any

from ...basis.finding import Finding
from ...basis.quantity import read_instant
from ...basis.sentences import say
from ...conditions.ask import FORMS
from ..steps.conditions import question
from . import of_steps
from .moment import Moment, clock_time
from .point import Point, Until

HOT_STEEL_C = 100.0  # no water settles on steel that was measured at this or more
_SURFACE = ("soluble_salts", "soluble_salts_stated", "profile_min", "profile_max", "dust_rating", "dust_size")


def asked(now: Moment) -> Any | None:
    """The room's answer about the time from the last preparation to now; None without preparation or air reading."""
    if now.prepared is None or not now.job.of("air.read"):
        return None
    start, last = now.prepared.at, now.job.of("air.read")[-1].at
    request = question(now.case) | {"now": max(now.at, last, start).isoformat()}
    request.pop("first_layer_at", None)
    request["operations"] = [{"name": "since the preparation", "start": start.isoformat(), "end": max(last, start).isoformat()}]
    return now.case.ask(FORMS, request)


def surface(now: Moment, rule: str) -> Iterator[Point | Until]:
    """Is it prepared, and did the surface measure as the procedure asks, since the last preparation?"""
    if now.prepared is None:
        yield Point(rule, "Q", "surface", "missing", say("acts.not_prepared"), "measure", say("acts.prepare_and_record"),
                    "technician", source=now.case.rule_book)
        return
    checks = now.of("surface.checked")
    if checks and checks[-1].at < now.prepared.at:
        yield Point(rule, "Q", "surface", "dead",
                    say("acts.surface_before_preparation", at=clock_time(checks[-1].at, now.at),
                        prepared=clock_time(now.prepared.at, now.at)), "measure", say("acts.surface_measure"), "inspector",
                    source=now.case.rule_book)
        return
    answer = asked(now)
    findings = [f for f in answer.findings if f.rule in _SURFACE] if answer is not None else []
    for found in findings:
        if found.verdict != "conforms":
            yield _of_finding(rule, "Q", found, "inspector")


def clean(now: Moment, rule: str) -> Iterator[Point | Until]:
    """Did the steel stay dry since it was prepared?"""
    if now.prepared is None:
        return
    answer = asked(now)
    if answer is None:
        yield Point(rule, "Q", "air_log", "missing", say("acts.air_missing"), "measure", say("acts.air_read"), "technician",
                    source=now.case.procedure.cite("dew_margin_k"))
        return
    yield from of_steps.points(now, "conditions", rule, "Q", by="technician", only=lambda block: block.rule.startswith("odd_"))
    start = now.prepared.at
    since = [one for one in answer.intervals if read_instant(one.end) > start]
    lowest = min(since, key=lambda one: one.margin_low_k, default=None)
    limit, source = now.limit("dew_margin_k")
    if lowest is not None and lowest.margin_low_k <= 0:
        yield Point(rule, "Q", "condensed", "failing",
                    say("acts.condensed", start=clock_time(read_instant(lowest.start), now.at),
                        end=clock_time(read_instant(lowest.end), now.at), margin=lowest.margin_low_k),
                    "correct", say("acts.prepare_again_wet"), "technician", value=lowest.margin_low_k, unit="K", limit=0.0,
                    source=source)
        return
    looked = max((event.at for event in now.of("surface.checked")), default=None)
    unknown = [one for one in since if one.state == "unknown" and not _looked_since(read_instant(one.end), looked)]
    if unknown:
        gap = max(unknown, key=lambda one: one.minutes)
        yield Point(rule, "Q", "air_log", "missing",
                    say("acts.air_gap", minutes=round(gap.minutes), start=clock_time(read_instant(gap.start), now.at),
                        end=clock_time(read_instant(gap.end), now.at)),
                    "measure", say("acts.air_gap_look"), "inspector", value=gap.minutes, unit="min",
                    limit=now.limit("log_gap_min_max")[0], source=now.case.procedure.cite("log_gap_min_max"))
    elif lowest is not None and limit is not None and lowest.margin_low_k < limit:
        yield Point(rule, "Q", "air_log", "failing",
                    say("acts.air_dipped", margin=lowest.margin_low_k, limit=limit,
                        start=clock_time(read_instant(lowest.start), now.at)),
                    "ask_engineer", say("acts.air_dipped_look"), "engineer", value=lowest.margin_low_k, unit="K", limit=limit,
                    source=source)
    yield from _age(now, rule, answer)


def dry_now(now: Moment, rule: str) -> Iterator[Point | Until]:
    """Is the steel far enough above the dew point, by the last reading? Hot steel needs no margin."""
    answer = asked(now)
    hot = [now.given[key] for key in ("bond_c", "ring_c") if now.given.get(key) is not None]
    if answer is None or (hot and min(hot) >= HOT_STEEL_C):
        return
    for found in answer.findings:
        if found.rule in ("dew_margin", "relative_humidity", "steel_temperature_min", "steel_temperature_max"):
            if found.verdict != "conforms":
                yield _of_finding(rule, "Q", found, "technician")


def clock(now: Moment, rule: str) -> Iterator[Point | Until]:
    """Is there time left between preparation and first layer?"""
    limit, source = now.limit("prep_to_layer_min_max")
    if now.prepared is None or limit is None:
        return
    end = now.prepared.at + timedelta(minutes=limit)
    minutes = (now.at - now.prepared.at).total_seconds() / 60
    if minutes <= limit:
        yield Until(end, say("acts.until_preparation", limit=limit))
        return
    yield Point(rule, "Q", "prep_clock", "failing",
                say("acts.preparation_over", minutes=round(minutes), limit=limit,
                    prepared=clock_time(now.prepared.at, now.at)),
                "correct", say("acts.prepare_again_or_extend"), "technician", value=minutes, unit="min", limit=limit,
                source=source)


def _age(now: Moment, rule: str, answer: Any) -> Iterator[Point]:
    """The last reading must not be older than the log may have gaps, nor than the procedure lets it be before an act."""
    last = now.job.of("air.read")[-1].at
    age = (now.at - last).total_seconds() / 60
    for key in ("air_age_min_max", "log_gap_min_max"):
        limit, source = now.limit(key)
        if limit is not None and age > limit:
            yield Point(rule, "Q", "air_log", "old", say("acts.air_old", at=clock_time(last, now.at), minutes=round(age)),
                        "read_again", say("acts.air_read"), "technician", value=age, unit="min", limit=limit, source=source)
            return


def _looked_since(end: datetime, looked: datetime | None) -> bool:
    return looked is not None and looked >= end


def _of_finding(rule: str, cls: Any, found: Finding, by: str) -> Point:
    """A finding of the room as a point: *measure* for what was not measured, *correct* only for what was and is bad."""
    numbers = {"value": found.value, "unit": found.unit, "limit": found.limit, "source": found.source}
    if found.verdict == "not_measured":
        return Point(rule, cls, found.rule, "missing", found.because, "measure", say("acts.measure_it"), by, **numbers)  # type: ignore[arg-type]
    if found.verdict == "indeterminate":
        return Point(rule, cls, found.rule, "odd", found.because, "read_again", found.next_move, by, **numbers)  # type: ignore[arg-type]
    return Point(rule, cls, found.rule, "failing", found.because, "correct", found.next_move, by, **numbers)  # type: ignore[arg-type]
