"""Which readings stand on a gauge that failed its next check, and which jobs fall with them?

A reading is sound when the last check before it and the first check after it were both good. When the
closing check fails, everything since the last good check is suspect: not wrong, but nobody knows.

>>> from datetime import UTC, datetime
>>> at = lambda h: datetime(2031, 5, 4, h, tzinfo=UTC)
>>> good, bad = Check("G7", at(7), 1000, 1004), Check("G7", at(16), 1000, 1062)
>>> found = find_suspects([good, bad], [Reading("r1", "G7", at(9), "J-12", 1040)], tol_pct=3)
>>> found.suspect, found.triage[0].corrected_min_um
(['r1'], 979.2843691148776)
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import NamedTuple


@dataclass(frozen=True)
class Check:
    """A gauge held against a known thickness: both in µm, the reference above 0."""

    instrument: str
    at: datetime
    reference_um: float
    reading_um: float
    tol_pct: float | None = None

    def error_um(self) -> float:
        """What the gauge shows too much."""
        return self.reading_um - self.reference_um

    def good(self, tol_pct: float) -> bool:
        """Within the tolerance: |reading − reference| ≤ tol % of the reference, settled to 1e-9 µm."""
        allowed = (self.tol_pct if self.tol_pct is not None else tol_pct) * self.reference_um / 100
        return round(abs(self.error_um()) - allowed, 9) <= 0


@dataclass(frozen=True)
class Reading:
    """One film reading as the gauge showed it, µm, with the job (and certificate) it stands in."""

    id: str
    instrument: str
    at: datetime
    job: str
    value_um: float
    certificate: str | None = None


class Triaged(NamedTuple):
    """A held job: its lowest suspect reading, what it comes to when the gauge's error is taken off, and its turn."""

    job: str
    min_um: float
    corrected_min_um: float
    corrected_min_offset_um: float
    readings: int
    rank: int


@dataclass
class Suspects:
    """What falls. ``unproven`` readings have no check after (or before) them: nothing is known yet.

    ``failed``: gauges whose latest check was not good."""

    suspect: list[str] = field(default_factory=list)
    because: dict[str, str] = field(default_factory=dict)
    unproven: list[str] = field(default_factory=list)
    jobs_held: list[str] = field(default_factory=list)
    jobs_unproven: list[str] = field(default_factory=list)
    certificates_held: list[str] = field(default_factory=list)
    last_good: dict[str, datetime | None] = field(default_factory=dict)
    triage: list[Triaged] = field(default_factory=list)
    failed: list[str] = field(default_factory=list)


class _Round(NamedTuple):
    at: datetime
    good: bool
    shims: tuple[Check, ...]


def rounds(checks: Sequence[Check], tol_pct: float) -> list[_Round]:
    """Checks of one instrument in order of time; shims checked at one moment stand or fall together."""
    by_moment: dict[datetime, list[Check]] = {}
    for check in checks:
        by_moment.setdefault(check.at, []).append(check)
    return [_Round(at, all(check.good(tol_pct) for check in shims), tuple(shims)) for at, shims in sorted(by_moment.items())]


def find_suspects(
    checks: Sequence[Check],
    readings: Sequence[Reading],
    *,
    tol_pct: float,
    lapsed: dict[str, datetime] | None = None,
) -> Suspects:
    """Which readings are suspect, which unproven, which jobs and certificates are held, and whose turn it is.

    Parameters
    ----------
    checks, readings
        In any order. A reading at the very moment of a check counts as taken after it.
    tol_pct : float
        Tolerance of the check, ± % of the reference, where a check has none of its own.
    lapsed : dict of instrument to moment, optional
        When its calibration lapsed: later readings are suspect.

    Returns
    -------
    Suspects
        ``suspect`` in the order of ``readings``; ``jobs_held`` in the order of the triage, the job whose
        corrected film is thinnest first.

    Notes
    -----
    The rule "all readings since the last good check are suspect": SSPC-PA 2, 5 (second hand). Correction
    for the triage: value·reference/shown where one shim was checked, the straight line through the shims
    where several were. It says who comes first, not what the film is; a suspect reading is never accepted
    on a corrected value.
    """
    by_gauge: dict[str, list[Check]] = {}
    for check in checks:
        by_gauge.setdefault(check.instrument, []).append(check)
    order = {name: rounds(held, tol_pct) for name, held in by_gauge.items()}
    found = Suspects(failed=[name for name, held in order.items() if not held[-1].good])
    for name in dict.fromkeys([*order, *(reading.instrument for reading in readings)]):
        good = [one.at for one in order.get(name, []) if one.good]
        found.last_good[name] = max(good) if good else None
    worst: dict[str, list[tuple[float, float, float]]] = {}
    for reading in readings:
        before, after = _around(order.get(reading.instrument, []), reading.at)
        because = _because(reading, before, after, (lapsed or {}).get(reading.instrument))
        if because:
            found.suspect.append(reading.id)
            found.because[reading.id] = because
            bad = [one for one in (before, after) if one is not None and not one.good]
            lines = [corrected(reading.value_um, one.shims) for one in bad] or [(reading.value_um, reading.value_um)]
            worst.setdefault(reading.job, []).append(
                (min(line[0] for line in lines), min(line[1] for line in lines), reading.value_um))
            if reading.certificate and reading.certificate not in found.certificates_held:
                found.certificates_held.append(reading.certificate)
        elif before is None or after is None:
            found.unproven.append(reading.id)
            if reading.job not in found.jobs_unproven:
                found.jobs_unproven.append(reading.job)
    turn = sorted(worst.items(), key=lambda item: min(line[0] for line in item[1]))
    for rank, (job, held) in enumerate(turn, 1):
        found.triage.append(Triaged(job, min(v for _, _, v in held), min(c for c, _, _ in held),
                                    min(o for _, o, _ in held), len(held), rank))
    found.jobs_held = [one.job for one in found.triage]
    return found


def corrected(value_um: float, shims: Sequence[Check]) -> tuple[float, float]:
    """A reading with the gauge's error taken off: by proportion (or the line through the shims), and by difference.

    One shim tells an error at one thickness only. It may be a gain (value·reference/shown) or a shift
    (value − error); both are returned. A line through two or more different shims tells both at once.
    """
    different = {shim.reference_um for shim in shims}
    if len(different) > 1:
        n = len(shims)
        x0 = sum(shim.reading_um for shim in shims) / n
        y0 = sum(shim.reference_um for shim in shims) / n
        below = sum((shim.reading_um - x0) ** 2 for shim in shims)
        if below > 0:
            slope = sum((shim.reading_um - x0) * (shim.reference_um - y0) for shim in shims) / below
            value = y0 + slope * (value_um - x0)
            return value, value
    shim = max(shims, key=lambda one: abs(one.error_um()))
    shift = value_um - shim.error_um()
    return (value_um * shim.reference_um / shim.reading_um if shim.reading_um > 0 else shift), shift


def _around(order: Sequence[_Round], at: datetime) -> tuple[_Round | None, _Round | None]:
    before = after = None
    for one in order:
        if one.at <= at:
            before = one
        else:
            after = one
            break
    return before, after


def _because(reading: Reading, before: _Round | None, after: _Round | None, lapsed: datetime | None) -> str:
    def told(one: _Round) -> str:
        shim = max(one.shims, key=lambda check: abs(check.error_um()) / check.reference_um)
        return f"at {one.at:%Y-%m-%d %H:%M} it showed {shim.reading_um:g} µm on {shim.reference_um:g} µm"

    if after is not None and not after.good:
        return f"{reading.instrument} failed its next check: {told(after)}."
    if before is not None and not before.good:
        return f"{reading.instrument} had failed its check before: {told(before)}, and no good check came between."
    if lapsed is not None and reading.at >= lapsed:
        return f"The calibration of {reading.instrument} had lapsed on {lapsed:%Y-%m-%d}."
    return ""
