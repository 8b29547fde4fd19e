"""How far may the mean be off, and which part of that do more readings not reduce?

A budget is a list of terms. Scatter between spots shrinks with more spots; the gauge's own error, the
base-metal reading and the shim are *shared* by all readings and do not shrink at all.

>>> terms = [Term("scatter of the spot means", 12.0, df=4), Term("gauge", 17.3, shared=True)]
>>> b = budget(terms)
>>> round(b.u, 2), round(b.df, 1), round(b.k95, 3)
(21.05, 37.9, 2.026)
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from .chances import student_quantile


@dataclass(frozen=True)
class Term:
    """One line of the budget: its name, standard uncertainty (same unit as the value), degrees of freedom
    (infinite when it was not estimated from few readings), and whether all readings share it."""

    name: str
    u: float
    df: float = math.inf
    shared: bool = False


@dataclass(frozen=True)
class Budget:
    """Combined standard uncertainty ``u``, effective degrees of freedom ``df``, two-sided 95 % factor
    ``k95``, and the terms."""

    u: float
    df: float
    k95: float
    terms: tuple[Term, ...]

    @property
    def expanded(self) -> float:
        """U = k95·u."""
        return self.k95 * self.u


def combined(terms: Sequence[Term]) -> float:
    """u of independent terms: the root of the sum of their squares (JCGM 100:2008, 5.1.2)."""
    return math.sqrt(math.fsum(term.u * term.u for term in terms))


def budget(terms: Sequence[Term]) -> Budget:
    """Combine independent terms.

    Parameters
    ----------
    terms : list of Term
        Sensitivities already applied: each ``u`` is in the unit of the result.

    Returns
    -------
    Budget

    Notes
    -----
    u² = Σ u_i² (JCGM 100:2008, 5.1.2); ν_eff = u⁴/Σ(u_i⁴/ν_i), the Welch–Satterthwaite formula (G.4.1);
    k95 is Student's t at ν_eff cut down to a whole number (G.4.2), never below 1.
    """
    u = combined(terms)
    below = math.fsum(term.u**4 / term.df for term in terms if term.u and math.isfinite(term.df))
    df = u**4 / below if below else math.inf
    whole = math.inf if math.isinf(df) else max(1.0, math.floor(df + 1e-9))
    return Budget(u, df, student_quantile(0.975, whole), tuple(terms))


def gauge_u_um(reading_um: float, tol_pct: float, tol_um: float) -> float:
    """Standard uncertainty of a gauge that stays within ±(tol_pct % of reading + tol_um). [µm]

    A rectangle: half-width/√3 (JCGM 100:2008, 4.3.7). Reading in µm, at least 0.

    >>> round(gauge_u_um(1500, 1, 1), 3)
    9.238
    """
    return (tol_pct / 100.0 * abs(reading_um) + tol_um) / math.sqrt(3.0)


def resolution_u_um(step_um: float) -> float:
    """Standard uncertainty of a display that counts in steps: step/√12 (JCGM 100:2008, F.2.2.1). [µm]"""
    return step_um / math.sqrt(12.0)
