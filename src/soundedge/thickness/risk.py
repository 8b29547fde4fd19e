"""How often does a rule let a thin film pass, or hold a good one?

Before anything is read, the films a shop makes vary (mean, spread), and the gauge errs. Consumer's risk:
a thin film is accepted. Producer's risk: a good film is held.

>>> r = risks(mean=1500.0, sd=0.12, u=0.04, low=1499.8, high=1500.2, accept_low=1499.82, accept_high=1500.18)
>>> round(r.consumer, 5), round(r.producer, 5)
(0.00988, 0.06903)
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import NamedTuple

from .chances import normal_cdf, normal_quantile


class Risks(NamedTuple):
    """Shares of all films, 0 to 1: accepted though out of limits; held though within; out of limits at all;
    and the share of the accepted that is out of limits (None when nothing is accepted)."""

    consumer: float
    producer: float
    out: float
    out_of_accepted: float | None


def risks(
    *, mean: float, sd: float, u: float, low: float = -math.inf, high: float = math.inf,
    accept_low: float | None = None, accept_high: float | None = None,
) -> Risks:
    """Global consumer's and producer's risk for normal films and a normal gauge.

    Parameters
    ----------
    mean, sd : float
        The films the process makes; sd above 0. Any one unit.
    u : float
        Standard uncertainty of the measurement, above 0, same unit.
    low, high : float
        Limits of the film; infinite where there is none.
    accept_low, accept_high : float, optional
        Limits for the measured value; the limits themselves (simple acceptance) if left out.

    Returns
    -------
    Risks
        Absolute error below 1e-9.

    Notes
    -----
    R_C = ∫ over films out of limits g₀(η)·P(accepted | η) dη, R_P = ∫ over films within g₀(η)·P(held | η) dη:
    JCGM 106:2012, 9.5. Gauss–Legendre panels, cut where the films end and at the limits.
    """
    a_low = low if accept_low is None else accept_low
    a_high = high if accept_high is None else accept_high

    def accepted(film: float) -> float:
        return max(0.0, normal_cdf((a_high - film) / u) - normal_cdf((a_low - film) / u))

    def density(film: float) -> float:
        return math.exp(-0.5 * ((film - mean) / sd) ** 2) / (sd * math.sqrt(2 * math.pi))

    ends = (mean - 9 * sd, mean + 9 * sd)
    inner = [min(max(limit, ends[0]), ends[1]) for limit in (low, high)]
    consumer = _integral(lambda f: density(f) * accepted(f), ends[0], inner[0], min(sd, u)) + _integral(
        lambda f: density(f) * accepted(f), inner[1], ends[1], min(sd, u))
    producer = _integral(lambda f: density(f) * (1.0 - accepted(f)), inner[0], inner[1], min(sd, u))
    out = normal_cdf((low - mean) / sd) + 1.0 - normal_cdf((high - mean) / sd)
    passed = 1.0 - out - producer + consumer
    return Risks(consumer, producer, out, consumer / passed if passed > 1e-300 else None)


def guarded_limit(limit: float, u: float, probability: float) -> float:
    """The least measured film that is accepted against a minimum: limit + z·u (JCGM 106:2012, 8.3.2).

    >>> round(guarded_limit(500, 6, 0.95), 2)
    509.87
    """
    return limit + normal_quantile(probability) * u


# nodes and weights of the 16-point Gauss–Legendre rule on (0, 1) half, mirrored below
_NODES = (0.0950125098376374, 0.2816035507792589, 0.4580167776572274, 0.6178762444026438, 0.7554044083550030,
          0.8656312023878318, 0.9445750230732326, 0.9894009349916499)
_WEIGHTS = (0.1894506104550685, 0.1826034150449236, 0.1691565193950025, 0.1495959888165767, 0.1246289712555339,
            0.0951585116824928, 0.0622535239386479, 0.0271524594117541)


def _integral(f: Callable[[float], float], low: float, high: float, width: float) -> float:
    if not high > low:
        return 0.0
    panels = min(400, max(4, math.ceil((high - low) / (2.0 * width))))
    half = (high - low) / panels / 2
    total = []
    for i in range(panels):
        middle = low + (2 * i + 1) * half
        total += [w * (f(middle - half * x) + f(middle + half * x)) for x, w in zip(_NODES, _WEIGHTS)]
    return half * math.fsum(total)
