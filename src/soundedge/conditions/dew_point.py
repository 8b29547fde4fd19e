"""Dew point: how cold may the steel be before water settles on it?

>>> round(dew_point_c(air_c=20.0, rh_pct=60.0), 1)
12.0
>>> round(margin_k(air_c=21.4, rh_pct=63.0, steel_c=18.9), 2)
4.84
>>> round(margin_worst_k(21.4, 63.0, 18.9, tol_air_k=0.5, tol_rh_pct=2.0, tol_steel_k=0.5), 2)
3.38
"""

from __future__ import annotations

import math

# WMO-No. 8, volume I, annex 4.B: e_w = 6.112 exp(17.62 t / (243.12 + t)) hPa over water, −45 to 60 °C;
# e_i = 6.112 exp(22.46 t / (272.62 + t)) hPa over ice, −65 to 0 °C.
WATER = (17.62, 243.12)
ICE = (22.46, 272.62)
AT_ZERO_HPA = 6.112


def saturation_hpa(temperature_c: float) -> float:
    """Vapour pressure at which air over liquid water is full.

    Parameters
    ----------
    temperature_c : float
        −45 to 60 °C; below 0 °C over supercooled water.

    Returns
    -------
    float
        [hPa]

    Notes
    -----
    e_w = 6.112 exp(17.62 t/(243.12 + t)), WMO-No. 8, annex 4.B. Within 0.3 % of printed tables from
    0 to 50 °C, measured in ``tests/conditions/test_dew_point.py``.
    """
    a, b = WATER
    return AT_ZERO_HPA * math.exp(a * temperature_c / (b + temperature_c))


def dew_point_c(air_c: float, rh_pct: float) -> float:
    """Dew point of air at a given temperature and humidity.

    Parameters
    ----------
    air_c : float
        Air temperature, dry bulb. [°C], −45 to 60
    rh_pct : float
        Relative humidity over liquid water. [%], above 0 to 100

    Returns
    -------
    float
        Dew point. [°C]. At most ``air_c``; equal to it at 100 %.

    Notes
    -----
    Air at its dew point holds all the vapour it can, e_s(T_d) = RH/100 · e_s(T), so with the Magnus form

        γ   = ln(RH/100) + a·T/(b + T)
        T_d = b·γ/(a − γ),   a = 17.62, b = 243.12 °C

    Below 0 °C this is dew over supercooled water, not frost: see ``frost_point_c``.
    Error against two other formulations: see ``tests/conditions/test_dew_point.py``.

    References
    ----------
    WMO-No. 8, Guide to Instruments and Methods of Observation, volume I, annex 4.B.
    """
    a, b = WATER
    gamma = math.log(rh_pct) - math.log(100.0) + a * air_c / (b + air_c)
    return b * gamma / (a - gamma)


def frost_point_c(air_c: float, rh_pct: float) -> float | None:
    """Temperature at which frost settles, or None when the dew point is above 0 °C.

    The same air against ice: e_i(T_f) = RH/100 · e_w(T). Never below the dew point over water.
    Units and source as ``dew_point_c``.
    """
    if dew_point_c(air_c, rh_pct) > 0.0:
        return None
    a, b = WATER
    c, d = ICE
    gamma = math.log(rh_pct) - math.log(100.0) + a * air_c / (b + air_c)
    return d * gamma / (c - gamma)


def margin_k(air_c: float, rh_pct: float, steel_c: float) -> float:
    """Steel temperature less dew point, a difference. [K]"""
    return steel_c - dew_point_c(air_c, rh_pct)


def margin_worst_k(
    air_c: float, rh_pct: float, steel_c: float, *, tol_air_k: float, tol_rh_pct: float, tol_steel_k: float
) -> float:
    """The margin with every instrument off by its tolerance in the worst direction.

    Parameters
    ----------
    tol_air_k, tol_rh_pct, tol_steel_k : float
        Half-widths, at least 0. [K], [% of relative humidity], [K]

    Returns
    -------
    float
        [K]. At most ``margin_k`` of the same readings.

    Notes
    -----
    The dew point rises with air temperature and with humidity everywhere, so the worst corner is
    warmer air, wetter air (never above 100 %) and colder steel; no point inside the tolerances is worse.
    """
    wettest_pct = min(100.0, rh_pct + tol_rh_pct)
    return (steel_c - tol_steel_k) - dew_point_c(air_c + tol_air_k, wettest_pct)


def margin_u_k(air_c: float, rh_pct: float, *, tol_air_k: float, tol_rh_pct: float, tol_steel_k: float) -> float:
    """Standard uncertainty of the margin when any value within each tolerance is equally likely. [K]

    Put together as a root of squares (JCGM 100:2008, 4.3.7 and 5.1.2). What air and humidity do to the dew point is
    counted out over their whole tolerance: at 1 to 3 % of humidity the tolerance reaches down to dry air, where the dew
    point runs away downwards and neither the slope nor half of the span is its scatter (JCGM 101:2008). No humidity
    below 0 and above 100 %.
    """
    low_pct, high_pct = max(rh_pct - tol_rh_pct, 0.0), min(rh_pct + tol_rh_pct, 100.0)
    by_air = _scatter([dew_point_c(t, rh_pct) for t in _likely(air_c - tol_air_k, air_c + tol_air_k)])
    by_rh = _scatter([dew_point_c(air_c, pct) for pct in _likely(low_pct, high_pct)])
    return math.hypot(tol_steel_k / math.sqrt(3.0), by_air, by_rh)


def _likely(low: float, high: float, n: int = 40) -> list[float]:
    """Values equally likely between two ends, the middles of ``n`` equal parts."""
    return [low + (high - low) * (i + 0.5) / n for i in range(n)]


def _scatter(values: list[float]) -> float:
    mean = sum(values) / len(values)
    return math.sqrt(sum((value - mean) ** 2 for value in values) / len(values))
