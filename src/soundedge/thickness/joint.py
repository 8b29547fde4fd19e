"""How likely is it that every place conforms, when all readings share the gauge's error and each has its own?

A film is known as  value + shared·Z + own·E.  Z is one and the same for all readings of a gauge, E is each place's own.
Given Z the places are independent, so their probabilities multiply; what is left is one integral over Z.

>>> ten_spots_of_three = [Figure(1010.0, own_u=6.0, low=1000.0)] * 30
>>> round(each_alone(ten_spots_of_three), 3), round(all_together(ten_spots_of_three), 3)
(0.952, 0.23)
>>> shared_alone = [Figure(1010.0, shared_u=6.0, low=1000.0)] * 30        # they stand or fall together
>>> round(all_together(shared_alone), 3)
0.952
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

from ..basis.remembered import remembered
from .chances import normal_cdf, student_cdf


@dataclass(frozen=True)
class Figure:
    """A film that was read, and the limits its true value must lie between; one unit throughout.

    ``own_u`` is the standard uncertainty that nothing else shares, with ``own_df`` degrees of freedom; ``shared_u`` the part
    that goes with the one shared error.
    """

    value: float
    own_u: float = 0.0
    own_df: float = math.inf
    shared_u: float = 0.0
    low: float = -math.inf
    high: float = math.inf


@dataclass(frozen=True)
class Counted:
    """Figures of which at most ``may`` truly lie below (or above) a limit, and none outside its own limits.

    Such figures are not to be given once more as plain ones: their own limits are part of the count.
    """

    figures: tuple[Figure, ...]
    limit: float
    may: int
    below: bool = True


def alone(figure: Figure, shared_df: float = math.inf) -> float:
    """Probability that one figure lies within its limits. Absolute error below 1e-5."""
    if not figure.own_u or not figure.shared_u or (math.isinf(figure.own_df) and math.isinf(shared_df)):
        u = math.hypot(figure.own_u, figure.shared_u)
        df = shared_df if figure.shared_u and not figure.own_u else figure.own_df
        if u == 0:
            return float(figure.low <= figure.value <= figure.high)
        below, above = (figure.low - figure.value) / u, (figure.value - figure.high) / u
        return max(0.0, 1.0 - _cdf(below, df) - _cdf(above, df))
    return all_together([figure], (), shared_df)


def _cdf(t: float, df: float) -> float:
    if math.isinf(t):
        return 0.0 if t < 0 else 1.0
    return normal_cdf(t) if math.isinf(df) else student_cdf(t, df)


def each_alone(figures: Sequence[Figure], shared_df: float = math.inf) -> float:
    """The lowest probability that a figure, taken by itself, lies within its limits; 1 when there is none."""

    def rough(figure: Figure) -> float:
        u = math.hypot(figure.own_u, figure.shared_u)
        gap = min(figure.value - figure.low, figure.high - figure.value)
        return gap / u if u else math.copysign(math.inf, gap)

    # the exact integral only for those that can be the lowest
    nearest = sorted(set(figures), key=rough)[:4]
    return min((alone(figure, shared_df) for figure in nearest), default=1.0)


@remembered(1024, key=lambda figures, counted=(), shared_df=math.inf: (tuple(figures), tuple(counted), shared_df))
def all_together(figures: Sequence[Figure], counted: Sequence[Counted] = (), shared_df: float = math.inf) -> float:
    """Probability that every figure lies within its limits, and that no more than may be lie beyond a counted limit.

    Parameters
    ----------
    figures : list of Figure
    counted : list of Counted
        Shares such as "fewer than 20 % below nominal". Two of them are put together by the lower bound P + Q − 1.
    shared_df : float
        Degrees of freedom of the shared error: Student's t when it was estimated from few readings, else normal.

    Returns
    -------
    float
        0 to 1; absolute error below 1e-4.

    Notes
    -----
    P = ∫ f(z) Π [F((high − x − s·z)/u) − F((low − x − s·z)/u)] dz, with s the shared and u the own standard uncertainty
    (the conformance probability of JCGM 106:2012, 7.2, for several outputs; Student's t for few readings: JCGM 101:2008,
    6.4.9). A count is a Poisson binomial given z. Figures with t of their own are taken as independent given z; where they
    share an estimated spread that errs to the low side. The integral runs over the probability of z and halves its panels
    until they agree, so that it is the same on each run.
    """
    plain, shares = list(figures), []
    for one in counted:
        own = Counter(one.figures)
        if len(own) > _FIGURES_MAX:  # then the limits of each are kept to the last digit, and the count is of grouped films
            plain += one.figures
            own = _grouped(Counter(replace(f, low=-math.inf, high=math.inf) for f in one.figures))
        shares.append((one, own))
    held = _that_matter(Counter(plain), shared_df)
    held = _grouped(held) if len(held) > _FIGURES_MAX else held

    def given(z: Any) -> Any:
        import numpy as np

        with np.errstate(divide="ignore", invalid="ignore"):
            out = np.exp(_log_all(held, z))
            share = np.ones(len(z))
            for one, figures_of in shares:
                share = np.maximum(0.0, share + _count(one, figures_of, z) - 1.0)
            return np.nan_to_num(out * share)

    every = [*held, *(figure for _, own in shares for figure in own)]
    if not any(figure.shared_u for figure in every):
        import numpy as np

        return float(given(np.zeros(1))[0]) if every else 1.0
    return _over_shared(given, _crossings(every, counted), shared_df, len(every))


_FIGURES_MAX = 4000  # more different films than that are grouped by their value


def _grouped(held: Counter[Figure]) -> Counter[Figure]:
    """The same figures with their values rounded to a four-thousandth of their range."""
    values = [figure.value for figure in held]
    step = (max(values) - min(values)) / _FIGURES_MAX or 1.0
    groups: dict[tuple[Any, ...], list[Any]] = {}
    for f, times in held.items():
        group = groups.setdefault((round(f.value / step), f.own_u, f.own_df, f.low, f.high), [0, 0.0, f])
        group[0], group[1] = group[0] + times, group[1] + times * f.value
    return Counter({replace(f, value=total / times): times for times, total, f in groups.values()})


def _that_matter(held: Counter[Figure], shared_df: float) -> Counter[Figure]:
    """Without the figures that can never decide: certain ones, and all but the extremes of those without an own part."""
    certain = 8.0  # standard uncertainties: 6e-16
    out: Counter[Figure] = Counter()
    exact = []
    for figure, times in held.items():
        if not figure.own_u:
            exact.append(figure)
        elif math.isfinite(figure.own_df) or math.isfinite(shared_df) or min(
                figure.value - figure.low, figure.high - figure.value) < certain * (figure.own_u + figure.shared_u):
            out[figure] = times
    if exact:
        ends = (max(exact, key=lambda f: (f.low - f.value) / (f.shared_u or 1.0)),
                min(exact, key=lambda f: (f.high - f.value) / (f.shared_u or 1.0)),
                *(f for f in exact if not f.shared_u and not f.low <= f.value <= f.high))
        out.update(set(ends))
    return out


def _inside(figures: Sequence[Figure], z: Any, low: Any, high: Any) -> Any:
    """P(low ≤ true value ≤ high | z): a row for each z, a column for each figure."""
    import numpy as np
    from scipy.special import ndtr, stdtr

    value, own, shared = (np.array([getattr(f, name) for f in figures]) for name in ("value", "own_u", "shared_u"))
    df = np.array([f.own_df for f in figures])
    at = value + np.multiply.outer(z, shared)
    exact = own == 0
    width = np.where(exact, 1.0, own)
    down, up = (low - at) / width, (at - high) / width
    few = np.isfinite(df)
    below, above = ndtr(down), ndtr(up)
    if few.any():
        below[:, few], above[:, few] = stdtr(df[few], down[:, few]), stdtr(df[few], up[:, few])
    out = np.maximum(0.0, 1.0 - below - above)
    return np.where(exact, (at >= low) & (at <= high), out)


def _limits(figures: Sequence[Figure]) -> tuple[Any, Any]:
    import numpy as np

    return np.array([f.low for f in figures]), np.array([f.high for f in figures])


def _log_all(held: Counter[Figure], z: Any) -> Any:
    """ln P(all within their limits | z)."""
    import numpy as np

    if not held:
        return np.zeros(len(z))
    return np.log(_inside(list(held), z, *_limits(list(held)))) @ np.array(list(held.values()), dtype=float)


_COUNT_EXACTLY = 2000  # with more doubtful readings than that, their number follows the normal curve closely enough


def _count(one: Counted, held: Counter[Figure], z: Any) -> Any:
    """P(none outside its own limits, at most so many beyond the counted one | z), by adding one reading after the other."""
    import numpy as np
    from scipy.special import ndtr

    figures, times = list(held), np.array(list(held.values()))
    low, high = _limits(figures)
    whole = _inside(figures, z, low, high)
    good = _inside(figures, z, np.maximum(low, one.limit) if one.below else low,
                   high if one.below else np.minimum(high, one.limit))
    beyond = np.maximum(0.0, whole - good)
    doubtful = np.flatnonzero(beyond.max(axis=0) > 1e-12)
    if times[doubtful].sum() > _COUNT_EXACTLY:
        share = beyond / np.maximum(whole, 1e-300)
        middle, spread = share @ times, np.sqrt((share * (1.0 - share)) @ times)
        return ndtr((one.may + 0.5 - middle) / np.maximum(spread, 1e-9)) * np.exp(np.log(whole) @ times.astype(float))
    sure = np.delete(np.arange(len(figures)), doubtful)
    state = np.zeros((len(z), one.may + 1))
    state[:, 0] = np.exp(np.log(whole[:, sure]) @ times[sure].astype(float))
    for i in doubtful:
        p, q = beyond[:, i : i + 1], good[:, i : i + 1]
        for _ in range(times[i]):
            moved = state * q
            moved[:, 1:] += state[:, :-1] * p
            state = moved
    return state.sum(axis=1)


def _crossings(figures: Sequence[Figure], counted: Sequence[Counted]) -> list[float]:
    """Where the answer turns from 0 to 1 or back, in units of the shared error: the panels of the integral are cut there."""
    ups, downs = [], []
    for figure in figures:
        if figure.shared_u:
            width = figure.own_u / figure.shared_u
            ups.append(((figure.low - figure.value) / figure.shared_u, width))
            downs.append(((figure.high - figure.value) / figure.shared_u, width))
    points = []
    for centre, width in (max(ups), min(downs)):
        if math.isfinite(centre):
            points += [centre] + [centre + side * k * width for k in (1, 2, 4, 8) for side in (-1, 1)]
    for one in counted:
        at = sorted((one.limit - f.value) / f.shared_u for f in one.figures if f.shared_u)
        points += at[:: max(1, len(at) // 8)]
    return points


def _over_shared(given: Callable[[Any], Any], crossings: Sequence[float], df: float, size: int) -> float:
    """∫ given(z) dF(z), F Student's t or normal: Gauss–Legendre on panels that are halved until both agree."""
    import numpy as np
    from scipy.special import ndtr, ndtri, stdtr, stdtrit

    nodes, weights = np.polynomial.legendre.leggauss(10)
    few = math.isfinite(df)
    cuts = stdtr(df, np.array(crossings)) if few else ndtr(np.array(crossings))
    edges = np.unique(np.concatenate([np.linspace(0.0, 1.0, 9), cuts]))
    low, high = edges[:-1], edges[1:]

    def panels(a: Any, b: Any) -> Any:
        half = (b - a) / 2
        share = (a + half)[:, None] + half[:, None] * nodes
        share = np.clip(share, 1e-300, 1.0 - 1e-16)
        z = stdtrit(df, share) if few else ndtri(share)
        found = np.concatenate([given(some) for some in np.array_split(z.ravel(), max(1, z.size * size // 4_000_000))])
        return half * (found.reshape(z.shape) @ weights)

    rough = panels(low, high)
    total = 0.0
    for depth in range(40):
        middle = (low + high) / 2
        left, right = panels(low, middle), panels(middle, high)
        good = (np.abs(left + right - rough) < 1e-7) | (depth == 39)
        total += float((left + right)[good].sum())
        if good.all():
            break
        keep = ~good
        low, high, rough = (np.concatenate(pair) for pair in (
            (low[keep], middle[keep]), (middle[keep], high[keep]), (left[keep], right[keep])))
    return min(1.0, max(0.0, total))
