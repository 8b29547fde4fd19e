"""Was the steel dry all the way here, and is it clean and rough still? The conditions room, asked from preparation to now.

    prepared 07:50, air read 08:20 with 9 K to spare, now 08:40            → dry as far as it was read
    a gap of 155 min since the preparation                                  → unknown in between: read now, look again
    0.4 K below the dew point at 09:00, 6 K above it at 10:00               → condensed: prepare again

A dry reading after a wet one does not make the steel clean again. What was not read is unknown, never wet.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from typing import Any

from ...basis.finding import Finding
from ...basis.sentences import say
from ...conditions.ask import FORMS
from ..case import clock_time
from ..rules.air import Against, at, extendable, judged, since_preparation
from ..rules.pause import HOT_C, hot_since
from ..rules.waived import waived
from ..steps.conditions import RULES_OF, question
from . import of_steps
from .moment import Moment
from .point import Point, Until

_SURFACE = ("soluble_salts", "soluble_salts_stated", "profile_min", "profile_max", "dust_rating", "dust_size")


def asked(now: Moment) -> Any | None:
    """The room's answer about the surface as it was prepared last; None without preparation or air reading."""
    if now.prepared is None or not now.job.of("air.read"):
        return None
    last = now.job.of("air.read")[-1].at
    request = question(now.case) | {"now": max(now.at, last, now.prepared.at).isoformat()}
    request.pop("first_layer_at", None)
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
    accepted = {name: one for what, rules in RULES_OF.items() if (one := waived(now.case, what)) is not None
                for name in rules}
    for found in findings:
        if found.verdict == "not_measured" and found.value is None and found.rule in accepted:
            yield Point(rule, "Q", found.rule, "waived", accepted[found.rule].said, "stop", say("acts.waived_then"),
                        "inspector", "informs", source=found.source)
        elif found.verdict != "conforms":
            yield _of_finding(rule, "Q", found, "inspector")


def clean(now: Moment, rule: str) -> Iterator[Point | Until]:
    """Did the steel stay dry since it was prepared?"""
    if now.prepared is None:
        return
    if not now.job.of("air.read"):
        yield Point(rule, "Q", "air_log", "missing", say("acts.air_missing"), "measure", say("acts.air_read"), "technician",
                    source=now.case.procedure.cite("dew_margin_k"))
        return
    yield from of_steps.points(now, "conditions", rule, "Q", by="technician", only=lambda block: block.rule.startswith("odd_"))
    for one in since_preparation(now.case, now.prepared.at, now.at, hot=now.at if _hot(now) else None):
        yield _of(one, rule)
    yield from _age(now, rule)


def dry_now(now: Moment, rule: str) -> Iterator[Point | Until]:
    """Is the steel far enough above the dew point, by the last reading? Hot steel needs no margin."""
    if _hot(now) or hot_since(now.case, now.at) is not None or not now.job.of("air.read"):
        return
    for found in judged(now.case, now.job.of("air.read")[-1], "dew_margin_k", "rh_pct_max", "steel_c_min", "steel_c_max"):
        if found.verdict != "conforms":
            yield _of_finding(rule, "Q", found, "technician")


def at_layer(now: Moment, rule: str, *, restart: bool = False) -> Iterator[Point]:
    """Is the air good for a layer on film, or for heat again after a pause?"""
    if now.layers:
        yield from (_of(one, rule) for one in at(now.case, now.at, restart=restart, hot=_hot(now)))


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
    may_wait = extendable(now.case, now.prepared.at, now.at)
    what = say("acts.prepare_again_or_extend") if may_wait else say("acts.prepare_again")
    yield Point(rule, "Q", "prep_clock", "failing",
                say("acts.preparation_over", minutes=round(minutes), limit=limit,
                    prepared=clock_time(now.prepared.at, now.at)),
                "correct", what, "technician", value=minutes, unit="min", limit=limit,
                source=source)


def _hot(now: Moment) -> bool:
    """Whether the act itself says that all the steel is too hot for water."""
    hot = [now.given[key] for key in ("bond_c", "ring_c") if now.given.get(key) is not None]
    return bool(hot) and min(hot) >= HOT_C


def _age(now: Moment, rule: str) -> Iterator[Point]:
    """A procedure may say how old a reading may be before an act, besides how far apart readings may lie."""
    last = now.job.of("air.read")[-1].at
    age = (now.at - last).total_seconds() / 60
    limit, source = now.limit("air_age_min_max")
    if limit is not None and age > limit:
        because = say("acts.air_old_then", at=clock_time(last, now.at), minutes=round(age), then=clock_time(now.at, now.at))
        yield Point(rule, "Q", "air_log", "old", because, "read_again", say("acts.air_read"), "technician",
                    value=age, unit="min", limit=limit, source=source)


def _of(one: Against, rule: str) -> Point:
    return Point(rule, "Q", one.fact, one.state, one.because, one.verb, one.what, one.by, value=one.value, unit=one.unit,
                 limit=one.limit, source=one.source)


def _of_finding(rule: str, cls: Any, found: Finding, by: str) -> Point:
    """A finding of the room as a point: *measure* for what was not measured, *correct* only for what was and is bad."""
    numbers = {"value": found.value, "unit": found.unit, "limit": found.limit, "source": found.source}
    if found.verdict == "not_measured":
        return Point(rule, cls, found.rule, "missing", found.because, "measure", say("acts.measure_it"), by, **numbers)  # type: ignore[arg-type]
    if found.verdict == "indeterminate":
        return Point(rule, cls, found.rule, "odd", found.because, "read_again", found.next_move, by, **numbers)  # type: ignore[arg-type]
    return Point(rule, cls, found.rule, "failing", found.because, "correct", found.next_move, by, **numbers)  # type: ignore[arg-type]
