"""What are the mean and the spread, without losing the digits that matter?

Sums are exact (``math.fsum``), deviations are taken from the mean before they are squared, so readings
that differ only in their last digits keep their spread:

>>> mean([10000001, 10000003, 10000002]), sd([10000001, 10000003, 10000002])
(10000002.0, 1.0)

Readings taken close together are alike. ``two_level`` keeps the spots apart from the readings in them:

>>> level = two_level([[10.0, 12.0], [20.0, 22.0], [30.0, 32.0]])
>>> level.mean, round(level.u_mean, 6), round(level.within_sd, 6)
(21.0, 5.773503, 1.414214)
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass


def mean(values: Sequence[float]) -> float:
    """Arithmetic mean of at least one value; the sum is exact before it is divided."""
    return math.fsum(values) / len(values)


def squares(values: Sequence[float]) -> float:
    """Sum of squared deviations from the mean, with the correction for the mean's own rounding.

    Σ(x − x̄)² − (Σ(x − x̄))²/n : Chan, Golub & LeVeque, Am. Stat. 37 (1983) 242 (memory).
    """
    centre = mean(values)
    gaps = [value - centre for value in values]
    return max(0.0, math.fsum(gap * gap for gap in gaps) - math.fsum(gaps) ** 2 / len(gaps))


def sd(values: Sequence[float]) -> float | None:
    """Sample standard deviation (n − 1), or None of a single value: one reading has no spread."""
    if len(values) < 2:
        return None
    return math.sqrt(squares(values) / (len(values) - 1))


@dataclass(frozen=True)
class TwoLevel:
    """Spots with readings in them, all in the unit of the readings.

    ``mean`` is the mean of the spot means. ``between_ss``, ``within_ss`` and their degrees of freedom are
    the one-way table; ``f`` its ratio. ``u_mean`` is the standard uncertainty of ``mean`` from the scatter
    alone, with ``df`` degrees of freedom; None when there is no second value anywhere.
    """

    mean: float
    between_ss: float
    between_df: int
    within_ss: float
    within_df: int
    within_sd: float | None
    spot_sd: float | None
    u_mean: float | None
    df: int

    @property
    def f(self) -> float | None:
        """F = mean square between / mean square within; None when either is without freedom or within is 0."""
        if not self.between_df or not self.within_df or self.within_ss == 0:
            return None
        return (self.between_ss / self.between_df) / (self.within_ss / self.within_df)


def two_level(groups: Sequence[Sequence[float]]) -> TwoLevel:
    """The one-way table of spots × readings and the uncertainty of the mean of the spots.

    Parameters
    ----------
    groups : list of lists of float
        Readings by spot; every spot has at least one. Spots may have different counts.

    Returns
    -------
    TwoLevel

    Notes
    -----
    The mean of J spots has u = s(spot means)/√J, J − 1 degrees of freedom: JCGM 100:2008, H.5. Dividing
    the spread of all readings by the root of their number would be too small when spots differ. With
    one spot only, u = s/√n of its readings, and nothing is known about other places.
    """
    spot_means = [mean(group) for group in groups]
    everything = [value for group in groups for value in group]
    centre = mean(everything)
    within_ss = math.fsum(squares(group) for group in groups)
    between_ss = math.fsum(len(group) * (m - centre) ** 2 for group, m in zip(groups, spot_means))
    within_df = len(everything) - len(groups)
    spots = len(groups)
    within_sd = math.sqrt(within_ss / within_df) if within_df else None
    spot_sd = sd(spot_means)
    if spots > 1:
        u, df = spot_sd / math.sqrt(spots), spots - 1  # type: ignore[operator]
    elif within_sd is not None:
        u, df = within_sd / math.sqrt(len(everything)), within_df
    else:
        u, df = None, 0
    return TwoLevel(mean(spot_means), between_ss, spots - 1, within_ss, within_df, within_sd, spot_sd, u, df)
