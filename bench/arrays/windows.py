"""The same window for very many films and airs at once: arrays in, arrays out.

>>> low_v, high_v, empty = windows(least_um=[620.0, 508.0], most_um=[880.0, 1270.0], air_c=20.0, air_kpa=101.325,
...                                strength=Strength.of([(750.0, 20.0)]), fraction=0.5)
>>> low_v.round(), high_v.round(), empty
(array([4438., 5849.]), array([6200., 5080.]), array([False,  True]))
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from soundedge.holiday.air import HUMID_SHARE, STANDARD_K, STANDARD_KPA
from soundedge.holiday.gap import TABLE_CLASS
from soundedge.holiday.strength import FILM_TO_UM, LAW_LEAST, LAW_MOST, NEAR, Strength

_PER_CM = 1e-4 * STANDARD_K / STANDARD_KPA
_BLOCK = 16_384  # films worked on at a time, so that a block stays in the processor's cache


def windows(
    least_um: ArrayLike, most_um: ArrayLike, air_c: ArrayLike, air_kpa: ArrayLike, strength: Strength, fraction: float
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.bool_]]:
    """Lowest and highest test voltage of many films.

    Parameters
    ----------
    least_um, most_um, air_c, air_kpa : arrays of float, shapes that broadcast to (n,)
        Thinnest and thickest film, µm; air temperature, °C; air pressure, kPa.
    strength : Strength
    fraction : float

    Returns
    -------
    (low_v, high_v, empty) : arrays, shape (n,)
        As ``window.window`` gives them one by one, to rounding (``tests/holiday/test_arrays.py``).
    """
    given = np.broadcast_arrays(*(np.asarray(one, dtype=float) for one in (least_um, most_um, air_c, air_kpa)))
    shape = given[0].shape
    least, most, warmth, pressure = (one.reshape(-1) for one in given)
    low_v, high_v = np.empty(least.size), np.empty(least.size)
    for start in range(0, least.size, _BLOCK):
        part = slice(start, start + _BLOCK)
        x = pressure[part] / (273.15 + warmth[part])
        x *= most[part]
        x *= _PER_CM
        low_v[part] = _surest_many_v(x, warmth[part], pressure[part])
        high_v[part] = fraction * breakdown_many_v(least[part], strength)
    return low_v.reshape(shape), high_v.reshape(shape), (low_v > high_v).reshape(shape)


def _surest_many_v(x: NDArray[np.float64], air_c: NDArray[np.float64], air_kpa: NDArray[np.float64]) -> NDArray[np.float64]:
    """The highest of the gap models with the tables' class and saturated air; ``x`` is density times gap, cm."""
    root, y = np.sqrt(x), 1.01325 * x
    highest = np.maximum(24.22 * x + 6.08 * root, 24.36 * y + 6.72 * np.sqrt(y))
    field = 2.165 + np.sqrt(0.2873 + 0.915 / (1.6053 * y))
    field = np.where(field > 7.94, (80.0 + 0.915 / y) / 16.78, field)
    np.maximum(highest, 10.0 * y * field, out=highest)
    water = 1000.0 * 611.2 * np.exp(17.62 * air_c / (243.12 + air_c)) / (461.5 * (273.15 + air_c))
    density = air_kpa / STANDARD_KPA * (STANDARD_K / (273.15 + air_c))
    moist = np.clip(1.0 + 0.002 * (water / density - 8.5), 1.0, 1.0 + HUMID_SHARE)
    return 1000.0 * highest * moist * (1.0 + TABLE_CLASS)


def breakdown_many_v(film_um: ArrayLike, strength: Strength) -> NDArray[np.float64]:
    """Puncture voltage of many thicknesses, V: ``Strength.at`` span by span, each over the films that lie in it."""
    t = np.asarray(film_um, dtype=float)
    (thin, thin_kv), (thick, thick_kv) = strength.points[0], strength.points[-1]
    steepest = LAW_MOST
    if thin <= FILM_TO_UM:
        kv = np.full_like(t, thin_kv)
    else:
        kv = np.minimum(thin_kv * (t / thin) ** -LAW_LEAST, max(thin_kv, strength.cap_kv_mm))
    for (t1, e1), (t2, e2) in pairwise(strength.points):
        exponent = -np.log(e2 / e1) / np.log(t2 / t1)
        line = e1 * (t / t1) ** -exponent
        if t2 / t1 > NEAR:
            line = np.minimum(line, np.maximum(e2 * (t / t2) ** -LAW_LEAST, e1 * t1 / t))
        kv = np.where(t > t1, line, kv)
        steepest = max(LAW_MOST, float(exponent))
    kv = np.where(t >= thick, thick_kv * (t / thick) ** -steepest, kv)
    return np.asarray(kv * t)
