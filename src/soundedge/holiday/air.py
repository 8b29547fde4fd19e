"""How dense is the air that the spark has to cross?

Thin air breaks down sooner, so on a mountain a lower voltage finds the same hole; cold air needs more.

>>> round(air_density(air_c=20, air_kpa=84.56), 4)      # about 1500 m
0.8345
"""

from __future__ import annotations

import math

STANDARD_KPA = 101.325
STANDARD_K = 293.15
WEATHER_SHARE = 0.03    # what high pressure adds to the standard atmosphere of a height (own estimate)
HUMID_SHARE = 0.03      # water in the air of a test site moves a smooth gap by no more than that


def air_density(air_c: float, air_kpa: float) -> float:
    """Density of air relative to 20 °C and 101.325 kPa.

    Parameters
    ----------
    air_c : float
        Air temperature, °C.
    air_kpa : float
        Air pressure *here*, not reduced to sea level, kPa.

    Returns
    -------
    float
        δ = (p / 101.325)·(293.15 / (273.15 + t)). 1 at 20 °C and 101.325 kPa.

    Notes
    -----
    Breakdown of a gap depends on δ·d alone (Paschen); the correction is that of IEC 60052.
    """
    return air_kpa / STANDARD_KPA * (STANDARD_K / (273.15 + air_c))


def pressure_at_kpa(altitude_m: float) -> float:
    """Air pressure of the standard atmosphere at a height above the sea.

    Parameters
    ----------
    altitude_m : float
        Geometric height, −500 to 6000 m.

    Returns
    -------
    float
        kPa. The weather moves it by about ±3 %.

    Notes
    -----
    Below 11 km: p = 101.325·(1 − 0.0065·H/288.15)^5.25588 with H = R·h/(R + h), R = 6 356 766 m
    (ICAO Doc 7488).

    >>> round(pressure_at_kpa(1500), 2)
    84.56
    """
    height = 6_356_766.0 * altitude_m / (6_356_766.0 + altitude_m)
    return float(STANDARD_KPA * (1.0 - 0.0065 * height / 288.15) ** 5.25588)


def water_g_m3(air_c: float, rh_pct: float) -> float:
    """Water in the air, g/m³, from temperature and relative humidity.

    Vapour pressure by the Magnus form 611.2·exp(17.62·t/(243.12 + t)) Pa, divided by the gas constant
    of water vapour, 461.5 J/(kg·K).

    >>> round(water_g_m3(20, 49.2), 1)
    8.5
    """
    vapour_pa = rh_pct / 100.0 * 611.2 * math.exp(17.62 * air_c / (243.12 + air_c))
    return 1000.0 * vapour_pa / (461.5 * (273.15 + air_c))


def humidity_factor(water: float, density: float) -> float:
    """By what factor moist air is stronger in a smooth gap: 1 + 0.002·(h/δ − 8.5) (IEC 60052).

    ``water`` is in g/m³. The effect stays within ±3 %.

    >>> round(humidity_factor(25, 1.0), 3)
    1.033
    """
    return 1.0 + 0.002 * (water / density - 8.5)


def moist_factor(air_c: float, rh_pct: float | None, density: float) -> float:
    """The factor to reckon with: that of the humidity read, or of saturated air when none was; 1 to 1.03.

    Dry air is not credited: a hygrometer at the bench does not know the air in the hole.

    >>> round(moist_factor(20, None, 1.0), 3), moist_factor(20, 30, 1.0), moist_factor(45, None, 1.0)
    (1.017, 1.0, 1.03)
    """
    factor = humidity_factor(water_g_m3(air_c, 100.0 if rh_pct is None else rh_pct), density)
    return min(max(factor, 1.0), 1.0 + HUMID_SHARE)
