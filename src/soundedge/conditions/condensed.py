"""Did water settle on the steel between two moments? A dry reading after a wet one does not make the steel clean again.

    yes      the plain margin came to 0 or below, at a reading or on the straight line between two
    unknown  it may have, with every instrument off by its tolerance; or nobody read the air for too long
    no       neither

>>> from datetime import UTC, datetime, timedelta
>>> eight = datetime(2031, 5, 4, 8, tzinfo=UTC)
>>> log = [Reading(eight + timedelta(hours=h), 20, 70, steel) for h, steel in enumerate((20.0, 14.0, 21.0))]
>>> rules = Rules(dew_margin_k=3, rh_pct_max=85, gap_min_max=120)
>>> whole = condensed(log, eight, eight + timedelta(hours=2), rules)
>>> whole.state, round(whole.margin_k, 1)
('yes', -0.4)
>>> condensed(log[::2], eight, eight + timedelta(hours=2), rules).state
'no'
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise
from typing import Literal

from .log import Reading, Rules, lowest_k

Condensed = Literal["yes", "no", "unknown"]


@dataclass(frozen=True)
class Unread:
    """Time in which nobody read the air; ``minutes`` counts from the reading before it, up to where the stretch ends."""

    start: datetime
    end: datetime
    minutes: float


@dataclass(frozen=True)
class Stretch:
    """What the log says of a stretch of time.

    ``margin_k`` is the lowest plain margin in it, between ``lowest_start`` and ``lowest_end``; ``margin_worst_k`` is the lowest
    with every instrument off by its tolerance, ``rh_pct`` the highest humidity. None where nothing was read.
    """

    state: Condensed
    margin_k: float | None = None
    margin_worst_k: float | None = None
    rh_pct: float | None = None
    lowest_start: datetime | None = None
    lowest_end: datetime | None = None
    unread: tuple[Unread, ...] = ()


def condensed(log: Sequence[Reading], start: datetime, end: datetime, rules: Rules) -> Stretch:
    """Whether water settled on the steel from ``start`` to ``end``.

    Parameters
    ----------
    log : sequence of Reading
        In order of time. Those before ``start`` and after ``end`` count for the straight lines that cross them.
    rules : Rules
        The longest gap and the tolerances; the limits of margin and humidity are not asked here.

    Notes
    -----
    After the last reading its margin stands until the longest gap is over. Before the first reading nothing is known.
    """
    unread: list[Unread] = []
    if not log or start < log[0].at:
        first = min(log[0].at, end) if log else end
        unread.append(Unread(start, first, _minutes(start, first)))
    pieces = list(_pieces(log, start, end))
    for since, _, b in pieces:
        if _minutes(since, b.at) > rules.gap_min_max:
            unread.append(Unread(since, b.at, _minutes(since, b.at)))
    if not pieces:
        return Stretch("unknown", unread=tuple(unread))
    plain = [lowest_k(a, b, rules, worst=False) for _, a, b in pieces]
    low = min(plain)
    worst = min(lowest_k(a, b, rules, worst=True) for _, a, b in pieces)
    _, a, b = pieces[plain.index(low)]
    state: Condensed = "yes" if low <= 0 else "unknown" if worst <= 0 or unread else "no"
    return Stretch(state, low, worst, max(max(a.rh_pct, b.rh_pct) for _, a, b in pieces), a.at, b.at, tuple(unread))


def _pieces(log: Sequence[Reading], start: datetime, end: datetime) -> Iterator[tuple[datetime, Reading, Reading]]:
    """The log between the two moments as straight pieces, each with the time of the reading before it."""
    for a, b in pairwise(log):
        if a.at < b.at and a.at <= end and b.at > start:
            yield a.at, _on_line(a, b, max(a.at, start)), _on_line(a, b, min(b.at, end))
    if log and end >= log[-1].at:
        last = log[-1]
        yield last.at, _moved(last, max(last.at, start)), _moved(last, end)


def _on_line(a: Reading, b: Reading, at: datetime) -> Reading:
    """Where the straight line between two readings is at a moment between them."""
    share = (at - a.at) / (b.at - a.at)
    if share in (0.0, 1.0):
        return b if share else a
    return Reading(at, *(x + share * (y - x) for x, y in ((a.air_c, b.air_c), (a.rh_pct, b.rh_pct), (a.steel_c, b.steel_c))))


def _moved(reading: Reading, at: datetime) -> Reading:
    return Reading(at, reading.air_c, reading.rh_pct, reading.steel_c)


def _minutes(a: datetime, b: datetime) -> float:
    return (b - a).total_seconds() / 60.0
