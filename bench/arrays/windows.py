"""The same window for very many films and airs at once: arrays in, arrays out.

>>> low_v, high_v, empty = windows(least_um=[620.0, 508.0], most_um=[880.0, 1270.0], air_c=20.0, air_kpa=101.325,
...                                strength=Strength.of([(750.0, 20.0)]), fraction=0.5)
>>> low_v.round(), high_v.round(), empty
(array([3935., 5243.]), array([6200., 5080.]), array([False,  True]))
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from soundedge.holiday.air import STANDARD_K, STANDARD_KPA
from soundedge.holiday.strength import Strength

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
        low_v[part] = 24220.0 * x + 6080.0 * np.sqrt(x)
        high_v[part] = fraction * breakdown_many_v(least[part], strength)
    return low_v.reshape(shape), high_v.reshape(shape), (low_v > high_v).reshape(shape)


def breakdown_many_v(film_um: ArrayLike, strength: Strength) -> NDArray[np.float64]:
    """Puncture voltage of many thicknesses, V.

    On logarithms the power law is a chain of straight lines: ln E = ln E1 + Σ slope·(what lies in that span).
    Below the thinnest point nothing is added, so the strength stays flat; above the thickest it comes down with
    ``strength.exponent_beyond()``, never up.
    """
    t = np.asarray(film_um, dtype=float)
    log_t = np.log(t)
    places = [(float(np.log(at)), float(np.log(kv))) for at, kv in strength.points]
    level = np.full_like(t, places[0][1])
    for (x1, y1), (x2, y2) in pairwise(places):
        level += (y2 - y1) / (x2 - x1) * (np.clip(log_t, x1, x2) - x1)
    level -= max(strength.exponent_beyond(), 0.0) * np.maximum(log_t - places[-1][0], 0.0)
    return np.exp(level) * t
