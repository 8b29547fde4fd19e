"""How sure is the model of itself, and what does it know after a few readings?

The doubts are priors, stated here with their widths; whoever has measured one of them can tighten it.

>>> members = sample(64)
>>> len(members.h), bool(0.98 < float(np.exp(np.log(members.h).mean())) < 1.02)
(64, True)
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields
from statistics import NormalDist

import numpy as np

from .case import Case, Doubt
from .jet import H_DOUBT, SPREAD

# name → (kind, centre, width): "factor" is lognormal with that width of the logarithm, "shift" is normal.
PRIORS: dict[str, tuple[str, float, float]] = {
    "h": ("factor", 1.0, H_DOUBT),
    "air_k": ("shift", -10.0, 40.0),
    "spread": ("shift", SPREAD, 0.8),
    "k_film": ("factor", 1.0, 0.08),
    "film": ("factor", 1.0, 0.08),
    "plate": ("factor", 1.0, 0.02),
    "rc_steel": ("factor", 1.0, 0.04),
    "back": ("factor", 1.0, 0.30),
    "e_film": ("shift", 0.01, 0.025),
}
"""Own estimates: jet by its logarithm (``jet.H_DOUBT``),
air 10 K under the label ± 40 K, entrainment 4 ± 0.8 outlet diameters, conductivity and
film 8 %, plate 2 %, steel's heat 4 %, back 30 %, emissivity ± 0.025."""
TRIED_AIR_K = 10.0
"""Air of a gun that was tried with this setting, K: what its thermostat leaves (own estimate)."""
NAMES = tuple(PRIORS)
_PRIMES = (2, 3, 5, 7, 11, 13, 17, 19, 23)


def priors_of(case: Case) -> dict[str, tuple[str, float, float]]:
    """The priors for this gun: its own width of h; where it was tried, the air's doubt lies in that already."""
    own = PRIORS | {"h": ("factor", 1.0, case.h_width)}
    return own | {"air_k": ("shift", 0.0, TRIED_AIR_K)} if case.tried else own


def beside(plain: Doubt, many: Doubt) -> Doubt:
    """Members one after the other: first those without doubt, then the others."""
    return Doubt(**{f.name: np.concatenate([getattr(plain, f.name), getattr(many, f.name)]) for f in fields(Doubt)})


def sample(members: int, priors: Mapping[str, tuple[str, float, float]] = PRIORS) -> Doubt:
    """``members`` members spread evenly over the priors, always the same ones (Halton points, normal quantiles)."""
    return from_normals(normals(members, len(NAMES)), priors)


def normals(members: int, width: int) -> np.ndarray:
    """(members, width) standard normal numbers from a Halton sequence; the same on every call."""
    points = np.empty((members, width))
    for column in range(width):
        base = _PRIMES[column]
        for row in range(members):
            n, share, value = row + 20, 1.0, 0.0
            while n:
                share /= base
                n, digit = divmod(n, base)
                value += share * ((digit * (base // 2 + 1 if base > 2 else 1)) % base)
            points[row, column] = value
    points = np.clip(points, 1e-4, 1.0 - 1e-4)
    quantile = NormalDist().inv_cdf
    return np.array([[quantile(x) for x in row] for row in points])


def from_normals(z: np.ndarray, priors: Mapping[str, tuple[str, float, float]] = PRIORS) -> Doubt:
    """Members from standard normal coordinates, one column for each name in ``NAMES``."""
    columns = {}
    for column, name in enumerate(NAMES):
        kind, centre, width = priors[name]
        z_of = z[:, column]
        columns[name] = centre * np.exp(width * z_of) if kind == "factor" else centre + width * z_of
    columns["spread"] = np.clip(columns["spread"], 1.5, 9.0)
    return Doubt(**columns)


def percentiles(numbers: np.ndarray, weights: np.ndarray | None = None) -> tuple[float, float, float]:
    """P10, P50 and P90 of the members, with weights when some count more."""
    order = np.argsort(numbers)
    w = np.ones(len(numbers)) if weights is None else weights
    share = (np.cumsum(w[order]) - 0.5 * w[order]) / w.sum()
    p10, p50, p90 = (float(np.interp(p, share, numbers[order])) for p in (0.1, 0.5, 0.9))
    return p10, p50, p90
