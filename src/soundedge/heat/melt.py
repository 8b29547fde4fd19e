"""What has the heat done to the film already?

>>> round(dose_factor(260, energy_j_mol=167_000, reference_c=250), 2)
2.05
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from .rules import ZERO_C_K

_GAS_J_MOLK = 8.314462618


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
