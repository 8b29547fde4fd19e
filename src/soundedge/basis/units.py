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

from .errors import Unreadable
from .sentences import say
from .unit_table import UNITS, Unit

# Other spellings a person types; the case of the letter counts only where two units would collide.
_SPELLED = {"°c": "C", "°f": "F", "c": "C", "f": "F", "k": "K", "µm": "um", "μm": "um", "micron": "um",
            "microns": "um", "mils": "mil", "inch": "in", '"': "in", "v": "V", "kv": "kV", "w": "W",
            "kw": "kW", "kpa": "kPa", "hpa": "hPa", "inhg": "inHg", "mm²": "mm2", "cm²": "cm2", "in²": "in2",
            "m³": "m3", "ft³": "ft3", "litre": "l", "liter": "l", "percent": "%", "degc": "C", "degf": "F"}

_NUMBER = r"[+\-−]?[0-9]+(?:[.,][0-9]+)?(?:[eE][+\-]?[0-9]{1,3})?|[+\-−]?[.,][0-9]+"
_NUMBER_AND_UNIT = re.compile(rf"({_NUMBER})\s*(.*)")


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
    match = _NUMBER_AND_UNIT.fullmatch(str(text).strip())
    named = [unit for unit in units if unit]
    if not match:
        example = say("basis.unit_example", unit=named[0]) if named else ""
        raise Unreadable(kind, say("basis.number_with_unit_unreadable", what=what, text=str(text)[:40], example=example))
    number, spelled = match.groups()
    value = float(number.replace(",", ".").replace("−", "-"))
    unit = _unit(spelled, units)
    if unit is None:
        if not spelled:
            examples = say("basis.either", first=number + named[0], last=number + named[1])
            raise Unreadable(kind, say("basis.number_without_unit", what=what, number=number, examples=examples))
        raise Unreadable(kind, say("basis.unit_unknown", what=what, unit=spelled[:20], known=', '.join(named)))
    out = unit.factor * value + unit.offset
    if not math.isfinite(out):
        raise Unreadable(kind, say("basis.number_with_unit_too_large", what=what, text=text[:40]))
    return out


def _unit(spelled: str, units: dict[str, Unit]) -> Unit | None:
    if spelled in units:
        return units[spelled]
    return units.get(_SPELLED.get(spelled.lower(), ""), None) if spelled else None
