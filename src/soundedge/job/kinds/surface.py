"""Air and steel over time, and the steel as it was prepared and checked."""

from __future__ import annotations

from typing import Annotated

from ...basis.quantity import Prose, Quantity, Word, shown
from ...basis.question import Request
from .kind import LOOKING, TECHNICIAN, Kind, of_repair
from .values import AirC, RhPct, SteelC


class AirRead(Request):
    """Air, humidity and steel at one moment."""

    air_c: AirC
    rh_pct: RhPct
    steel_c: SteelC
    instrument: Word | None = None
    confirmed: Prose | None = None


class SurfacePrepared(Request):
    """Ground and feathered back to the sound edge; the clock to the first layer starts here."""

    method: Prose
    repair: Word | None = None


class SurfaceChecked(Request):
    """What the prepared steel measured. What was not measured is left out."""

    repair: Word | None = None
    profile_um: Annotated[float, Quantity("Profile", "um", at_least=0, at_most=1000)] | None = None
    salts_mg_m2: Annotated[float, Quantity("Soluble salts", "mg/m2", at_least=0, at_most=100000)] | None = None
    salt_us_cm: Annotated[float, Quantity("Conductivity rise", "µS/cm", at_least=0, at_most=100000)] | None = None
    salt_water_ml: Annotated[float, Quantity("Extraction water", "ml", above=0, at_most=1000)] | None = None
    dust_rating: Annotated[int, Quantity("Dust rating", "", at_least=0, at_most=5, whole=True)] | None = None
    dust_size: Annotated[int, Quantity("Dust size class", "", at_least=0, at_most=5, whole=True)] | None = None
    instrument: Word | None = None


def _checked(body: SurfaceChecked) -> str:
    values = [("profile", body.profile_um, "µm"), ("salts", body.salts_mg_m2, "mg/m²"), ("dust rating", body.dust_rating, ""),
              ("dust size", body.dust_size, "")]
    extract = [f"{shown(value)} {unit}" for value, unit in ((body.salt_us_cm, "µS/cm"), (body.salt_water_ml, "ml water"))
               if value is not None]
    said = [f"{name} {shown(value)} {unit}".strip() if value is not None else f"{name} not measured"
            for name, value, unit in values if value is not None or name != "salts" or not extract]
    return of_repair(body) + ", ".join(said + (["salt extract " + " in ".join(extract)] if extract else []))


KINDS = (
    Kind("air.read", AirRead, "Air and steel read",
         lambda b: f"air {shown(b.air_c)} °C, humidity {shown(b.rh_pct)} %, steel {shown(b.steel_c)} °C",
         section="air", step="conditions", roles=LOOKING, measured_with=("air_meter", "steel_probe"), box="1a"),
    Kind("surface.prepared", SurfacePrepared, "Surface prepared", lambda b: of_repair(b) + b.method,
         section="prepared",
         act="grind", step="conditions", roles=frozenset({TECHNICIAN}), repair=True, covered_by="surface", box="3b"),
    Kind("surface.checked", SurfaceChecked, "Surface checked", _checked,
         section="surface", step="conditions", roles=LOOKING, covered_by="surface",
         measured_with=("salt_meter", "profile_gauge"), box="3c"),
)
