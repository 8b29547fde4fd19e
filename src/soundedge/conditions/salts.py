"""Soluble salts: what does a rise in conductivity say about the steel, and was it really 15 ml of water?

The factor depends on the water volume. Taking 3 ml for 15 ml (or the reverse) puts the result off by a factor of five.

>>> found = salts(rise_us_cm=6, volume_ml=15, area_mm2=1250)
>>> round(found.mg_m2, 1), round(found.factor, 2)
(36.0, 6.0)
>>> check_stated(7.2, rise_us_cm=6, volume_ml=15, area_mm2=1250)
'7.2 mg/m² does not follow from 6 µS/cm in 15 ml on 1250 mm² (36 mg/m²). It is what 3 ml would give: \
the factor of the wrong water volume was used, five times too low.'
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Species = Literal["sodium_chloride", "mixed_salts", "chloride"]

# mg of salt in a litre of water for each µS/cm. ISO 8502-9 (1998): 5 kg/(m²·S), which is 0.5 mg/l; the others
# from a lining applicator's sheet: 6 µS/cm is 36 mg/m² as NaCl, 30 as mixed salts, 21.6 as chloride.
MG_L_PER_US_CM: dict[str, float] = {"sodium_chloride": 0.5, "mixed_salts": 30 / 72, "chloride": 0.3}
SOURCE: dict[str, str] = {"sodium_chloride": "iso_8502_9", "mixed_salts": "salts_sheet", "chloride": "salts_sheet"}
VOLUMES_ML = (15.0, 3.0)
AGREES_WITHIN = 0.10


@dataclass(frozen=True)
class Salts:
    """Salts per area and the factor that led there. [mg/m²], [mg/m² per µS/cm]"""

    mg_m2: float
    factor: float
    species: str


def salts(rise_us_cm: float, volume_ml: float, area_mm2: float, species: Species = "sodium_chloride") -> Salts:
    """Salts per area from the rise in conductivity of the extraction water.

    Parameters
    ----------
    rise_us_cm : float
        Conductivity after extraction less that of the clean water, at least 0. [µS/cm]
    volume_ml : float
        Extraction water, above 0. [ml]
    area_mm2 : float
        Area under the patch, above 0. [mm²]
    species : str
        What the result is expressed as.

    Returns
    -------
    Salts

    Notes
    -----
    m/A = c·V·Δγ/A. With c = 0.5 mg/l per µS/cm, V = 15 ml, A = 1250 mm² the factor is 6 mg/m² per µS/cm,
    with 3 ml it is 1.2. Sources: see ``MG_L_PER_US_CM``. Field factors of 5 to 6 (15 ml) are in use.
    """
    factor = MG_L_PER_US_CM[species] * (volume_ml / 1000.0) / (area_mm2 * 1e-6)
    return Salts(factor * rise_us_cm, factor, species)


def check_stated(
    stated_mg_m2: float, rise_us_cm: float, volume_ml: float, area_mm2: float, species: Species = "sodium_chloride"
) -> str | None:
    """What is wrong with a stated result, or None when it follows from volume and conductivity within 10 %."""
    own = salts(rise_us_cm, volume_ml, area_mm2, species).mg_m2
    if _agree(stated_mg_m2, own):
        return None
    line = (
        f"{stated_mg_m2:g} mg/m² does not follow from {rise_us_cm:g} µS/cm in {volume_ml:g} ml on {area_mm2:g} mm² "
        f"({own:.3g} mg/m²)."
    )
    for other in VOLUMES_ML:
        if other != volume_ml and _agree(stated_mg_m2, salts(rise_us_cm, other, area_mm2, species).mg_m2):
            side = "too low" if other < volume_ml else "too high"
            times = "five times" if {other, volume_ml} == {3.0, 15.0} else f"{_ratio(other, volume_ml):.2g} times"
            return f"{line} It is what {other:g} ml would give: the factor of the wrong water volume was used, {times} {side}."
    for name in MG_L_PER_US_CM:
        if name != species and _agree(stated_mg_m2, salts(rise_us_cm, volume_ml, area_mm2, name).mg_m2):  # type: ignore[arg-type]
            return f"{line} It is that result expressed as {name.replace('_', ' ')}; say which one the limit means."
    if _agree(stated_mg_m2 * 10.0, own):
        return f"{line} It looks like µg/cm²: 1 µg/cm² is 10 mg/m²."
    return f"{line} Check the reading, the blank and the factor."


def _agree(stated: float, own: float) -> bool:
    return abs(stated - own) <= AGREES_WITHIN * max(abs(own), 1e-9)


def _ratio(a: float, b: float) -> float:
    return max(a, b) / min(a, b)
