"""What can happen in a job, in the past tense, and what must be written down with it?

A job is the list of its events and nothing else. Each kind has one body; the words are those of the
record and do not change their meaning. Who did it (``by``), when he says it happened (``at``) and the
event's own id stand beside the body.

    air.read        {"air_c": 21.4, "rh_pct": 63, "steel_c": 18.9, "instrument": "H2"}
    layer.fused     {"number": 1, "lot": "P-311"}
    repair.released {"certificate": "KBW-2031-014"}

A later version may add kinds and keys; it never gives an old word a new meaning.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Annotated, Any, Literal

from pydantic import model_validator

from ..basis.errors import BenchError, Unknown
from ..basis.materials import Metal, Polymer
from ..basis.quantity import Instant, Prose, Quantity, Word
from ..basis.question import Request, read, refuse
from ..basis.sentences import say
from ..basis.shape import Circle, CoordinateMm, Ellipse, Outline, SizeMm

AirC = Annotated[float, Quantity("Air temperature", "°C", at_least=-45, at_most=60)]
RhPct = Annotated[
    float,
    Quantity("Relative humidity", "%", above=0, at_most=100,
             next_move="A hygrometer that shows more is wet: dry it and read again."),
]
SteelC = Annotated[float, Quantity("Steel temperature", "°C", at_least=-60, at_most=150)]
FilmC = Annotated[float, Quantity("Film temperature", "°C", at_least=-60, at_most=400)]
AreaMm2 = Annotated[float, Quantity("Area", "mm2", above=0, at_most=1e8)]
FilmUm = Annotated[
    float, Quantity("Film thickness", "um", above=0, at_most=20000, next_move="1 mil is 25.4 µm; check the unit.")
]
PlateMm = Annotated[
    float, Quantity("Plate thickness", "mm", above=0.3, at_most=500, next_move="1 in is 25.4 mm; check the unit.")
]
VoltageV = Annotated[
    float, Quantity("Test voltage", "V", at_least=5, at_most=60000, next_move="Voltages are in V, not kV.")
]
Count = Annotated[int, Quantity("A count", "", at_least=0, at_most=100000, whole=True)]
Percent = Annotated[float, Quantity("A share", "%", at_least=0, at_most=100)]
HOLD_POINTS = ("disposition", "surface", "film", "holiday")
Zone = Literal["repair", "overlap", "parent"]
HoldPoint = Literal["disposition", "surface", "film", "holiday"]
Role = Literal["technician", "inspector", "engineer", "manager", "auditor"]


class JobOpened(Request):
    """The job: its number, whose it is, and the procedure it is done under, whole, as it stood that day."""

    number: Word
    site: Word
    customer: Word | None = None
    note: Prose | None = None
    procedure: dict[str, Any]
    procedure_sha256: Word


class KeepOut(Request):
    """A surface where no repair is allowed, as an outline on the part."""

    kind: Literal["sealing_face", "edge", "radius", "weld", "seat"]
    shape_mm: Outline


class PartIdentified(Request):
    """The part: what it is, of which metal, how thick, how much of it is lined, where not to repair."""

    name: Word
    tag: Word
    drawing: Word | None = None
    material: Metal
    plate_mm: PlateMm
    radius_mm: SizeMm = 150.0
    lined_area_mm2: AreaMm2
    keep_out: list[KeepOut] = []
    last_service: Prose | None = None
    decontamination: Prose | None = None


class LiningIdentified(Request):
    """The lining as it is: polymer, thickness, grade, and how it was applied."""

    polymer: Polymer
    thickness_um: FilmUm
    grade: Word | None = None
    applied: Prose | None = None
    conductive_filler: bool = False
    immersed: bool = False


class PersonNamed(Request):
    """A person: name, role, and what he is qualified for until when: polymers, and the plates on which he fuses."""

    id: Word
    name: Word
    role: Role
    qualified_until: Instant | None = None
    qualified_for: list[Polymer] = []
    qualified_plate_mm_min: PlateMm | None = None
    qualified_plate_mm_max: PlateMm | None = None
    certificate: Word | None = None

    @model_validator(mode="after")
    def _a_range(self) -> PersonNamed:
        least, most = self.qualified_plate_mm_min, self.qualified_plate_mm_max
        if least is not None and most is not None and least > most:
            raise refuse("contradiction", say("job.qualified_plates_least_most", name=self.name, least=least, most=most))
        return self

    def fuses_on(self, plate_mm: float) -> bool:
        """Whether his qualification covers a plate; a bound that it does not name bounds nothing."""
        least, most = self.qualified_plate_mm_min, self.qualified_plate_mm_max
        return (least is None or plate_mm >= least) and (most is None or plate_mm <= most)

    @property
    def plates(self) -> str:
        """The plates of his qualification in words, empty when it names none."""
        least, most = self.qualified_plate_mm_min, self.qualified_plate_mm_max
        if least is None:
            return f"up to {most:g} mm" if most is not None else ""
        return f"from {least:g} mm" + (f" to {most:g} mm" if most is not None else "")


class InstrumentListed(Request):
    """An instrument with its calibration. ``tol_pct`` and ``tol`` are half-widths; ``tol`` in its own unit."""

    id: Word
    kind: Literal["film_gauge", "air_meter", "steel_probe", "infrared", "holiday_detector", "salt_meter",
                  "vapour_meter", "profile_gauge", "other"]
    calibrated_on: Instant
    calibration_due: Instant
    certificate: Word | None = None
    tol_pct: Annotated[float, Quantity("Tolerance", "%", at_least=0, at_most=50)] = 0.0
    tol: Annotated[float, Quantity("Tolerance", "", at_least=0, at_most=10000)] = 0.0

    @model_validator(mode="after")
    def _due_after(self) -> InstrumentListed:
        if self.calibration_due <= self.calibrated_on:
            raise refuse("contradiction", say("job.instrument_due_before_calibrated", name=self.id))
        return self


class LotReceived(Request):
    """A material lot: powder, solvent, abrasive."""

    id: Word
    kind: Literal["powder", "primer", "solvent", "abrasive"]
    polymer: Polymer | None = None
    expires: Instant
    opened_on: Instant | None = None


class RepairRecalled(Request):
    """An earlier repair of this part: where and how long ago."""

    job: Word
    x: CoordinateMm
    y: CoordinateMm
    d: SizeMm
    months_ago: Annotated[float, Quantity("Age of the earlier repair", "months", at_least=0, at_most=1200)]


class DamageOutlined(Request):
    """Damage as found or as prepared: its shape on the part, with the uncertainty of its area.

    Exactly one of outline, circle, ellipse. From a photo, ``survey`` keeps the room's answer and
    ``photo_sha256`` the original picture.
    """

    id: Word
    stage: Literal["as_found", "as_prepared"]
    kind: Literal["chip", "crack", "blister", "lifted_edge", "corrosion"] = "chip"
    outline_mm: Outline | None = None
    circle_mm: Circle | None = None
    ellipse_mm: Ellipse | None = None
    u_area_mm2: Annotated[float, Quantity("Standard uncertainty of the area", "mm2", at_least=0, at_most=1e6)] = 0.0
    through: bool = True
    pit_depth_mm: Annotated[float, Quantity("Pit depth", "mm", at_least=0, at_most=100)] | None = 0.0
    measured: Literal["typed", "photo"] = "typed"
    photo: Word | None = None
    photo_sha256: Word | None = None
    survey: dict[str, Any] | None = None

    @model_validator(mode="after")
    def _one_shape(self) -> DamageOutlined:
        given = [s for s in (self.outline_mm, self.circle_mm, self.ellipse_mm) if s is not None]
        if len(given) != 1:
            raise refuse(
                "contradiction" if given else "missing",
                say("job.damage_shapes", name=self.id, n=len(given)),
            )
        return self


class SurveyRefused(Request):
    """A photo that could not be measured: which checks refused it. No number is kept from it."""

    id: Word
    stage: Literal["as_found", "as_prepared"]
    photo: Word
    photo_sha256: Word
    refused: list[dict[str, Any]]


class PictureTaken(Request):
    """A photo that only shows: caption and digest."""

    file: Word
    sha256: Word
    caption: Prose


class AirRead(Request):
    """Air, humidity and steel at one moment."""

    air_c: AirC
    rh_pct: RhPct
    steel_c: SteelC
    instrument: Word | None = None


class SolventUsed(Request):
    """Solvent wiped in or near the part: how much, in what space."""

    solvent: Word
    ml: Annotated[float, Quantity("Solvent", "ml", above=0, at_most=100000)]
    space_l: Annotated[float, Quantity("Space", "l", above=0, at_most=1e7)]
    air_c: AirC = 20.0
    air_changes_per_h: Annotated[float, Quantity("Air changes", "1/h", at_least=0, at_most=1000)] = 0.0
    mixing_factor: Annotated[float, Quantity("Mixing factor", "", at_least=1, at_most=20)] = 3.0


class VapourRead(Request):
    """What the flammable-gas meter showed before heat was switched on."""

    lel_pct: Percent
    instrument: Word | None = None


class PermitIssued(Request):
    """The hot-work permit: number and end."""

    number: Word
    until: Instant


class HotWorkEnded(Request):
    """Last heat; the fire watch starts here."""

    fire_watch_until: Instant
    watched_by: Word


class SurfacePrepared(Request):
    """Ground and feathered back to the sound edge; the clock to the first layer starts here."""

    method: Prose


class SurfaceChecked(Request):
    """What the prepared steel measured. What was not measured is left out."""

    profile_um: Annotated[float, Quantity("Profile", "um", at_least=0, at_most=1000)] | None = None
    salts_mg_m2: Annotated[float, Quantity("Soluble salts", "mg/m2", at_least=0, at_most=100000)] | None = None
    salt_us_cm: Annotated[float, Quantity("Conductivity rise", "µS/cm", at_least=0, at_most=100000)] | None = None
    salt_water_ml: Annotated[float, Quantity("Extraction water", "ml", above=0, at_most=1000)] | None = None
    dust_rating: Annotated[int, Quantity("Dust rating", "", at_least=0, at_most=5, whole=True)] | None = None
    dust_size: Annotated[int, Quantity("Dust size class", "", at_least=0, at_most=5, whole=True)] | None = None
    instrument: Word | None = None


class Gun(Request):
    """A hot-air gun in its own terms."""

    power_w: Annotated[float, Quantity("Gun power", "W", above=50, at_most=20000)]
    air_c: Annotated[float, Quantity("Gun air", "°C", above=30, at_most=800)]
    outlet_mm: Annotated[float, Quantity("Gun outlet", "mm", above=2, at_most=300)]
    distance_mm: Annotated[float, Quantity("Gun distance", "mm", at_least=0, at_most=1000)]


class HeatPlanned(Request):
    """The heat plan before the first layer."""

    gun: Gun
    back: Literal["free", "insulated", "second_gun"] = "free"
    part_start_c: Annotated[float, Quantity("Part at the start", "°C", at_least=-45, at_most=400)] = 20.0
    ambient_c: AirC = 20.0


class HeatReading(Request):
    """One line of the heat log."""

    time_s: Annotated[float, Quantity("Time", "s", at_least=0, at_most=86400)]
    reading_c: Annotated[float, Quantity("Reading", "°C", at_least=-60, at_most=900)]
    aimed_at: Literal["polymer", "painted_dot", "ground_steel", "back_contact"]
    emissivity_set: Annotated[float, Quantity("Emissivity set", "", above=0.01, at_most=1)] = 0.95


class HeatLogged(Request):
    """What the pyrometer or probe showed while the layers were fused."""

    readings: list[HeatReading]
    file: Word | None = None
    instrument: Word | None = None


class LayerFused(Request):
    """One layer, melted through before the next."""

    number: Annotated[int, Quantity("Layer number", "", at_least=1, at_most=200, whole=True)]
    lot: Word
    remark: Prose | None = None


class FilmCooled(Request):
    """The film's own temperature before anybody measures it."""

    film_c: FilmC
    instrument: Word | None = None


class GaugeChecked(Request):
    """A film gauge on a shim of known thickness."""

    instrument: Word
    reference_um: FilmUm
    reading_um: Annotated[float, Quantity("Gauge reading", "um", at_least=0, at_most=50000)]


class Spot(Request):
    """Gauge readings at one spot, as shown by the gauge."""

    id: Word
    readings_um: list[Annotated[float, Quantity("Gauge reading", "um", above=-1000, at_most=50000)]]
    where: Literal["repair", "overlap", "parent"] = "repair"
    x: CoordinateMm | None = None
    y: CoordinateMm | None = None


class Correction(Request):
    """What is taken off every reading: for the base metal or the profile, never both."""

    kind: Literal["none", "base_metal_reading", "profile"] = "none"
    value_um: Annotated[float, Quantity("Correction", "um", at_least=0, at_most=1000)] = 0.0
    u_um: Annotated[float, Quantity("Uncertainty of the correction", "um", at_least=0, at_most=1000)] = 0.0


class FilmMeasured(Request):
    """Film thickness: every reading, by spot. ``set_aside`` keeps lines of the file that could not be read."""

    instrument: Word
    spots: list[Spot]
    correction: Correction = Correction()
    file: Word | None = None
    set_aside: list[Prose] = []

    @model_validator(mode="after")
    def _some(self) -> FilmMeasured:
        if not self.spots or not any(spot.readings_um for spot in self.spots):
            raise refuse("not_enough", say("job.film_measured_spot"))
        return self


class Holiday(Request):
    """A place where the test found a hole."""

    x: CoordinateMm
    y: CoordinateMm
    zone: Zone | None = None
    remark: Prose | None = None


class HolidayTested(Request):
    """A high-voltage (or wet-sponge) test: voltage at the electrode, what proved the setting, what was found.

    ``zones`` are the zones it went over; all that were measured when left out. Zones at other voltages are tests
    of their own.
    """

    instrument: Word
    voltage_v: VoltageV
    verified_v: VoltageV | None = None
    electrode: Literal["wire_brush", "conductive_rubber", "spring", "wet_sponge"] = "wire_brush"
    grounded: bool
    coupon_um: FilmUm | None = None
    coupon_hole_found: bool | None = None
    travel_m_s: Annotated[float, Quantity("Electrode travel", "m/s", above=0, at_most=10)] | None = None
    passes: Annotated[int, Quantity("Passes", "", at_least=1, at_most=100, whole=True)] = 1
    air_c: AirC = 20.0
    kpa: Annotated[float, Quantity("Air pressure", "kPa", at_least=50, at_most=110)] = 101.325
    covered_pct: Percent = 100.0
    wet: bool = False
    zones: list[Zone] = []
    holidays: list[Holiday] = []


class EscalationDecided(Request):
    """The engineer's answer when the procedure does not allow the repair as it stands."""

    decision: Literal["repair_as_instructed", "strip_and_reline", "scrap"]
    because: Prose
    instruction: Prose | None = None


class HoldPointSigned(Request):
    """A hold point, signed by a person for what he reviewed."""

    hold_point: HoldPoint
    meaning: Prose


class EntryCorrected(Request):
    """A value that was wrong when it was written: the old value stays, the new one counts from now on."""

    entry: Word
    field: Word
    old: Any
    new: Any
    because: Prose


class EntryVoided(Request):
    """An entry that must not count, with the reason. It stays in the record and is printed."""

    entry: Word
    because: Prose


class ReleaseSigned(Request):
    """A person asks for release and says what it means."""

    meaning: Prose


class JobJudged(Request):
    """What the rules made of the job: the word, and every rule that holds it. Written by the bench, not typed."""

    certificate: Word
    verdict: Literal["released", "held", "engineering_review", "rejected"]
    blocked_by: list[Word] = []
    supersedes: Word | None = None


class CertificateIssued(Request):
    """A finished page: the digest of its PDF and of the record it carries. Written by the bench, not typed."""

    certificate: Word
    pdf_sha256: Word
    record_sha256: Word


KINDS: dict[str, type[Request]] = {
    "job.opened": JobOpened,
    "part.identified": PartIdentified,
    "lining.identified": LiningIdentified,
    "person.named": PersonNamed,
    "instrument.listed": InstrumentListed,
    "lot.received": LotReceived,
    "repair.recalled": RepairRecalled,
    "damage.outlined": DamageOutlined,
    "survey.refused": SurveyRefused,
    "picture.taken": PictureTaken,
    "air.read": AirRead,
    "solvent.used": SolventUsed,
    "vapour.read": VapourRead,
    "permit.issued": PermitIssued,
    "surface.prepared": SurfacePrepared,
    "surface.checked": SurfaceChecked,
    "heat.planned": HeatPlanned,
    "heat.logged": HeatLogged,
    "layer.fused": LayerFused,
    "hot_work.ended": HotWorkEnded,
    "film.cooled": FilmCooled,
    "gauge.checked": GaugeChecked,
    "film.measured": FilmMeasured,
    "holiday.tested": HolidayTested,
    "escalation.decided": EscalationDecided,
    "hold_point.signed": HoldPointSigned,
    "entry.corrected": EntryCorrected,
    "entry.voided": EntryVoided,
    "release.signed": ReleaseSigned,
    "job.judged": JobJudged,
    "certificate.issued": CertificateIssued,
}

# What the bench itself writes down; it changes nothing of the job.
BENCH_KINDS = ("job.judged", "certificate.issued")

# Steps that are repair work: whoever does one of them does not release the job.
REPAIR_STEPS = ("surface.prepared", "layer.fused", "heat.logged", "hot_work.ended")


@dataclass(frozen=True)
class Event:
    """One event: its id within the job, kind, who, when he says it happened, and the body."""

    id: str
    kind: str
    by: str
    at: datetime
    body: Any


def body_of(kind: str, raw: Any, *, where: str = "", from_record: bool = False) -> Any:
    """Read the body of one kind strictly.

    Raises
    ------
    BenchError
        With ``where`` put before the field, so that a person finds the line he typed.
    """
    if kind not in KINDS:
        raise Unknown(where or "kind", say("job.kind_event", kind=str(kind)[:60], kinds=', '.join(KINDS)))
    try:
        return read(KINDS[kind], raw, from_record=from_record)
    except BenchError as fault:
        fault.field = ".".join(part for part in (where, fault.field) if part)
        raise
