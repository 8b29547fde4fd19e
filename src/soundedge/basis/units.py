"""How does a person's "70F", "30 mil" or "5F above" become the house's own number, once, at the door?

Inside the house everything is in the unit its name ends in (``_c``, ``_k``, ``_mm``, ``_um`` …).
Mil, inch and °F live at the edges only, and a temperature *difference* is a thing of its own:

>>> round(quantity("70F", "temperature_c", what="Air temperature"), 9)
21.111111111
>>> quantity("5F", "difference_k", what="Dew margin")      # 5 °F above the dew point, not −15 °C
2.7777777777777777
>>> quantity("30 mil", "film_um", what="Film")
762.0
>>> quantity("70", "temperature_c", what="Air temperature")
Traceback (most recent call last):
    ...
soundedge.basis.errors.Unreadable: Air temperature is '70' without a unit. Write 70C or 70F.
"""

from __future__ import annotations

import math
import re
from typing import NamedTuple

from .errors import Unreadable


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

# Other spellings a person types; the case of the letter counts only where two units would collide.
_SPELLED = {"°c": "C", "°f": "F", "c": "C", "f": "F", "k": "K", "µm": "um", "μm": "um", "micron": "um",
            "microns": "um", "mils": "mil", "inch": "in", '"': "in", "v": "V", "kv": "kV", "w": "W",
            "kw": "kW", "kpa": "kPa", "hpa": "hPa", "inhg": "inHg", "mm²": "mm2", "cm²": "cm2", "in²": "in2",
            "m³": "m3", "ft³": "ft3", "litre": "l", "liter": "l", "percent": "%", "degc": "C", "degf": "F"}

_NUMBER = r"[+\-−]?[0-9]+(?:[.,][0-9]+)?(?:[eE][+\-]?[0-9]{1,3})?|[+\-−]?[.,][0-9]+"
_NUMBER_AND_UNIT = re.compile(rf"\s*({_NUMBER})\s*(.*?)\s*")


def quantity(text: str, kind: str, *, what: str) -> float:
    """A typed quantity in the house's unit.

    Parameters
    ----------
    text : str
        A number and a unit: ``"70F"``, ``"0,8 mm"``, ``"30 mil"``. A bare number is taken only where
        there is nothing to confuse (percent, counts).
    kind : str
        A key of ``UNITS``; its ending is the unit returned.
    what : str
        What is being read, for the error message.

    Returns
    -------
    float

    Raises
    ------
    Unreadable
        Not a number, no unit, or a unit of something else.
    """
    units = UNITS[kind]
    match = _NUMBER_AND_UNIT.fullmatch(str(text))
    named = [unit for unit in units if unit]
    if not match:
        example = f" Write it like 12{named[0]}." if named else ""
        raise Unreadable(kind, f"{what}: cannot read {str(text)[:40]!r} as a number with a unit.{example}")
    number, spelled = match.groups()
    value = float(number.replace(",", ".").replace("−", "-"))
    unit = _unit(spelled, units)
    if unit is None:
        if not spelled:
            raise Unreadable(
                kind, f"{what} is {number!r} without a unit. Write {' or '.join(number + u for u in named[:2])}."
            )
        raise Unreadable(
            kind, f"{what}: {spelled[:20]!r} is not a unit for it. Write one of {', '.join(named)}."
        )
    out = unit.factor * value + unit.offset
    if not math.isfinite(out):
        raise Unreadable(kind, f"{what} is {text[:40]!r}, too large to be held. Check its exponent.")
    return out


def _unit(spelled: str, units: dict[str, Unit]) -> Unit | None:
    if spelled in units:
        return units[spelled]
    return units.get(_SPELLED.get(spelled.lower(), ""), None) if spelled else None


def to_unit(value: float, kind: str, unit: str) -> float:
    """The way back: a number of the house's unit, shown in another.

    >>> round(to_unit(762.0, "film_um", "mil"), 9)
    30.0
    """
    held = UNITS[kind][unit]
    return (value - held.offset) / held.factor
