"""What is the true temperature behind an infrared reading, when the emissivity was set wrong?

The instrument sees its band of 8 to 14 µm: what the target emits, and what it mirrors of its surroundings.

>>> round(true_c(reading_c=100, emissivity_set=0.95, emissivity_true=0.3, surroundings_c=20), 1)
207.0
>>> round(reading_c(true_c=175, emissivity_set=0.95, emissivity_true=0.2, surroundings_c=20), 1)
66.4
"""

from __future__ import annotations

import math
from functools import lru_cache

from ..basis.errors import OutOfRange
from ..basis.sentences import say
from .rules import ZERO_C_K

# 2·h·c² and h·c/k from the exact SI constants, with the wavelength in µm.
_C1 = 2.0 * 6.62607015e-34 * 299792458.0**2 * 1e24
_C2_UM_K = 6.62607015e-34 * 299792458.0 / 1.380649e-23 * 1e6
# 32-point Gauss-Legendre is far finer than needed; the points are made once.
_NODES: tuple[tuple[float, float], ...] = ()


def band_radiance_w_m2sr(temperature_c: float, band_um: tuple[float, float] = (8.0, 14.0)) -> float:
    """Radiance of a black surface between two wavelengths, W/(m²·sr): the integral of Planck's law.

    ``temperature_c`` above −273.15 °C, ``band_um`` rising, above 0.

    >>> round(band_radiance_w_m2sr(175), 3)
    261.564
    """
    low, high = band_um
    t = temperature_c + ZERO_C_K
    if t <= 1.0:
        return 0.0
    half, middle = 0.5 * (high - low), 0.5 * (high + low)
    total = 0.0
    for x, weight in _gauss():
        um = middle + half * x
        exponent = _C2_UM_K / (um * t)
        if exponent < 700.0:
            total += weight / (um**5 * math.expm1(exponent))
    return _C1 * half * total * 1e-6 * 1e6


@lru_cache(maxsize=4096)  # the rows of a log are read again each time its job is judged
def temperature_of_c(radiance: float, band_um: tuple[float, float] = (8.0, 14.0)) -> float:
    """The black-surface temperature of a band radiance, °C; bisection to 10⁻⁹ K, −250 to 3 000 °C."""
    low, high = -250.0, 3000.0
    if not band_radiance_w_m2sr(low, band_um) <= radiance <= band_radiance_w_m2sr(high, band_um):
        raise OutOfRange("infrared", say("heat.radiance_without_temperature"))
    for _ in range(64):
        middle = 0.5 * (low + high)
        if band_radiance_w_m2sr(middle, band_um) < radiance:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


def reading_c(
    *, true_c: float, emissivity_set: float, emissivity_true: float, surroundings_c: float,
    band_um: tuple[float, float] = (8.0, 14.0),
) -> float:
    """What the instrument shows for a surface of ``true_c``.

    L(T_read) = [ε·L(T) + (1 − ε)·L(T_r) − (1 − ε_set)·L(T_r)]/ε_set, L the radiance of the band. Opaque target,
    all surroundings at one temperature, which the instrument knows too.
    """
    around = band_radiance_w_m2sr(surroundings_c, band_um)
    seen = emissivity_true * band_radiance_w_m2sr(true_c, band_um) + (emissivity_set - emissivity_true) * around
    return temperature_of_c(seen / emissivity_set, band_um)


def true_c(
    *, reading_c: float, emissivity_set: float, emissivity_true: float, surroundings_c: float,
    band_um: tuple[float, float] = (8.0, 14.0),
) -> float:
    """The true temperature behind a reading; the way back of ``reading_c``."""
    around = band_radiance_w_m2sr(surroundings_c, band_um)
    seen = emissivity_set * band_radiance_w_m2sr(reading_c, band_um) + (emissivity_true - emissivity_set) * around
    return temperature_of_c(seen / emissivity_true, band_um)


def true_range_c(
    *, reading_c: float, emissivity_set: float, emissivity_low: float, emissivity_high: float, surroundings_c: float
) -> tuple[float, float]:
    """The true temperatures a reading can stand for when the emissivity is only known as a range, °C."""
    ends = [
        true_c(reading_c=reading_c, emissivity_set=emissivity_set, emissivity_true=e, surroundings_c=surroundings_c)
        for e in (emissivity_low, emissivity_high)
    ]
    return min(ends), max(ends)


def _gauss() -> tuple[tuple[float, float], ...]:
    global _NODES
    if not _NODES:
        n, out = 24, []
        for i in range(n):
            x = math.cos(math.pi * (i + 0.75) / (n + 0.5))
            for _ in range(60):
                p, q = 1.0, 0.0
                for j in range(n):
                    p, q = ((2 * j + 1) * x * p - j * q) / (j + 1), p
                slope = n * (x * p - q) / (x * x - 1.0)
                x, old = x - p / slope, x
                if abs(x - old) < 1e-15:
                    break
            out.append((x, 2.0 / ((1.0 - x * x) * slope * slope)))
        _NODES = tuple(out)
    return _NODES
