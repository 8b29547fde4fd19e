"""Dew points of a whole logger file at once, the same formula on arrays.

>>> [round(float(t), 1) for t in dew_points_c([20.0, 25.0], [60.0, 80.0])]
[12.0, 21.3]
"""

from __future__ import annotations

from typing import Any

import numpy as np

from soundedge.conditions.dew_point import WATER


def dew_points_c(air_c: Any, rh_pct: Any) -> Any:
    """Dew points of many readings.

    Parameters
    ----------
    air_c, rh_pct : array_like
        [°C] −45 to 60; [%] above 0 to 100. Any shapes that broadcast.

    Returns
    -------
    ndarray
        [°C], of the broadcast shape. Equal to ``dew_point.dew_point_c`` within rounding.
    """
    a, b = WATER
    air = np.asarray(air_c, dtype=float)
    gamma = np.log(np.asarray(rh_pct, dtype=float)) - np.log(100.0) + a * air / (b + air)
    return b * gamma / (a - gamma)
