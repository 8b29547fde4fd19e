"""What may a question about heat say, and what can no gun, no steel and no film honestly be?"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, ValidationInfo, WithJsonSchema, model_validator

from ..basis.errors import BenchError
from ..basis.materials import Metal, Polymer
from ..basis.procedure import Procedure, read_procedure
from ..basis.quantity import Instant, NotThat, Quantity, Word
from ..basis.question import Request, refuse
from ..basis.sentences import say
from .case import Case

_FILM = "A lining is typed in mm: 30 mil are 0.762 mm, 800 µm are 0.8 mm. Check the unit."
_PLATE = "Plate is typed in mm: 1/2 in is 12.7 mm, 500 mil are 12.7 mm. Check the unit."
FilmMm = Annotated[float, Quantity("Lining thickness", "mm", at_least=0.05, at_most=5, next_move=_FILM)]
PlateMm = Annotated[float, Quantity("Plate thickness", "mm", at_least=0.8, at_most=120, next_move=_PLATE)]
RadiusMm = Annotated[float, Quantity("Radius of the part", "mm", at_least=20, at_most=3000,
                                     next_move="Give the radius of the disc that has the heated area's steel, in mm.")]
SpotMm = Annotated[float, Quantity("Diameter of the spot", "mm", at_least=2, at_most=400,
                                   next_move="Spot repairs are typed in mm across; check the unit.")]
PowerW = Annotated[float, Quantity("Gun power", "W", above=50, at_most=20000,
                                   next_move="Power is in W: 2 kW are 2000 W.")]
GunC = Annotated[float, Quantity("Gun air", "°C", above=30, at_most=800, next_move="Air is in °C: 930 °F are 499 °C.")]
OutletMm = Annotated[float, Quantity("Gun outlet", "mm", above=2, at_most=300,
                                     next_move="The outlet's inner diameter in mm; a bare gun has 32 to 35.")]
DistanceMm = Annotated[float, Quantity("Gun distance", "mm", at_least=0, at_most=1000,
                                       next_move="From the outlet to the surface, in mm.")]
FlowLMin = Annotated[float, Quantity("Gun flow", "l/min", above=1, at_most=20000,
                                     next_move="Litres per minute, not per hour.")]
AirC = Annotated[float, Quantity("Air around", "°C", at_least=-45, at_most=60, next_move="Check the unit.")]
PartC = Annotated[float, Quantity("Part at the start", "°C", at_least=-45, at_most=400, next_move="Check the unit.")]
SurfaceC = Annotated[float, Quantity("Temperature", "°C", at_least=-60, at_most=900, next_move="Check the unit.")]
Emissivity = Annotated[float, Quantity("Emissivity", "", at_least=0.02, at_most=1,
                                       next_move="It is a share: 0.95 for polymer or black paint, not 95.")]
FusionC = Annotated[float, Quantity("Coldest bond that fuses", "°C", at_least=60, at_most=450)]
LimitC = Annotated[float, Quantity("Hottest polymer surface", "°C", at_least=60, at_most=600)]
DwellS = Annotated[float, Quantity("Time above fusion", "s", at_least=0, at_most=3600)]
TimeS = Annotated[float, Quantity("Time", "s", at_least=0, at_most=86400, next_move="Seconds from the gun's start.")]
HFactor = Annotated[float, Quantity("Calibration factor of the gun", "", at_least=0.2, at_most=4,
                                    next_move="1 is an uncalibrated gun; a plate test gives it.")]
HDoubt = Annotated[float, Quantity("Doubt of the calibration factor", "", at_least=0.01, at_most=1,
                                   next_move="A share: 0.1 is ten per cent of the factor.")]
HW = Annotated[float, Quantity("Heat transfer coefficient", "W/m²K", above=0, at_most=2000,
                               next_move="Hot-air guns give 30 to 300.")]
HeatedFrom = Literal["front", "back", "both"]
MeltClass = Literal["standard", "low_melt", "high_melt"]
Aim = Literal["polymer", "painted_dot", "ground_steel", "back_contact"]


def _procedure(value: Any, info: ValidationInfo) -> Procedure:
    if isinstance(value, str):
        raise refuse("unreadable", say("heat.procedure_is_text", text=value[:60]))
    try:
        return read_procedure(value, from_record=bool((info.context or {}).get("decimal_strings")))
    except BenchError as bad:
        raise refuse(bad.kind, bad.message) from None


ProcedureRequest = Annotated[
    Any, BeforeValidator(_procedure),
    WithJsonSchema({"type": "object", "description": "A lining procedure, nested as in its file or flat limits alone"}),
]


RADIUS_MM = 150.0
RADIUS_GIVEN, RADIUS_NOT_GIVEN = 0.2, 0.5
"""Width of the logarithm of the radius of the disc that stands for the part, as given and as assumed (own estimate)."""


class Part(Request):
    """The steel: what it is, how thick, and the radius of the disc that stands for the part (``RADIUS_MM`` if not said)."""

    material: Metal = "carbon_steel"
    plate_mm: PlateMm
    radius_mm: RadiusMm | None = None


class Lining(Request):
    """The film: which polymer, how thick; ``melt_class`` where its grades melt apart (ECTFE, ETFE, PVDF copolymer)."""

    polymer: Polymer
    thickness_mm: FilmMm
    melt_class: MeltClass | None = None


class Gun(Request):
    """The gun in its own terms. ``flow_l_min`` is checked against power and air: its label must be possible.

    ``calibration_factor`` and ``calibration_u`` are what a trial of this gun gave, and how sure of it (``heat trial``);
    ``name`` is the shop's, and changes nothing.
    """

    power_w: PowerW
    air_c: GunC
    outlet_mm: OutletMm = 34.0
    distance_mm: DistanceMm = 60.0
    flow_l_min: FlowLMin | None = None
    flow_at: Literal["cold", "hot"] | None = None
    name: Word | None = None
    calibration_factor: HFactor = 1.0
    calibration_u: HDoubt | None = None


class HeatRequest(Request):
    """Part, lining and gun: what will happen under it?"""

    part: Part
    lining: Lining
    gun: Gun
    ambient_c: AirC = 20.0
    part_start_c: PartC = 20.0
    back: Literal["free", "insulated", "second_gun"] = "free"
    spot_d_mm: SpotMm = 30.0
    fusion_c: FusionC | None = None
    surface_limit_c: LimitC | None = None
    procedure: ProcedureRequest | None = None
    charts: bool = False

    def case(self) -> Case:
        """The same as the model's own words; the procedure's limits before the material's values.

        Raises
        ------
        Unknown
            A metal or polymer that is not held.
        """
        held: Procedure = self.procedure or Procedure()
        radius_mm = self.part.radius_mm or RADIUS_MM
        own = {
            "fusion_c": self.fusion_c if self.fusion_c is not None else held.value("fusion_c_min"),
            "surface_limit_c": self.surface_limit_c if self.surface_limit_c is not None
            else held.value("surface_c_max"),
        }
        return Case(
            material=self.part.material, plate_mm=self.part.plate_mm, radius_mm=radius_mm,
            polymer=self.lining.polymer, melt_class=self.lining.melt_class, film_mm=self.lining.thickness_mm,
            power_w=self.gun.power_w, gun_c=self.gun.air_c, outlet_mm=self.gun.outlet_mm,
            distance_mm=max(self.gun.distance_mm, 1.0), flow_l_min=self.gun.flow_l_min, flow_at=self.gun.flow_at,
            h_factor=self.gun.calibration_factor,
            h_doubt=self.gun.calibration_u, radius_doubt=RADIUS_GIVEN if self.part.radius_mm else RADIUS_NOT_GIVEN,
            ambient_c=self.ambient_c, start_c=self.part_start_c, back=self.back,
            spot_d_mm=min(self.spot_d_mm, 1.6 * radius_mm),
            feather_mm=min(held.value("feather_mm", 10.0) or 10.0, 60.0), **own,
        ).checked()


class GlossRule(Request):
    """The numbers of the gloss rule alone."""

    h_w_m2k: HW
    air_c: GunC
    emissivity: Emissivity = 0.9
    melt_c: SurfaceC
    thickness_mm: FilmMm
    k_w_mk: Annotated[float, Quantity("Conductivity of the film", "W/mK", at_least=0.05, at_most=0.7,
                                      next_move="Lining polymers have 0.15 to 0.4.")]
    surroundings_c: AirC = 20.0
    surface_limit_c: LimitC | None = None
    bond_needed_c: FusionC | None = None


class GlossRequest(Request):
    """``{"gloss_rule": {…}}``."""

    gloss_rule: GlossRule


def _band(value: Any, info: ValidationInfo) -> tuple[float, float]:
    rule = Quantity("Wavelength", "um", at_least=0.5, at_most=100, next_move="8 to 14 µm is usual.")
    plain = bool((info.context or {}).get("decimal_strings"))
    if not isinstance(value, (list, tuple)) or len(value) != 2:
        raise refuse("unreadable", say("heat.band_not_a_pair"))
    try:
        low, high = (rule.read(v, decimal_strings=plain) for v in value)
    except NotThat as bad:
        raise refuse(bad.kind, bad.message) from None
    if not high - low >= 0.1:
        raise refuse("contradiction", say("heat.band_falls", low=low, high=high))
    return low, high


Band = Annotated[Any, BeforeValidator(_band),
                 WithJsonSchema({"type": "array", "items": {"type": "number"}, "minItems": 2, "maxItems": 2,
                                 "description": "Band of the instrument [um]"})]


class Infrared(Request):
    """A reading to be corrected, or a true temperature to be foretold."""

    reading_c: SurfaceC | None = None
    true_c: SurfaceC | None = None
    emissivity_set: Emissivity = 0.95
    emissivity_true: Emissivity | None = None
    aimed_at: Aim | None = None
    surroundings_c: SurfaceC = 20.0
    band_um: Band = (8.0, 14.0)


class InfraredRequest(Request):
    """``{"infrared": {…}}``."""

    infrared: Infrared


READINGS_MAX = 200
ROWS_MAX = 5000


class Plan(Request):
    """What the planner may choose, and what the procedure asks beyond its limits."""

    dwell_s: DwellS | None = None
    layers: Annotated[int, Quantity("Layers", "", at_least=1, at_most=24, whole=True)] | None = None
    may_set_air: bool = True
    may_preheat: bool = True
    members: Annotated[int, Quantity("Members of the ensemble", "", at_least=0, at_most=256, whole=True)] = 24


class SeenRequest(Request):
    """One reading while working: seconds from the gun's start, °C as shown, what was aimed at."""

    time_s: TimeS
    reading_c: SurfaceC
    aimed_at: Aim
    emissivity_set: Emissivity = 0.95
    r_mm: Annotated[float, Quantity("Distance from the middle of the spot", "mm", at_least=0, at_most=1000)] | None = None
    gun_on: bool = True


class PlateReading(Request):
    """One reading of the test plate."""

    time_s: TimeS
    reading_c: SurfaceC


class PlateTest(Request):
    """A gun on a test plate: which plate, which gun, the readings of its back or black-painted front."""

    material: Metal = "carbon_steel"
    plate_mm: PlateMm
    side_mm: Annotated[float, Quantity("Side of the test plate", "mm", at_least=40, at_most=600)] = 120.0
    gun: Gun
    ambient_c: AirC = 20.0
    readings: list[PlateReading]


class LogRow(Request):
    """One row of a heat log; ``time_s`` or ``at``."""

    time_s: TimeS | None = None
    at: Instant | None = None
    reading_c: SurfaceC
    aimed_at: Aim
    emissivity_set: Emissivity = 0.95


class Dose(Request):
    """A temperature history of a polymer surface."""

    polymer: Polymer
    times_s: list[TimeS]
    temperatures_c: list[SurfaceC]
    seen_change_dose_s: Annotated[float, Quantity("Dose at an observed colour change", "s", above=0,
                                                  at_most=1e9)] | None = None

    @model_validator(mode="after")
    def _pairs(self) -> Dose:
        if len(self.times_s) != len(self.temperatures_c):
            raise refuse("contradiction", say("heat.times_and_temperatures", times=len(self.times_s),
                                              temperatures=len(self.temperatures_c)))
        if not 2 <= len(self.times_s) <= ROWS_MAX:
            raise refuse("not_enough", say("heat.history_length", n=len(self.times_s), most=ROWS_MAX))
        if self.times_s != sorted(self.times_s):
            raise refuse("contradiction", say("heat.times_unsorted"))
        return self


class GunLabel(Request):
    """A gun's label."""

    power_w: PowerW
    air_c: GunC
    flow_l_min: FlowLMin | None = None
    flow_at: Literal["cold", "hot"] | None = None
    ambient_c: AirC = 20.0
    efficiency: Annotated[float, Quantity("Efficiency", "", at_least=0.3, at_most=1)] = 0.95


class PlanRequest(HeatRequest):
    """Part, lining and gun, and ``"plan": {…}``: which setting passes?"""

    plan: Plan


class LearnRequest(HeatRequest):
    """Part, lining and gun, and the readings taken so far: ``"readings": [{…}]``."""

    readings: list[SeenRequest]
    layers_laid_s: list[TimeS] = []
    dwell_s: DwellS = 60.0
    look_ahead_s: Annotated[float, Quantity("Time to look ahead", "s", at_least=10, at_most=7200)] = 1500.0

    @model_validator(mode="after")
    def _in_order(self) -> LearnRequest:
        if len(self.readings) > READINGS_MAX:
            raise refuse("out_of_range", say("heat.too_many_readings", n=len(self.readings), most=READINGS_MAX))
        times = [one.time_s for one in self.readings]
        if times != sorted(times):
            raise refuse("contradiction", say("heat.readings_unsorted"))
        if self.layers_laid_s != sorted(self.layers_laid_s) or len(self.layers_laid_s) > 24:
            raise refuse("contradiction", say("heat.layers_unsorted"))
        return self


class PlateTestRequest(Request):
    """``{"plate_test": {…}}``: one minute on a known plate gives this gun's heat."""

    plate_test: PlateTest


class LogRequest(Request):
    """``{"log": [rows]}``: the heat log after the work. ``log`` null or empty is answered not_measured.

    ``heated_from``: a probe on the back is a lower bound of the bond line only when all the heat came from the front.
    ``gun`` lets a log of polymer readings alone be judged by the gloss rule.
    """

    log: list[LogRow] | None
    heated_from: HeatedFrom | None = None
    lining: Lining | None = None
    gun: Gun | None = None
    procedure: ProcedureRequest | None = None
    fusion_c: FusionC | None = None
    surface_limit_c: LimitC | None = None
    dwell_s: DwellS | None = None
    ambient_c: AirC = 20.0
    charts: bool = False

    @model_validator(mode="after")
    def _rows(self) -> LogRequest:
        rows = self.log or []
        if len(rows) > ROWS_MAX:
            raise refuse("out_of_range", say("heat.log_too_long", n=len(rows), most=ROWS_MAX))
        for number, row in enumerate(rows, 1):
            if (row.at is None) == (row.time_s is None):
                raise refuse("missing" if row.at is None else "contradiction", say("heat.log_row_time", number=number))
        if len({row.at is None for row in rows}) > 1:
            raise refuse("contradiction", say("heat.log_times_mixed"))
        return self


class DoseRequest(Request):
    """``{"dose": {…}}``: how much has a temperature history aged the film?"""

    dose: Dose


class GunLabelRequest(Request):
    """``{"gun_label": {…}}``: can power, air and flow all be true?"""

    gun_label: GunLabel
