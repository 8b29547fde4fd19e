"""Does the gauge drift: is today's check like the checks before?

Every check on the same shim is a point on a chart. Limits come from the chart's own short-term scatter.

>>> chart = individuals([49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1])
>>> round(chart.centre, 2), round(chart.low, 2), round(chart.high, 2), chart.signals
(50.81, 45.82, 55.8, ())
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from ..basis.errors import Contradiction, NotEnough
from ..basis.sentences import say

# Mean and deviation of the range of n normal values, n = 2 … 25, integrated from its distribution; the tests do it again.
# They agree with the tables of ASTM E2587 and ISO 7870-2 to the digits printed there for n up to 10 (memory).
D2 = (1.128379, 1.692569, 2.058751, 2.325929, 2.534413, 2.704357, 2.847201, 2.970026, 3.077505, 3.172873, 3.258455,
      3.335980, 3.406763, 3.471827, 3.531983, 3.587884, 3.640064, 3.688963, 3.734950, 3.778336, 3.819385, 3.858323,
      3.895348, 3.930629)
D3 = (0.852502, 0.888368, 0.879808, 0.864082, 0.848040, 0.833205, 0.819831, 0.807834, 0.797051, 0.787315, 0.778478,
      0.770416, 0.763023, 0.756211, 0.749908, 0.744052, 0.738591, 0.733481, 0.728686, 0.724173, 0.719915, 0.715887,
      0.712068, 0.708441)


@dataclass(frozen=True)
class Signal:
    """A point that speaks: its number (from 0), the rule, and the reason."""

    point: int
    rule: str
    because: str


@dataclass(frozen=True)
class Chart:
    """One control chart in the unit of its points."""

    kind: str
    points: tuple[float, ...]
    centre: float
    low: float
    high: float
    sigma: float
    signals: tuple[Signal, ...]


def individuals(values: Sequence[float]) -> Chart:
    """Chart of single values: limits at mean ± 3·(mean moving range)/d2(2).

    At least 3 values (NotEnough otherwise). NIST e-Handbook 6.3.2.2 (memory).
    """
    if len(values) < 3:
        raise NotEnough("chart", say("instruments.too_few_single_values", n=len(values)))
    centre = math.fsum(values) / len(values)
    moving = math.fsum(abs(b - a) for a, b in pairwise(values)) / (len(values) - 1)
    sigma = moving / D2[0]
    return Chart("individuals", tuple(values), centre, centre - 3 * sigma, centre + 3 * sigma, sigma,
                 signals(values, centre, sigma))


def averages_and_ranges(groups: Sequence[Sequence[float]]) -> tuple[Chart, Chart]:
    """Chart of subgroup means and chart of subgroup ranges.

    Parameters
    ----------
    groups : list of lists
        At least 2 subgroups of one size, 2 to 25.

    Returns
    -------
    averages, ranges : Chart
        x̿ ± 3·R̄/(d2·√n), and R̄ ± 3·d3·R̄/d2 with the lower limit cut at 0. Montgomery, Introduction to statistical
        quality control, 6.2 (second hand).
    """
    sizes = {len(group) for group in groups}
    if len(groups) < 2:
        raise NotEnough("chart", say("instruments.one_subgroup", n=len(groups)))
    if len(sizes) != 1:
        raise Contradiction("chart", say("instruments.subgroup_sizes_differ", sizes=', '.join(map(str, sorted(sizes)))))
    n = sizes.pop()
    if not 2 <= n <= 25:
        raise NotEnough("chart", say("instruments.subgroup_size_not_tabled", n=n))
    means = [math.fsum(group) / n for group in groups]
    spreads = [max(group) - min(group) for group in groups]
    centre, r_bar = math.fsum(means) / len(means), math.fsum(spreads) / len(spreads)
    sigma = r_bar / D2[n - 2]
    of_mean, of_range = sigma / math.sqrt(n), D3[n - 2] * sigma
    high = r_bar + 3 * of_range
    low = max(0.0, r_bar - 3 * of_range)
    beyond = tuple(
        Signal(i, "beyond_limits", f"Range {i + 1} is {value:.6g}, outside {low:.6g} to {high:.6g}.")
        for i, value in enumerate(spreads) if value > high or value < low
    )
    return (
        Chart("averages", tuple(means), centre, centre - 3 * of_mean, centre + 3 * of_mean, sigma,
              signals(means, centre, of_mean)),
        Chart("ranges", tuple(spreads), r_bar, low, high, sigma, beyond),
    )


def signals(values: Sequence[float], centre: float, sigma: float) -> tuple[Signal, ...]:
    """Points beyond 3σ; two of three beyond 2σ, four of five beyond 1σ, eight in a row, all on one side.

    The four zone rules of the Western Electric handbook (1956), memory. ``sigma`` is of the points themselves.
    """
    if sigma <= 0:
        return tuple(Signal(i, "beyond_limits", f"Point {i + 1} differs from a chart without any spread.")
                     for i, v in enumerate(values) if v != centre)
    z = [(value - centre) / sigma for value in values]
    said = []
    for i, value in enumerate(z):
        if abs(value) > 3:
            said.append(Signal(i, "beyond_limits", f"Point {i + 1} ({values[i]:.6g}) is more than 3 sigma from "
                                                   f"{centre:.6g}."))
        for many, of, reach, rule in ((2, 3, 2.0, "two_of_three"), (4, 5, 1.0, "four_of_five"), (8, 8, 0.0, "eight_in_a_row")):
            if i + 1 < of:
                continue
            last = z[i + 1 - of : i + 1]
            for side in (1, -1):
                if side * value > reach and sum(side * v > reach for v in last) >= many:
                    where = "above" if side > 0 else "below"
                    said.append(Signal(i, rule, f"{many} of the last {of} points up to {i + 1} lie {where} the centre "
                                                "by more "
                                       f"than {reach:g} sigma."))
    return tuple(said)
