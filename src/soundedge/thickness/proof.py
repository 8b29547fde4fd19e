"""What do these readings prove about the film nobody touched?

>>> round(thin_share_upper(0, 10), 6)            # ten good readings leave a quarter of the film unproven
0.258866
>>> round(lower_tolerance([1100.0, 1180.0, 1240.0, 1150.0, 1210.0]))
949
>>> readings_to_show(0.05)             # so many without one thin reading show: at most 5 % is thin
59
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from .chances import binomial_upper, normal_quantile, tolerance_factor
from .moments import mean, sd


def thin_share_upper(thin: int, n: int, confidence: float = 0.95) -> float:
    """Upper confidence limit of the share of film below the minimum when ``thin`` of n readings are. [0 to 1]

    Exact binomial (Clopper & Pearson 1934), for readings taken at random places. It knows nothing of the
    size of a thin place: one that lies wholly between two readings stays unseen at any n.
    """
    return binomial_upper(thin, n, confidence)


def lower_tolerance(values: Sequence[float], coverage: float = 0.95, confidence: float = 0.95) -> float | None:
    """The film that at least ``coverage`` of the part has, at ``confidence``: mean − k·s. Same unit as the values.

    Parameters
    ----------
    values : list of float
        Independent readings of one homogeneous, normally distributed film.

    Returns
    -------
    float or None
        None for fewer than two readings.

    Notes
    -----
    One-sided factor k from the noncentral t: ISO 16269-6:2014, NIST e-Handbook 7.2.6.3. The gauge's own
    scatter is inside s, so the limit errs to the low side.
    """
    spread = sd(values)
    if spread is None:
        return None
    return mean(values) - tolerance_factor(len(values), coverage, confidence) * spread


def readings_to_show(share: float, confidence: float = 0.95) -> int:
    """How many readings, none of them thin, show that at most ``share`` of the film is thin: ⌈ln(1−γ)/ln(1−p)⌉."""
    return math.ceil(math.log(1.0 - confidence) / math.log1p(-share) - 1e-12)


def readings_for_tolerance(
    values: Sequence[float], limit: float, coverage: float = 0.95, confidence: float = 0.95
) -> int | None:
    """How many readings in all would lift the lower tolerance limit to ``limit`` if mean and spread stay as they are.

    None when no number would: the film itself is too thin or too uneven, (mean − limit)/s ≤ z, or more than a
    million readings. With no spread at all, 2.
    """
    spread = sd(values)
    if spread is None:
        return None
    gap = mean(values) - limit
    if spread == 0:
        return 2 if gap >= 0 else None
    reach = gap / spread
    if reach <= normal_quantile(coverage):
        return None
    low, high = 1, 2
    while tolerance_factor(high, coverage, confidence) > reach:
        low, high = high, high * 2
        if high > 1_000_000:
            return None
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if tolerance_factor(middle, coverage, confidence) > reach else (low, middle)
    return high


def alike_within(between_ms: float, within_ms: float, per_spot: float) -> float:
    """Intraclass correlation of readings in one spot, 0 to 1: (MSB − MSW)/(MSB + (m − 1)·MSW), cut at 0.

    1 means that a second reading in a spot tells nothing new.
    """
    below = between_ms + (per_spot - 1) * within_ms
    return max(0.0, (between_ms - within_ms) / below) if below > 0 else 0.0


def readings_worth(n: int, per_spot: float, alike: float) -> float:
    """How many independent readings n grouped ones are worth: n/(1 + (m − 1)·ρ), the design effect (Kish 1965, memory)."""
    return n / (1.0 + (per_spot - 1.0) * alike)
