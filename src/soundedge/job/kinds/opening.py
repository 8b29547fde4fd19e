"""What stands at the head of a job: the part, its lining, people, instruments, lots, earlier repairs."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import SerializerFunctionWrapHandler, ValidationInfo, model_serializer, model_validator

from ...basis.materials import Metal, Polymer
from ...basis.quantity import Instant, Prose, Quantity, Word
from ...basis.question import Request, refuse
from ...basis.sentences import say
from ...basis.shape import CoordinateMm, SizeMm
from ...disposition.given import KeepOutRequest
from ...disposition.place import BoreMm, InnerMm, OuterMm, check_part
from .kind import ELSEWHERE, EVERYBODY, Kind
from .values import AreaMm2, Edition, FilmUm, PlateMm, Role


class JobOpened(Request):
    """The job: its number, whose it is, and the complete procedure it is done under, as of that day.

    ``rules`` is the edition of the rules it was opened under, 1 when left out; ``program`` the version that wrote it. The bench
    writes both (job/edition.py); nobody types them.
    """

    number: Word
    site: Word
    customer: Word | None = None
    note: Prose | None = None
    procedure: dict[str, Any]
    procedure_sha256: Word
    rules: Edition | None = None
    program: Word | None = None


class KeepOut(KeepOutRequest):
    """A surface or a line where no repair is allowed. A record keeps only what was said of it: a plain outline is written as it
    always was."""

    @model_serializer(mode="wrap")
    def _as_said(self, plain: SerializerFunctionWrapHandler) -> dict[str, Any]:
        said: dict[str, Any] = plain(self)
        return {key: value for key, value in said.items() if (key, value) not in (("holes_mm", []), ("drawn_as", "area"))}


class PartIdentified(Request):
    """The part: what it is, of which metal, how thick, how much of it is lined, where not to repair. ``radius_mm``: of the
    disc of steel that is heated along; a larger one takes the heat away. For places of damage: ``bore_d_mm`` makes it a bore,
    the two radii a ring; ``datum`` says what 12 o'clock, 0° and length 0 are."""

    name: Word
    tag: Word
    drawing: Word | None = None
    material: Metal
    plate_mm: PlateMm
    radius_mm: SizeMm | None = None
    lined_area_mm2: AreaMm2
    keep_out: list[KeepOut] = []
    bore_d_mm: BoreMm | None = None
    ring_inner_r_mm: InnerMm | None = None
    ring_outer_r_mm: OuterMm | None = None
    datum: Prose | None = None
    service: Literal["never", "dry", "in_contact", "immersed", "unknown"] | None = None
    service_stated_by: Word | None = None
    last_service: Prose | None = None
    last_contact: Instant | None = None
    decontamination: Prose | None = None
    confirmed: Prose | None = None

    @model_validator(mode="after")
    def _bore_or_ring(self) -> PartIdentified:
        check_part(self)
        return self


class LiningIdentified(Request):
    """The lining as it is: polymer, thickness, grade, which melting class of it, and how it was applied.

    What nobody said of filler or service is left out. ``bonded_sheet``: where sheet is glued on the part, of what; it bears
    ``bonded_c_max``, or what glued sheet usually bears.
    """

    polymer: Polymer
    thickness_um: FilmUm
    grade: Word | None = None
    melt_class: Literal["standard", "low_melt", "high_melt"] | None = None
    applied: Prose | None = None
    conductive_filler: bool | None = None
    immersed: bool | None = None
    primer: Prose | None = None
    bonded_sheet: Prose | None = None
    bonded_c_max: Annotated[float, Quantity("Bonded sheet may be heated to", "°C", at_least=0, at_most=400)] | None = None


class PersonNamed(Request):
    """A person: name, role, and qualification: until when, for which polymers, and on which plates they fuse."""

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
            raise refuse("contradiction", say("job.qualification_range_crossed", person=self.name, least_mm=least,
                                              most_mm=most))
        return self

    def fuses_on(self, plate_mm: float) -> bool:
        """Whether their qualification covers a plate; a bound it does not name is no limit."""
        least, most = self.qualified_plate_mm_min, self.qualified_plate_mm_max
        return (least is None or plate_mm >= least) and (most is None or plate_mm <= most)

    @property
    def plates(self) -> str:
        """The plates their qualification covers, in words; empty when it names none."""
        least, most = self.qualified_plate_mm_min, self.qualified_plate_mm_max
        if least is None:
            return f"up to {most:g} mm" if most is not None else ""
        return f"from {least:g} mm" + (f" to {most:g} mm" if most is not None else "")


class InstrumentListed(Request):
    """An instrument with its calibration. ``tol_pct`` and ``tol`` are half-widths; ``tol`` in its own unit.

    ``foot_mm``: diameter of a film gauge's foot; a cut narrower than two of it is bridged."""

    id: Word
    kind: Literal["film_gauge", "air_meter", "steel_probe", "infrared", "holiday_detector", "salt_meter",
                  "vapour_meter", "profile_gauge", "other"]
    calibrated_on: Instant
    calibration_due: Instant
    certificate: Word | None = None
    tol_pct: Annotated[float, Quantity("Tolerance", "%", at_least=0, at_most=50)] = 0.0
    tol: Annotated[float, Quantity("Tolerance", "", at_least=0, at_most=10000)] = 0.0
    foot_mm: Annotated[float, Quantity("Diameter of the foot", "mm", above=0, at_most=100)] | None = None

    @model_validator(mode="after")
    def _due_after(self) -> InstrumentListed:
        if self.calibration_due <= self.calibrated_on:
            raise refuse("contradiction", say("job.instrument_due_before_calibration", instrument=self.id))
        return self


class LotReceived(Request):
    """A material lot: powder, solvent, abrasive."""

    id: Word
    kind: Literal["powder", "primer", "solvent", "abrasive"]
    polymer: Polymer | None = None
    expires: Instant
    opened_on: Instant | None = None

    @model_validator(mode="after")
    def _opened_in_date(self, info: ValidationInfo) -> LotReceived:
        record = bool((info.context or {}).get("decimal_strings"))
        if not record and self.opened_on is not None and self.opened_on > self.expires:
            raise refuse("contradiction", say("job.lot_opened_after_expiry", lot=self.id, opened=f"{self.opened_on:%Y-%m-%d}",
                                              expires=f"{self.expires:%Y-%m-%d}"))
        return self


class RepairRecalled(Request):
    """An earlier repair of this part: where and how long ago."""

    job: Word
    x: CoordinateMm
    y: CoordinateMm
    d: SizeMm
    months_ago: Annotated[float, Quantity("Age of the earlier repair", "months", at_least=0, at_most=1200)]


_EVERY_JOB = say("kinds.every_job_has_it")
_LISTED = say("kinds.listed_in_register")

KINDS = (
    Kind("job.opened", JobOpened, "Job opened", ELSEWHERE, section="job", many=False, acted=False, not_voided=_EVERY_JOB),
    Kind("person.named", PersonNamed, "Person named", ELSEWHERE, section="person", acted=False, listed=True,
         not_corrected=_LISTED, not_voided=_LISTED),
    Kind("part.identified", PartIdentified, "Part identified", ELSEWHERE, section="part", many=False, acted=False,
         not_voided=_EVERY_JOB),
    Kind("lining.identified", LiningIdentified, "Lining identified", ELSEWHERE, section="lining", many=False, acted=False,
         not_voided=_EVERY_JOB),
    Kind("instrument.listed", InstrumentListed, "Instrument listed", ELSEWHERE, section="instrument", acted=False, listed=True,
         not_corrected=_LISTED, not_voided=_LISTED),
    Kind("lot.received", LotReceived, "Lot received", ELSEWHERE, section="lot", acted=False, listed=True,
         not_corrected=_LISTED, not_voided=_LISTED),
    Kind("repair.recalled", RepairRecalled, "Earlier repair", ELSEWHERE, section="history", acted=False, step="disposition",
         page="history", roles=EVERYBODY, box="7a"),
)
