"""What do two people, or two photos, say together?

They are first held against each other: two areas that differ by more than twice their joint uncertainty cannot
both be right, and neither is used. Influences that are the same in both (the printed card, the curved part) are left
out of that comparison and do not average out in the mean.

>>> a, b = Estimate(600.0, own_mm2=9.0, shared_mm2=3.0), Estimate(606.0, own_mm2=9.0, shared_mm2=3.0)
>>> both = together([a, b])
>>> both.area_mm2, round(both.u_mm2, 2), both.quarrel is None
(603.0, 7.04, True)
>>> together([a, Estimate(640.0, own_mm2=9.0, shared_mm2=3.0)]).area_mm2 is None
True
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from . import checks
from .checks import Reason


@dataclass(frozen=True)
class Estimate:
    """One area with the two parts of its standard uncertainty, mm²."""

    area_mm2: float
    own_mm2: float
    shared_mm2: float


@dataclass(frozen=True)
class Both:
    """The mean and its standard uncertainty, or the quarrel and no number."""

    area_mm2: float | None
    u_mm2: float | None
    quarrel: Reason | None = None


def together(estimates: list[Estimate]) -> Both:
    """Mean of the areas; with the quarrel instead when two of them disagree: |A₁ − A₂| > 2 √(u₁² + u₂²)."""
    for i, a in enumerate(estimates):
        for b in estimates[i + 1 :]:
            joint = math.hypot(a.own_mm2, b.own_mm2)
            if abs(a.area_mm2 - b.area_mm2) > 2 * joint:
                return Both(None, None, checks.disagreement(a.area_mm2, b.area_mm2, joint))
    n = len(estimates)
    mean = sum(e.area_mm2 for e in estimates) / n
    own = math.sqrt(sum(e.own_mm2**2 for e in estimates)) / n
    spread = math.sqrt(sum((e.area_mm2 - mean) ** 2 for e in estimates) / (n - 1) / n) if n > 1 else 0.0
    shared = sum(e.shared_mm2 for e in estimates) / n
    return Both(mean, math.hypot(max(own, spread), shared))
