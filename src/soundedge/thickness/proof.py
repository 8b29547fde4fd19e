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

from ..basis.remembered import remembered
from .chances import beta_share, binomial_upper, normal_cdf, normal_quantile, root, spread_ratios, tolerance_factor
from .moments import TwoLevel, mean, sd

_ROOT_2 = math.sqrt(2.0)


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


@remembered(256, key=lambda level, readings, u_shared=0.0, coverage=0.95, confidence=0.95: (
    level, readings, u_shared, coverage, confidence))
def lower_tolerance_of_spots(
    level: TwoLevel, readings: int, u_shared: float = 0.0, coverage: float = 0.95, confidence: float = 0.95
) -> float | None:
    """The film that at least ``coverage`` of the part has when readings lie in spots and share an error. Unit of the readings.

    Parameters
    ----------
    level : TwoLevel
        Mean, spread between and within the spots.
    readings : int
        All of them.
    u_shared : float
        Standard uncertainty of the error all readings share.

    Returns
    -------
    float or None
        None for a single reading. Several in one spot speak for that spot alone.

    Notes
    -----
    Generalised confidence limit of a one-way random model: Krishnamoorthy & Mathew, Technometrics 46 (2004) 44 (memory). With
    J spots of m readings, σ_w² = SS_w/χ²_w and m·σ_b² + σ_w² = SS_b/χ²_b, it is the quantile 1 − confidence of
    mean − z·√(σ_b² + σ_w²) + N·√((m·σ_b² + σ_w²)/(J·m) + u²), N normal. One reading in each spot and u = 0:
    ``lower_tolerance``. σ_b² is not cut at 0: the cut made it too low. Where readings differ more within spots than
    spots do, it still holds 97 to 99 % instead of 95, for five spots tell little of how alike spots are.
    """
    if readings < 2 or level.u_mean is None:
        return None
    z = normal_quantile(coverage)
    rows = [
        (weight, level.mean - z * math.sqrt(film), math.hypot(u_mean, u_shared))
        for weight, film, u_mean in _spreads(level, readings)
    ]

    spread = [row for row in rows if row[2]]
    sharp = [row for row in rows if not row[2]]

    def missing(limit: float) -> float:  # asked a hundred times over some hundred rows: Φ is written out
        below = [weight * (0.5 * math.erfc(-((limit - middle) / u) / _ROOT_2)) for weight, middle, u in spread]
        below += [weight for weight, middle, _ in sharp if limit >= middle]
        return math.fsum(below) - (1.0 - confidence)

    if level.u_mean == 0 and u_shared == 0 and not level.within_ss:
        return level.mean
    span = max(1e-3, max(u for _, _, u in rows))
    low = high = level.mean - z * math.sqrt((level.between_ss + level.within_ss) / (readings - 1))
    while missing(low) > 0:
        low, span = low - span, span * 2
    while missing(high) < 0:
        high, span = high + span, span * 2
    return root(missing, low, high)


def _spreads(level: TwoLevel, readings: int) -> list[tuple[float, float, float]]:
    """How likely, σ_b² + σ_w² of the film, and the standard uncertainty of its mean: what the two χ² allow."""
    spots = level.between_df + 1
    if not level.between_df or not level.within_df:  # one reading in each spot, or one spot: a single spread
        nu, variance = readings - 1, (level.between_ss + level.within_ss) / (readings - 1)
        return [(w, variance / (s * s), math.sqrt(variance / readings) / s) for s, w in spread_ratios(nu, _step(nu) / 3)]
    each = readings / spots
    between = each * level.spot_sd**2  # type: ignore[operator]
    within = level.within_ss / level.within_df
    rows = []
    for b, chance_b in spread_ratios(level.between_df, _step(level.between_df)):
        both = between / (b * b)
        for w, chance_w in spread_ratios(level.within_df, _step(level.within_df)):
            if chance_b * chance_w > 1e-9:
                own = within / (w * w)
                rows.append((chance_b * chance_w, both / each + own * (1.0 - 1.0 / each), math.sqrt(both / readings)))
    return rows


def _step(nu: int) -> float:
    return 0.6 / math.sqrt(2.0 * nu)


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
    held = _thin_if_off(gaps, u_shared)
    return root(lambda p: _sure(p, held, worth) - confidence, 0.0, 1.0)


def _thin_if_off(gaps: Sequence[float], u_shared: float) -> list[tuple[float, float]]:
    """Share of the readings that would be thin, and how likely that is, over the error the readings share."""
    n = len(gaps)
    if not u_shared:
        return [(sum(gap < 0 for gap in gaps) / n, 1.0)]
    rows, below = [], 0.0
    for k, gap in enumerate(sorted(gaps)):  # k readings are thin while the error lies between two gaps
        upto = normal_cdf(gap / u_shared)
        rows.append((k / n, upto - below))
        below = upto
    return [(share, weight) for share, weight in [*rows, (1.0, 1.0 - below)] if weight > 1e-12]


def _sure(p: float, held: list[tuple[float, float]], worth: float) -> float:
    """How sure it is that at most the share ``p`` is thin."""
    return math.fsum(
        weight * (beta_share(p, share * worth + 1.0, (1 - share) * worth) if share < 1 else float(p >= 1))
        for share, weight in held
    )


def readings_to_show(share: float, confidence: float = 0.95) -> int:
    """How many readings, none of them thin, show that at most ``share`` of the film is thin: ⌈ln(1−γ)/ln(1−p)⌉."""
    return math.ceil(math.log(1.0 - confidence) / math.log1p(-share) - 1e-12)


def worth_to_show(gaps: Sequence[float], share: float, u_shared: float = 0.0, confidence: float = 0.95) -> int | None:
    """How many independent readings like these would show that at most ``share`` of the film is thin.

    None when no number would (up to a million), because the error that all readings share may hide more than that.
    """
    held, low, high = _thin_if_off(gaps, u_shared), 0, 1
    while _sure(share, held, high) < confidence:
        low, high = high, high * 2
        if high > 1_000_000:
            return None
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if _sure(share, held, middle) < confidence else (low, middle)
    return high


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
