"""How long must a powder stay molten to flow together, and what has the heat done to the film already?

>>> round(coalescence_t(1.1), 3)          # dimensionless time to a neck of 1.1 particle radii
2.952
>>> round(sinter_s(1.1, radius_um=40, viscosity_pa_s=1e4, tension_n_m=0.026))
45
>>> round(dose_factor(260, energy_j_mol=167_000, reference_c=250), 2)
2.05
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from .rules import ZERO_C_K

_GAS_J_MOLK = 8.314462618
NECK_MAX = 2.0 ** (1.0 / 3.0)


def coalescence_t(neck: float) -> float:
    """Dimensionless time σ·t/(η·a) until two equal spheres share a neck of ``neck`` first radii.

    ``neck`` from about 0.05 to below 2^(1/3) = 1.26. Newtonian, surface tension alone: Pokluda, Bellehumeur and
    Vlachopoulos (1997). Real powder is slower (elasticity), and bubbles leave later still.

    dθ/dt = 2^(−5/3)·cos θ·sin θ·(2 − cos θ)^(1/3)/[(1 − cos θ)·(1 + cos θ)^(1/3)],
    neck = sin θ·[4/((1 + cos θ)²·(2 − cos θ))]^(1/3). Integrated over θ, where everything is smooth.
    """
    if not 0.0 < neck < NECK_MAX:
        raise ValueError(f"A neck of {neck:g} radii; it must lie between 0 and {NECK_MAX:.4f}.")

    def neck_of(angle: float) -> float:
        c = math.cos(angle)
        return float(math.sin(angle) * (4.0 / ((1.0 + c) ** 2 * (2.0 - c))) ** (1.0 / 3.0))

    low, high = 0.0, math.pi / 2.0
    for _ in range(80):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if neck_of(middle) < neck else (low, middle)
    end, n = low, 400

    def slowness(angle: float) -> float:
        c, s = math.cos(angle), math.sin(angle)
        if s < 1e-12:
            return 0.0
        return float(2.0 ** (5.0 / 3.0) * (1.0 - c) * (1.0 + c) ** (1.0 / 3.0) / (c * s * (2.0 - c) ** (1.0 / 3.0)))

    width = end / n
    odd = sum(slowness((2 * i + 1) * width) for i in range(n // 2))
    even = sum(slowness(2 * i * width) for i in range(1, n // 2))
    return width / 3.0 * (slowness(0.0) + 4.0 * odd + 2.0 * even + slowness(end))


def sinter_s(neck: float, *, radius_um: float, viscosity_pa_s: float, tension_n_m: float) -> float:
    """Time for molten powder to grow a neck of ``neck`` radii, s: t*·η·a/σ."""
    return coalescence_t(neck) * viscosity_pa_s * radius_um * 1e-6 / tension_n_m


def dose_factor(temperature_c: float, *, energy_j_mol: float, reference_c: float) -> float:
    """How many times faster the film ages at this temperature than at ``reference_c``.

    exp[−(E/R)·(1/T − 1/T_ref)]. One activation energy is a simplification (ETFE needs three steps).
    """
    return math.exp(
        -energy_j_mol / _GAS_J_MOLK * (1.0 / (temperature_c + ZERO_C_K) - 1.0 / (reference_c + ZERO_C_K))
    )


def dose_s(
    times_s: Sequence[float], temperatures_c: Sequence[float], *, energy_j_mol: float, reference_c: float
) -> float:
    """Equivalent seconds at ``reference_c`` of a temperature history, trapezoids between its points.

    It says which of two histories aged the film more; it is no limit until a colour change has been seen and
    marked at one of them.
    """
    factors = [dose_factor(t, energy_j_mol=energy_j_mol, reference_c=reference_c) for t in temperatures_c]
    total = 0.0
    for t0, t1, f0, f1 in zip(times_s, times_s[1:], factors, factors[1:]):
        total += 0.5 * (f0 + f1) * (t1 - t0)
    return total
