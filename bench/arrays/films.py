"""A million readings at once: the same statistics and rules for every spot, by arrays.

Each spot is judged as an inspection area of its own, the way ``rules.judge_rule`` would judge a film of that
one spot; the two are held against each other in the tests.

>>> found = judge_many([1100, 1180, 1240, 980, 1020, 1010], [0, 3], min_um=1000, max_um=1800, nominal_um=1050)
>>> found.mean_um.round(1).tolist(), found.every_reading.tolist(), found.sspc_pa_2.tolist()
([1173.3, 1003.3], [True, False], [True, True])
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from soundedge.thickness.chances import binomial_upper, tolerance_factor
from soundedge.thickness.rule_book import rules


@dataclass(frozen=True)
class Many:
    """Arrays of shape (spots,). Films in µm; rules are True where the rule as written is met. ``enough`` tells
    where the spot holds the readings the rule asks for."""

    n: np.ndarray
    mean_um: np.ndarray
    sd_um: np.ndarray
    min_um: np.ndarray
    max_um: np.ndarray
    thin: np.ndarray
    thin_fraction_upper_95: np.ndarray
    lower_tolerance_95_95_um: np.ndarray
    every_reading: np.ndarray
    sspc_pa_2: np.ndarray
    iso_19840: np.ndarray
    ninety_ten: np.ndarray
    enough_pa_2: np.ndarray
    enough_iso: np.ndarray


def judge_many(
    readings_um: Sequence[float] | np.ndarray,
    starts: Sequence[int] | np.ndarray,
    *,
    min_um: float,
    max_um: float,
    nominal_um: float,
    correction_um: float = 0.0,
    level: int = 3,
) -> Many:
    """Statistics and verdicts for many spots.

    Parameters
    ----------
    readings_um : array of float, shape (n,) [µm]
        As shown by the gauge, the readings of a spot side by side.
    starts : array of int, shape (spots,)
        Where each spot begins; the first is 0, they grow.
    min_um, max_um, nominal_um, correction_um : float [µm]
    level : int
        Restriction level 1 to 5.

    Returns
    -------
    Many

    Notes
    -----
    Deviations are taken from the spot's own mean before they are squared, so nothing is lost to a large film.
    """
    z = np.round(np.asarray(readings_um, float) - correction_um, 9)
    at = np.asarray(starts, np.intp)
    n = np.diff(np.append(at, len(z)))
    assert len(at) and at[0] == 0 and np.all(n > 0)
    mean = np.add.reduceat(z, at) / n
    gap = z - np.repeat(mean, n)
    slip = np.add.reduceat(gap, at)
    gap *= gap
    squares = np.maximum(np.add.reduceat(gap, at) - slip * slip / n, 0.0)
    with np.errstate(invalid="ignore", divide="ignore"):
        sd = np.where(n > 1, np.sqrt(squares / np.maximum(n - 1, 1)), np.nan)
    low, high = np.minimum.reduceat(z, at), np.maximum.reduceat(z, at)
    thin = np.add.reduceat((z < round(min_um, 9)).astype(np.int32), at)
    below_nominal = np.add.reduceat((z < round(nominal_um, 9)).astype(np.int32), at)
    pa, iso, pspc = (rules()[name] for name in ("sspc_pa_2", "iso_19840", "ninety_ten"))
    cells = pa.level[str(level)]
    settled = np.round(mean, 9)
    every = (low >= round(min_um, 9)) & (high <= round(max_um, 9))
    spot_min = max(cells.spot_min_pct or 0.0, cells.area_min_pct or 0.0) * min_um / 100
    spot_max = min(cells.spot_max_pct or np.inf, cells.area_max_pct or np.inf) * max_um / 100
    pa_met = (settled >= round(spot_min, 9)) & (settled <= spot_max)
    counts, where = np.unique(n, return_inverse=True)
    (iso_none, iso_share), (ten_none, ten_share) = iso.below, pspc.below
    iso_may = np.array([iso_share.may(int(c)) for c in counts])[where]
    ten_may = np.array([ten_share.may(int(c)) for c in counts])[where]
    iso_met = (
        (settled >= round(nominal_um, 9)) & (low >= round(nominal_um * iso_none.pct / 100, 9))
        & (below_nominal <= iso_may) & (high <= round(max_um, 9))
    )
    ten_met = (low >= round(nominal_um * ten_none.pct / 100, 9)) & (below_nominal <= ten_may)
    factor = np.array([tolerance_factor(int(c)) if c > 1 else np.nan for c in counts])[where]
    wide = int(n.max()) + 1
    pairs, back = np.unique(thin.astype(np.int64) + wide * n.astype(np.int64), return_inverse=True)
    upper = np.array([binomial_upper(int(p % wide), int(p // wide)) for p in pairs])[back]
    return Many(n, mean, sd, low, high, thin, upper, mean - factor * sd, every, pa_met, iso_met, ten_met,
                n >= pa.readings_per_spot, n >= iso.counts_m2[0][1])
