"""Which units are there, what is one in the house's own, and how is a number shown to a reader of metric or US units?

>>> in_units(762.0, "um", "us")
(30.0, 'mil')
"""

from __future__ import annotations

import math
from typing import NamedTuple


class Unit(NamedTuple):
    """value in the house's unit = factor · number + offset."""

    factor: float
    offset: float = 0.0


# Exact factors: inch = 25.4 mm, pound = 0.45359237 kg (international yard and pound agreement, 1959);
# °C = (°F − 32)/1.8; gallon = 231 in³; inHg (0 °C) = 3.386389 kPa — NIST SP 811 (2008), appendix B,
# from memory.
UNITS: dict[str, dict[str, Unit]] = {
    "temperature_c": {"C": Unit(1), "F": Unit(5 / 9, -160 / 9), "K": Unit(1, -273.15)},
    "difference_k": {"K": Unit(1), "C": Unit(1), "F": Unit(5 / 9)},
    "length_mm": {"mm": Unit(1), "cm": Unit(10), "m": Unit(1000), "in": Unit(25.4), "mil": Unit(0.0254),
                  "um": Unit(0.001)},
    "film_um": {"um": Unit(1), "mm": Unit(1000), "mil": Unit(25.4), "in": Unit(25400)},
    "area_mm2": {"mm2": Unit(1), "cm2": Unit(100), "in2": Unit(645.16)},
    "volume_l": {"l": Unit(1), "ml": Unit(0.001), "m3": Unit(1000), "gal": Unit(3.785411784),
                 "ft3": Unit(28.316846592)},
    "volume_ml": {"ml": Unit(1), "l": Unit(1000), "floz": Unit(29.5735295625)},
    "voltage_v": {"V": Unit(1), "kV": Unit(1000)},
    "pressure_kpa": {"kPa": Unit(1), "hPa": Unit(0.1), "mbar": Unit(0.1), "bar": Unit(100),
                     "psi": Unit(6.894757293168), "inHg": Unit(3.386389)},
    "altitude_m": {"m": Unit(1), "ft": Unit(0.3048)},
    "time_s": {"s": Unit(1), "min": Unit(60), "h": Unit(3600)},
    "time_min": {"min": Unit(1), "s": Unit(1 / 60), "h": Unit(60)},
    "power_w": {"W": Unit(1), "kW": Unit(1000)},
    "speed_m_s": {"m/s": Unit(1), "ft/s": Unit(0.3048)},
    "mass_g": {"g": Unit(1), "kg": Unit(1000), "oz": Unit(28.349523125)},
    "percent": {"%": Unit(1), "": Unit(1)},
    "number": {"": Unit(1)},
}


def shown(number: float) -> str:
    """A number as a person writes it: no trailing zeros, no exponent in the bench's range.

    >>> shown(106.0), shown(0.5), shown(1e-9)
    ('106', '0.5', '1e-09')
    """
    if math.isfinite(number) and number == int(number) and abs(number) < 1e15:
        return str(int(number))
    return f"{number:.6g}"


_PRINTED = {"um": "µm", "mm2": "mm²", "m2": "m²", "mg/m2": "mg/m²", "mm2/s": "mm²/s", "W/m2": "W/m²"}


def printed(unit: str) -> str:
    """A unit as it stands in a sentence; keys, files and machines keep the plain word.

    >>> printed("um"), printed("mm2"), printed("K")
    ('µm', 'mm²', 'K')
    """
    return _PRINTED.get(unit, unit)


class Shown(NamedTuple):
    """A unit as a person types it: house value = factor · typed + offset."""

    unit: str
    factor: float
    offset: float


# What the house keeps → what a person of US units types. Differences (K) are differences in °F.
_US: dict[str, tuple[str, Unit]] = {
    "°C": ("°F", UNITS["temperature_c"]["F"]),
    "K": ("°F", UNITS["difference_k"]["F"]),
    "um": ("mil", UNITS["film_um"]["mil"]),
    "mm": ("in", UNITS["length_mm"]["in"]),
    "mm2": ("in²", UNITS["area_mm2"]["in2"]),
    "m": ("ft", UNITS["altitude_m"]["ft"]),
    "l": ("gal", UNITS["volume_l"]["gal"]),
    "kPa": ("inHg", UNITS["pressure_kpa"]["inHg"]),
    "m/s": ("ft/s", UNITS["speed_m_s"]["ft/s"]),
    "g": ("oz", UNITS["mass_g"]["oz"]),
}


def shown_in(unit: str, units: str) -> Shown:
    """How a unit of the house is typed and shown by a person of ``metric`` or ``us`` units."""
    if units == "us" and unit in _US:
        name, held = _US[unit]
        return Shown(name, held.factor, held.offset)
    return Shown(printed(unit), 1.0, 0.0)


def in_units(value: float, unit: str, units: str) -> tuple[float, str]:
    """A number of the house as this person reads it, with its unit's sign."""
    shown = shown_in(unit, units)
    return (value - shown.offset) / shown.factor, shown.unit


def to_unit(value: float, kind: str, unit: str) -> float:
    """The way back: a number of the house's unit, shown in another.

    >>> round(to_unit(762.0, "film_um", "mil"), 9)
    30.0
    """
    held = UNITS[kind][unit]
    return (value - held.offset) / held.factor
