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

from .chances import beta_share, binomial_upper, normal_cdf, normal_quantile, spread_ratios, tolerance_factor
from .moments import TwoLevel, mean, sd


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


def lower_tolerance_of_spots(
    level: TwoLevel, spots: int, per_spot: float, u_shared: float = 0.0, coverage: float = 0.95, confidence: float = 0.95
) -> float | None:
    """The film that at least ``coverage`` of the part has when readings lie in spots and share an error. Unit of the readings.

    Parameters
    ----------
    level : TwoLevel
        Mean, spread between and within the spots.
    spots, per_spot : int, float
        Spots, at least 2, and readings in each (the harmonic mean where they differ).
    u_shared : float
        Standard uncertainty of the error all readings share.

    Returns
    -------
    float or None
        None for fewer than two spots with two readings somewhere: then nothing tells the two spreads apart.

    Notes
    -----
    Generalised confidence limit for a one-way random model: Krishnamoorthy & Mathew, Technometrics 46 (2004) 44 (memory). With
    σ_w² = SS_w/χ²_w and m·σ_b² + σ_w² = SS_b/χ²_b the limit is the quantile 1 − confidence of
    mean − z·√(σ_b² + σ_w²) + N·√((m·σ_b² + σ_w²)/(J·m) + u²), N normal: a sum over both χ², as exact as their trapezoids.
    """
    if spots < 2 or not level.within_df or level.spot_sd is None:
        return None
    z = normal_quantile(coverage)
    within = level.within_ss
    between = per_spot * level.spot_sd**2 * (spots - 1)
    rows = []
    for b, wb in spread_ratios(spots - 1, _step(spots - 1)):
        both = between / ((spots - 1) * b * b)
        for w, ww in spread_ratios(level.within_df, _step(level.within_df)):
            own = within / (level.within_df * w * w)
            film = max(0.0, (both - own) / per_spot) + own
            rows.append((wb * ww, level.mean - z * math.sqrt(film), math.hypot(math.sqrt(both / (spots * per_spot)), u_shared)))
    rows = [row for row in rows if row[0] > 1e-9]

    def missing(limit: float) -> float:
        return math.fsum(
            weight * (normal_cdf((limit - middle) / u) if u else float(limit >= middle)) for weight, middle, u in rows
        ) - (1.0 - confidence)

    span = max(1.0, 6.0 * max(row[2] for row in rows if row[0] > 1e-6))
    low = high = level.mean
    while missing(low) > 0:
        low, span = low - span, span * 2
    while missing(high) < 0:
        high += span
    while high - low > 1e-4:
        middle = (low + high) / 2
        low, high = (middle, high) if missing(middle) < 0 else (low, middle)
    return (low + high) / 2


def _step(nu: int) -> float:
    return 0.35 / math.sqrt(2.0 * nu)


def thin_share_upper_of_spots(
    gaps: Sequence[float], worth: float, u_shared: float = 0.0, confidence: float = 0.95
) -> float:
    """Upper confidence limit of the share of thin film when readings are alike in spots and share an error. [0 to 1]

    Parameters
    ----------
    gaps : list of float
        Each reading less the minimum; below 0 is thin.
    worth : float
        How many independent readings they are worth.
    u_shared : float
        Standard uncertainty of the error all readings share, same unit.

    Notes
    -----
    The binomial limit (``thin_share_upper``) for worth instead of n readings, of which the same share is thin; mixed over the
    shared error e: so many readings would be thin if the gauge were off by e. It is the p for which the mean of
    I_p(k(e) + 1, worth − k(e)) over e is ``confidence``.
    """
    n = len(gaps)
    ordered = sorted(gaps)
    weights: dict[int, float] = {}
    if u_shared:
        below = 0.0
        for k, gap in enumerate(ordered):  # k readings are thin while the error lies between two gaps
            upto = normal_cdf(gap / u_shared)
            weights[k] = weights.get(k, 0.0) + upto - below
            below = upto
        weights[n] = 1.0 - below
    else:
        weights[sum(gap < 0 for gap in gaps)] = 1.0
    held = [(k * worth / n, weight) for k, weight in weights.items() if weight > 1e-12]

    def sure(p: float) -> float:
        return math.fsum(w * (beta_share(p, k + 1.0, worth - k) if worth - k > 1e-9 else float(p >= 1)) for k, w in held)

    low, high = 0.0, 1.0
    while high - low > 1e-12:
        middle = (low + high) / 2
        low, high = (middle, high) if sure(middle) < confidence else (low, middle)
    return high


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
