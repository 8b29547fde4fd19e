"""Which share, which factor, which chance? The few distributions the room needs, without a heavy import.

>>> round(normal_quantile(0.95), 4)
1.6449
>>> round(binomial_upper(0, 10), 4)          # no thin reading among ten: up to a quarter of the film may be thin
0.2589
>>> round(tolerance_factor(10, 0.95, 0.95), 3)
2.911
>>> round(student_quantile(0.975, 9), 3)
2.262
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import lru_cache


def normal_cdf(z: float) -> float:
    """Φ(z), from 0 to 1."""
    return 0.5 * math.erfc(-z / math.sqrt(2.0))


def normal_quantile(p: float) -> float:
    """z with Φ(z) = p, for 0 < p < 1; absolute error below 1e-12 for 1e-15 < p < 1 − 1e-12.

    Start: Abramowitz & Stegun 26.2.23; then Newton steps of third order (Halley).
    """
    assert 0 < p < 1
    if p > 0.5:
        return -normal_quantile(1.0 - p)
    t = math.sqrt(-2.0 * math.log(p))
    z = -(t - (2.515517 + 0.802853 * t + 0.010328 * t * t) / (1 + 1.432788 * t + 0.189269 * t * t + 0.001308 * t**3))
    for _ in range(4):
        gap = (normal_cdf(z) - p) * math.sqrt(2 * math.pi) * math.exp(z * z / 2)
        z -= gap / (1 + z * gap / 2)
    return z


def beta_share(x: float, a: float, b: float) -> float:
    """Regularised incomplete beta function I_x(a, b), for a, b > 0 and 0 ≤ x ≤ 1.

    Continued fraction, NIST DLMF 8.17.22, by the modified Lentz method (memory).
    """
    if x <= 0:
        return 0.0
    if x >= 1:
        return 1.0
    if x > (a + 1) / (a + b + 2):
        return 1.0 - beta_share(1.0 - x, b, a)
    front = math.exp(
        math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b) + a * math.log(x) + b * math.log1p(-x)
    ) / a
    tiny = 1e-300
    c, d = 1.0, 1.0 - (a + b) * x / (a + 1)
    d = 1.0 / (d if abs(d) > tiny else tiny)
    out = d
    for m in range(1, 100_000):
        for numerator in (
            m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m)),
            -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1)),
        ):
            d = 1.0 + numerator * d
            d = 1.0 / (d if abs(d) > tiny else tiny)
            c = 1.0 + numerator / c
            c = c if abs(c) > tiny else tiny
            step = c * d
            out *= step
        if abs(step - 1.0) < 1e-15:
            break
    return front * out


def root(f: Callable[[float], float], low: float, high: float) -> float:
    """The x between ``low`` and ``high`` where the growing ``f`` crosses 0: bisection with secant steps."""
    f_low, f_high = f(low), f(high)
    for count in range(200):
        middle = low - f_low * (high - low) / (f_high - f_low) if f_high != f_low else (low + high) / 2
        # every third step halves, so that a flat side cannot hold the secant back
        if count % 3 == 2 or not low < middle < high:
            middle = (low + high) / 2
        if high - low <= 4e-16 * max(abs(low), abs(high)) or not low < middle < high:
            return middle
        f_middle = f(middle)
        if f_middle == 0:
            return middle
        if f_middle < 0:
            low, f_low = middle, f_middle
        else:
            high, f_high = middle, f_middle
    return (low + high) / 2


def binomial_upper(k: int, n: int, confidence: float = 0.95) -> float:
    """One-sided upper confidence limit of a share when k of n were counted.

    Parameters
    ----------
    k, n : int
        0 ≤ k ≤ n, n at least 1.
    confidence : float
        Above 0, below 1.

    Returns
    -------
    float
        The share p with P(at most k of n | p) = 1 − confidence; 1 when k = n. With k = 0 it is
        1 − (1 − confidence)^(1/n).

    Notes
    -----
    Clopper & Pearson, Biometrika 26 (1934) 404: I_p(k + 1, n − k) = confidence.
    """
    assert 0 <= k <= n and n >= 1
    if k == n:
        return 1.0
    if k == 0:
        return -math.expm1(math.log(1.0 - confidence) / n)
    return root(lambda p: beta_share(p, k + 1, n - k) - confidence, k / n, 1.0)


def student_cdf(t: float, df: float) -> float:
    """P(T ≤ t) for Student's t with ``df`` > 0 degrees of freedom (not necessarily whole); Φ when infinite."""
    if math.isinf(df):
        return normal_cdf(t)
    if t * t < df:  # near the middle the tail's complement keeps the digits
        half = 0.5 * beta_share(t * t / (df + t * t), 0.5, df / 2)
        return 0.5 + half if t > 0 else 0.5 - half
    tail = 0.5 * beta_share(df / (df + t * t), df / 2, 0.5)
    return 1.0 - tail if t > 0 else tail


def student_quantile(p: float, df: float) -> float:
    """t with P(T ≤ t) = p, for 0 < p < 1."""
    if math.isinf(df):
        return normal_quantile(p)
    if p <= 0.5:
        return 0.0 if p == 0.5 else -student_quantile(1.0 - p, df)
    high = 2.0
    while student_cdf(high, df) < p:
        high *= 2.0
    return root(lambda t: student_cdf(t, df) - p, 0.0, high)


def spread_ratios(nu: int, step: float) -> list[tuple[float, float]]:
    """Nodes and weights of S = √(χ²_ν/ν), the estimated over the true standard deviation: a trapezoid sum in ln S."""
    left = -(40.0 / nu + 0.5) if nu < 2000 else -12.0 / math.sqrt(2.0 * nu)
    right = min(2.3, 12.0 / math.sqrt(2.0 * nu))
    at = [left + i * step for i in range(int((right - left) / step) + 2)]
    weights = [math.exp(nu * (u + 0.5 - 0.5 * math.exp(2.0 * u))) for u in at]
    total = math.fsum(weights)
    return [(math.exp(u), w / total) for u, w in zip(at, weights)]


@lru_cache(maxsize=256)
def tolerance_factor(n: int, coverage: float = 0.95, confidence: float = 0.95) -> float:
    """k such that mean − k·s lies below the share ``coverage`` of a normal population, at ``confidence``.

    Parameters
    ----------
    n : int
        Number of independent readings behind mean and s, at least 2.
    coverage, confidence : float
        Above 0, below 1.

    Returns
    -------
    float
        The exact one-sided factor: a noncentral t quantile over √n. Relative error below 1e-9.

    Notes
    -----
    With S² = χ²_ν/ν, ν = n − 1, the factor solves  E[ Φ(√n·(k·S − z)) ] = confidence,  z = Φ⁻¹(coverage),
    which is the noncentral t statement written out. The expectation is a trapezoid sum in ln S, whose
    integrand dies at both ends, so the sum converges faster than any power of its step.
    ISO 16269-6:2014; NIST e-Handbook 7.2.6.3.
    """
    assert n >= 2
    nu, z, root_n = n - 1, normal_quantile(coverage), math.sqrt(n)
    width = min(1.0 / math.sqrt(2.0 * nu), 1.0 / (root_n * max(1.0, abs(z))))
    spread = spread_ratios(nu, width / 3.5)

    def missing(k: float) -> float:
        return math.fsum(w * normal_cdf(root_n * (k * s - z)) for s, w in spread) - confidence

    near = z + normal_quantile(confidence) * math.sqrt(1.0 / n + z * z / (2.0 * nu))
    low, high = near, near
    span = max(0.05, abs(near) * 0.1)
    while missing(high) < 0:
        low, high, span = high, high + span, span * 2
    span = max(0.05, abs(near) * 0.1)
    while missing(low) > 0:
        high, low, span = low, low - span, span * 2
    return root(missing, low, high)
