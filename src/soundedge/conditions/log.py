"""The air log: what held between two readings, and when will the margin be gone?

Air and steel are read now and then; work goes on all the time. Between two readings the margin is

    good     both readings hold with every instrument at its worst tolerance, and they are close enough in time
    bad      a plain reading at one end breaks a limit: somewhere between, the rule was broken
    unknown  too long without a reading, or it holds only on the plain value

>>> from datetime import UTC, datetime, timedelta
>>> eight = datetime(2031, 5, 4, 8, tzinfo=UTC)
>>> log = [Reading(eight, 18, 60, 16), Reading(eight + timedelta(hours=1), 20, 70, 16.4)]
>>> [i.state for i in intervals(log, Rules(dew_margin_k=3, rh_pct_max=85, gap_min_max=120))]
['bad']
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from itertools import pairwise
from typing import Literal

from ..basis.finding import shown_to
from .dew_point import margin_k, margin_worst_k

State = Literal["good", "bad", "unknown"]
RECENT = 6  # readings a trend is drawn through
INNER = 15  # points looked at between two readings
KEPT = 20_000  # intervals whose lowest margin is kept: so that a long log that grows by one reading is not recomputed
SPAN_MIN = 1.0  # readings closer together than this draw noise, not a trend
FALL_K_MIN = 0.02  # a fall over the recent readings smaller than this is no trend
HORIZON_MIN = 7 * 24 * 60.0


@dataclass(frozen=True)
class Reading:
    """Air, humidity and steel at one moment. [°C], [%], [°C]"""

    at: datetime
    air_c: float
    rh_pct: float
    steel_c: float


@dataclass(frozen=True)
class Rules:
    """What a reading must hold (None: that is not judged), how far apart readings may be, and what the instruments
    may be off by. ``guarded``: humidity too must hold at the instrument's tolerance, as the margin must."""

    dew_margin_k: float | None
    rh_pct_max: float | None
    gap_min_max: float
    tol_air_k: float = 0.0
    tol_rh_pct: float = 0.0
    tol_steel_k: float = 0.0
    guarded: bool = False


@dataclass(frozen=True)
class Between:
    """What held between two readings. ``margin_low_k`` is the lowest worst-case margin on a straight line
    between them."""

    start: datetime
    end: datetime
    minutes: float
    state: State
    margin_start_k: float
    margin_end_k: float
    margin_low_k: float
    because: str


@dataclass(frozen=True)
class Trend:
    """The straight line through the recent margins: its slope, and minutes until it meets the limit."""

    slope_k_per_h: float
    minutes_to_limit: float | None
    readings: int
    because: str


def intervals(log: Sequence[Reading], rules: Rules) -> list[Between]:
    """One ``Between`` for each pair of neighbours in a log in order of time; empty for one reading."""
    return [_between(a, b, rules) for a, b in pairwise(log)]


def margin_of(reading: Reading) -> float:
    """The plain margin of one reading. [K]"""
    return margin_k(reading.air_c, reading.rh_pct, reading.steel_c)


def lowest_k(a: Reading, b: Reading, rules: Rules, *, worst: bool) -> float:
    """The lowest margin on the straight line between two readings; ``worst``: every instrument off by its tolerance. [K]"""
    tolerances = (rules.tol_air_k, rules.tol_rh_pct, rules.tol_steel_k) if worst else (0.0, 0.0, 0.0)
    return _low_k((a.air_c, a.rh_pct, a.steel_c), (b.air_c, b.rh_pct, b.steel_c), *tolerances)


def trend(log: Sequence[Reading], rules: Rules) -> Trend | None:
    """Least squares through the recent plain margins, and when the line meets the limit.

    Parameters
    ----------
    log : sequence of Reading
        In order of time; the last ``RECENT`` are used, as far back as no gap is longer than allowed.

    Returns
    -------
    Trend or None
        None without a limit for the margin, or with fewer than two readings less than ``gap_min_max`` apart and a
        minute or more from first to last. ``minutes_to_limit`` counts from the last reading; it is None when
        the margin does not fall (by less than 0.02 K over the readings used) or would take more than seven
        days, and 0 when the line is already below the limit.

    Notes
    -----
    slope = Σ(t − t̄)(m − m̄)/Σ(t − t̄)²; minutes = (m̂(t_last) − limit)/(−slope). A straight line is an
    estimate: sun on the steel and an opened door do not follow it.
    """
    recent = _unbroken(log[-RECENT:], rules.gap_min_max)
    limit = rules.dew_margin_k
    if limit is None or len(recent) < 2 or _minutes(recent[0], recent[-1]) < SPAN_MIN:
        return None
    last = recent[-1].at
    times = [(r.at - last).total_seconds() / 60.0 for r in recent]
    margins = [margin_of(r) for r in recent]
    n = len(recent)
    t_mean, m_mean = sum(times) / n, sum(margins) / n
    spread = sum((t - t_mean) ** 2 for t in times)
    slope = sum((t - t_mean) * (m - m_mean) for t, m in zip(times, margins)) / spread
    at_last = m_mean - slope * t_mean
    how = f"Straight line through the last {n} margins: {60 * slope:+.2f} K per hour"
    if slope * -times[0] > -FALL_K_MIN:
        return Trend(60 * slope, None, n, f"{how}; it does not fall.")
    if at_last <= limit:
        return Trend(60 * slope, 0.0, n, f"{how}; it is at or below {limit:g} K already.")
    minutes = (at_last - limit) / -slope
    if minutes > HORIZON_MIN:
        return Trend(60 * slope, None, n, f"{how}; it would not meet {limit:g} K within a week.")
    caution = " Two readings make a line but do not test it." if n == 2 else ""
    return Trend(
        60 * slope, minutes, n,
        f"{how}; from {at_last:.2f} K at the last reading it meets {limit:g} K after about "
        f"{minutes:.0f} min. An estimate: read again before then.{caution}",
    )


def state_of(start: datetime, end: datetime, found: Sequence[Between]) -> tuple[State, str]:
    """What held while an operation ran from ``start`` to ``end``: its worst interval, unknown outside the log."""
    touched = [b for b in found if b.start < end and b.end > start] if end > start else [
        b for b in found if b.start <= start <= b.end
    ]
    bad = [b for b in touched if b.state == "bad"]
    if bad:
        return "bad", bad[0].because
    if not found or start < found[0].start or end > found[-1].end:
        return "unknown", "Part of it lies outside the log: nobody read the air then."
    unknown = [b for b in touched if b.state == "unknown"]
    if unknown:
        return "unknown", unknown[0].because
    return "good", "Every interval it touches is good."


def _unbroken(log: Sequence[Reading], gap_min_max: float) -> Sequence[Reading]:
    """The readings after the last gap that is longer than allowed: what happened in a gap is not known."""
    for i in range(len(log) - 1, 0, -1):
        if _minutes(log[i - 1], log[i]) > gap_min_max:
            return log[i:]
    return log


def _minutes(a: Reading, b: Reading) -> float:
    return (b.at - a.at).total_seconds() / 60.0


def _between(a: Reading, b: Reading, rules: Rules) -> Between:
    minutes = _minutes(a, b)
    plain = (margin_of(a), margin_of(b))
    low = lowest_k(a, b, rules, worst=True)
    state, because = _state(a, b, minutes, plain, low, rules)
    return Between(a.at, b.at, minutes, state, plain[0], plain[1], low, because)


def _state(a: Reading, b: Reading, minutes: float, plain: tuple[float, float], low: float, rules: Rules) -> tuple[State, str]:
    limit = rules.dew_margin_k
    if minutes > rules.gap_min_max:
        return "unknown", (
            f"{minutes:.0f} min without a reading; at most {rules.gap_min_max:g} min are allowed. "
            "What happened between is not known."
        )
    if limit is not None and min(plain) < limit:
        word = "stayed below" if max(plain) < limit else "crossed"
        return "bad", (
            f"The margin {word} the limit of {limit:g} K: {shown_to(plain[0], limit)} K, then "
            f"{shown_to(plain[1], limit)} K."
        )
    wettest = max(a.rh_pct, b.rh_pct)
    if rules.rh_pct_max is not None and wettest > rules.rh_pct_max:
        return "bad", f"Humidity was {wettest:g} %; at most {rules.rh_pct_max:g} % is allowed."
    if rules.guarded and rules.rh_pct_max is not None and wettest + rules.tol_rh_pct > rules.rh_pct_max:
        return "unknown", (
            f"It holds on the plain readings only: with the hygrometer at its tolerance, humidity may be "
            f"{shown_to(wettest + rules.tol_rh_pct, rules.rh_pct_max)} % against {rules.rh_pct_max:g} %."
        )
    if limit is None:
        return "good", "Humidity holds at both ends." if rules.rh_pct_max is not None else "No limit was given."
    if low < limit:
        return "unknown", (
            f"It holds on the plain readings only: with the instruments at their tolerances, or half-way between, "
            f"the margin may be {shown_to(low, limit)} K against {limit:g} K."
        )
    return "good", f"The margin holds at both ends, {shown_to(low, limit)} K at worst against {limit:g} K."


@lru_cache(KEPT)
def _low_k(
    a: tuple[float, float, float], b: tuple[float, float, float], tol_air_k: float, tol_rh_pct: float, tol_steel_k: float
) -> float:
    """The lowest worst-case margin on the straight line between two readings of air, humidity and steel. [K]"""
    parts = (i / (INNER + 1) for i in range(INNER + 2))
    lines = ([x + share * (y - x) for x, y in zip(a, b)] for share in parts)
    return min(
        margin_worst_k(air_c, rh_pct, steel_c, tol_air_k=tol_air_k, tol_rh_pct=tol_rh_pct, tol_steel_k=tol_steel_k)
        for air_c, rh_pct, steel_c in lines
    )
