"""Does the shop's film fit between its limits, and how well is that known?

>>> c = capability(mean=16.0, sigma=2.0, n=30, low=8.0, high=20.0)
>>> round(c.cp, 4), round(c.cpl, 4), round(c.cpu, 4), round(c.cpk, 4)
(1.0, 1.3333, 0.6667, 0.6667)
"""

from __future__ import annotations

import math
from typing import NamedTuple

from ..basis.errors import Missing, NotEnough
from ..basis.sentences import say


class Capability(NamedTuple):
    """Indices with two-sided confidence limits at ``confidence``; None where a limit is missing.

    ``one_sided_lower`` is the exact lower confidence limit of the index when only one limit is set, from the noncentral t.
    """

    cp: float | None
    cp_limits: tuple[float, float] | None
    cpl: float | None
    cpu: float | None
    cpk: float
    cpk_limits: tuple[float, float]
    cpm: float | None
    one_sided_lower: float | None
    below_pct: float | None
    above_pct: float | None


def capability(
    *, mean: float, sigma: float, n: int, low: float | None = None, high: float | None = None, target: float | None = None,
    confidence: float = 0.95,
) -> Capability:
    """Cp, Cpk and their confidence limits.

    Parameters
    ----------
    mean, sigma : float
        Of the process, any one unit; ``sigma`` above 0.
    n : int
        Readings behind ``sigma``, at least 2.
    low, high : float, optional
        Limits, at least one (Missing otherwise).
    target : float, optional
        For Cpm.

    Returns
    -------
    Capability

    Notes
    -----
    Cp·√(χ²/(n − 1)) for its limits; Cpk ± z·√(1/(9n) + Cpk²/(2(n − 1))) (Bissell 1990; NIST e-Handbook 6.1.6, memory);
    Cpm = Cp/√(1 + ((mean − target)/σ)²). One limit only: the exact bound by the noncentral t, t' = 3·Ĉ·√n.
    """
    if low is None and high is None:
        raise Missing("low", say("instruments.limit_missing"))
    if n < 2:
        raise NotEnough("capability", say("instruments.one_reading", n=n))
    if not sigma > 0:
        raise NotEnough("capability", say("instruments.values_alike"))
    from scipy.special import chdtri, nctdtrinc, ndtr, ndtri

    tail = (1 - confidence) / 2
    cpl = None if low is None else (mean - low) / (3 * sigma)
    cpu = None if high is None else (high - mean) / (3 * sigma)
    cpk = min(c for c in (cpl, cpu) if c is not None)
    cp = cp_limits = cpm = None
    if low is not None and high is not None:
        cp = (high - low) / (6 * sigma)
        # chdtri takes the upper tail
        cp_limits = (cp * math.sqrt(chdtri(n - 1, 1 - tail) / (n - 1)), cp * math.sqrt(chdtri(n - 1, tail) / (n - 1)))
        if target is not None:
            cpm = cp / math.sqrt(1 + ((mean - target) / sigma) ** 2)
    half = float(ndtri(1 - tail)) * math.sqrt(1 / (9 * n) + cpk * cpk / (2 * (n - 1)))
    one = None
    if (low is None) != (high is None):
        t = 3 * cpk * math.sqrt(n)
        one = float(nctdtrinc(n - 1, confidence, t)) / (3 * math.sqrt(n)) if abs(t) < 1e3 else None
    return Capability(
        cp, cp_limits, cpl, cpu, cpk, (cpk - half, cpk + half), cpm, one,
        None if cpl is None else 100 * float(ndtr(-3 * cpl)), None if cpu is None else 100 * float(ndtr(-3 * cpu)),
    )
