"""What are the figures for this solvent, and who says so?

>>> acetone = solvent("acetone")
>>> acetone.value("lel_pct"), acetone.held("lel_pct").source
(2.5, 'iec_60079_20_1')
>>> solvent("thinner")
Traceback (most recent call last):
    ...
soundedge.basis.errors.Unknown: There is no solvent 'thinner'. Held: acetone, ethanol, ethyl_acetate, isopropanol, \
mek, n_heptane, toluene, xylene. A mixture or a trade name goes by its safety data sheet, not by a guess.
"""

from __future__ import annotations

import math
import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from ..basis.errors import OutOfRange, Unknown
from ..basis.materials import Value
from ..basis.sentences import say
from ..basis.sources import sources

_FILE = Path(__file__).with_name("solvents.toml")

# The widest range any shop solvent can have: a fence against a slipped decimal, not a tolerance.
FENCES: dict[str, tuple[float, float]] = {
    "molar_mass_g_mol": (30.0, 250.0),
    "density_kg_m3": (600.0, 1700.0),
    "lel_pct": (0.5, 8.0),
    "uel_pct": (4.0, 40.0),
    "flash_c": (-50.0, 100.0),
    "autoignition_c": (180.0, 650.0),
    "vapour_pressure_0_kpa": (0.005, 60.0),
    "vapour_pressure_40_kpa": (0.05, 101.0),
    "exposure_twa_ppm": (0.5, 2000.0),
    "idlh_ppm": (50.0, 10000.0),
}
NEEDED = ("molar_mass_g_mol", "density_kg_m3", "lel_pct", "uel_pct", "flash_c", "autoignition_c",
          "vapour_pressure_0_kpa", "vapour_pressure_40_kpa", "exposure_twa_ppm")
ZERO_C, FORTY_C, KELVIN = 273.15, 313.15, 273.15


@dataclass(frozen=True)
class Solvent:
    """A solvent by key: its values by property name with the unit in the name."""

    key: str
    name: str
    formula: str
    also: tuple[str, ...]
    values: dict[str, Value]

    def value(self, what: str) -> float:
        """The number alone; Unknown when this solvent does not hold it."""
        return self.held(what).value

    def held(self, what: str) -> Value:
        """The value with its source; Unknown when this solvent does not hold it."""
        if what not in self.values:
            raise Unknown(what, say("hazards.property_unknown", property=what, solvent=self.name))
        return self.values[what]

    def vapour_pressure_kpa(self, temperature_c: float) -> float:
        """Saturation pressure of the solvent's vapour: ln p straight in 1/T through 0 and 40 °C. [kPa]

        Within 4 % of the handbook between −10 and 50 °C (``tests/hazards/test_solvents.py``).
        """
        cold, warm = self.value("vapour_pressure_0_kpa"), self.value("vapour_pressure_40_kpa")
        share = (1 / ZERO_C - 1 / (temperature_c + KELVIN)) / (1 / ZERO_C - 1 / FORTY_C)
        return cold * math.exp(share * math.log(warm / cold))


@cache
def solvents() -> dict[str, Solvent]:
    """All solvents by key."""
    return load_solvents(_FILE.read_text(encoding="utf-8"))


def solvent(key: str) -> Solvent:
    """One solvent by its key or one of its other names, letter for letter but for case and spaces; no nearest guess."""
    wanted = str(key).strip().lower().replace(" ", "_")
    held = solvents()
    for one in held.values():
        if wanted == one.key or wanted in one.also:
            return one
    raise Unknown("solvent", say("hazards.solvent_unknown", key=str(key)[:40], known=', '.join(sorted(held))))


def load_solvents(text: str) -> dict[str, Solvent]:
    """Read a solvents file.

    Raises
    ------
    Unknown
        A value without source, a source that sources.toml does not hold, an unknown property, a needed one missing.
    OutOfRange
        A value outside the fence of its property.
    """
    held: dict[str, Solvent] = {}
    for key, entry in tomllib.loads(text).items():
        values = {
            what: _value(key, what, given) for what, given in entry.items() if what not in ("name", "also", "formula")
        }
        for what in NEEDED:
            if what not in values:
                raise Unknown(f"{key}.{what}", say("hazards.solvent_property_missing", key=key, property=what))
        if not values["lel_pct"].value < values["uel_pct"].value:
            raise OutOfRange(f"{key}.uel_pct", say("hazards.solvent_limits_crossed", key=key))
        held[key] = Solvent(key, entry.get("name", key), entry.get("formula", ""), tuple(entry.get("also", ())), values)
    return held


def _value(key: str, what: str, given: Any) -> Value:
    spot = f"{key}.{what}"
    if what not in FENCES:
        raise Unknown(spot, say("basis.property_not_known", spot=spot, property=what))
    if not isinstance(given, dict) or "value" not in given:
        raise Unknown(spot, say("hazards.property_without_value", spot=spot))
    if not given.get("source"):
        raise Unknown(spot, say("basis.value_without_source", spot=spot))
    if given["source"] not in sources():
        raise Unknown(spot, say("basis.source_not_in_file", spot=spot, source=given['source']))
    unknown = sorted(set(given) - {"value", "source", "at", "note", "low", "high", "read"})
    if unknown:
        raise Unknown(spot, say("basis.keys_unknown", spot=spot, unknown=', '.join(unknown)))
    low, high = FENCES[what]
    for part in ("value", "low", "high"):
        number = given.get(part, given["value"])
        if isinstance(number, bool) or not isinstance(number, (int, float)) or not low <= number <= high:
            raise OutOfRange(spot, say("hazards.property_out_of_range", spot=spot, number=number, low=low, high=high))
    read = given.get("read", sources()[given["source"]].read)
    return Value(
        float(given["value"]), given["source"], read, "", given.get("at", ""), given.get("note", ""),
        given.get("low"), given.get("high"),
    )
