"""What is done in an afternoon to know one gun, and what did it give?

Without logs the answer is the plan and the form; with them it is the gun's factor and its doubt, which every later question
takes as ``gun.calibration_factor`` and ``gun.calibration_u``.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Annotated

from pydantic import model_validator

from ..basis.materials import Metal
from ..basis.quantity import Quantity
from ..basis.question import Answer, AnswerPart, Request, refuse
from ..basis.sentences import say
from .case import Case
from .given import AirC, Gun, PlateMm, PlateReading

PLATES_MAX, READINGS_MAX = 12, 200
PLATES_MM, SIDE_MM = (6.0, 10.0, 15.0), 150.0
READ_AT_S = (0, 15, 30, 45, 60, 90, 120, 180, 240, 300, 420, 600)
COLUMNS = ("plate", "material", "plate_mm", "side_mm", "time_s", "reading_c")
SideMm = Annotated[float, Quantity("Side of the test plate", "mm", at_least=40, at_most=600)]


class TrialPlate(Request):
    """One plate of the afternoon and the probe's readings on the middle of its back."""

    material: Metal = "carbon_steel"
    plate_mm: PlateMm
    side_mm: SideMm = SIDE_MM
    readings: list[PlateReading]


class Trial(Request):
    """One gun at one setting; ``plates`` is empty while the afternoon still lies ahead."""

    gun: Gun
    ambient_c: AirC = 20.0
    plates: list[TrialPlate] = []

    @model_validator(mode="after")
    def _in_order(self) -> Trial:
        if len(self.plates) > PLATES_MAX:
            raise refuse("out_of_range", say("heat.trial_plates", n=len(self.plates), most=PLATES_MAX))
        for number, plate in enumerate(self.plates, 1):
            times = [one.time_s for one in plate.readings]
            if not 4 <= len(times) <= READINGS_MAX or times[-1] - times[0] < 60.0:
                raise refuse("not_enough", say("heat.trial_too_short", number=number, n=len(times)))
            if any(b <= a for a, b in pairwise(times)):
                raise refuse("contradiction", say("heat.trial_unsorted", number=number))
            rise = plate.readings[-1].reading_c - plate.readings[0].reading_c
            if rise < 10.0:
                raise refuse("not_enough", say("heat.trial_no_rise", number=number, rise_k=rise))
        return self


class TrialRequest(Request):
    """``{"trial": {…}}``: an afternoon with three plates, contact probes and one gun."""

    trial: Trial


class PlateTold(AnswerPart):
    """What one plate gave: its own factor, and how far its readings lie from the fitted march, K."""

    plate_mm: float
    factor: float
    misfit_k: float


class TrialAnswer(Answer):
    """The plan and the form; and, once there are logs, the gun: ``calibration_factor`` and ``calibration_u`` (the width of
    its logarithm), against ``untried_u`` without a trial."""

    plan: list[str]
    form: list[str]
    calibration_factor: float | None = None
    calibration_u: float | None = None
    untried_u: float
    plates: list[PlateTold] = []
    because: str
    cautions: list[str]


def trial_work(asked: TrialRequest) -> TrialAnswer:
    """Plan the afternoon, or fit its logs."""
    told = asked.trial
    gun = Case(material="carbon_steel", plate_mm=10.0, polymer="pvdf", film_mm=0.05, power_w=told.gun.power_w,
               gun_c=told.gun.air_c, outlet_mm=told.gun.outlet_mm, distance_mm=max(told.gun.distance_mm, 1.0),
               flow_l_min=told.gun.flow_l_min, flow_at=told.gun.flow_at, ambient_c=told.ambient_c)
    blow = gun.blow()
    answer = TrialAnswer(
        plan=_plan(told), form=_form(told), untried_u=blow.doubt, cautions=list(CAUTIONS), because=(
            f"Until the trial the heat of this gun is known to a factor of {2.718 ** blow.doubt:.2f} either way (two in three "
            "guns); three plates in an afternoon bring that to about a tenth."))
    if not told.plates:
        return answer
    from .trial import Plate, fit

    found = fit(gun, [Plate(p.material, p.plate_mm, p.side_mm, tuple(r.time_s for r in p.readings),
                            tuple(r.reading_c for r in p.readings)) for p in told.plates])
    said = (f"This gun gives {found.factor:.2f} times the heat of the model's jet, known to {100 * found.width:.0f} % "
            f"(without a trial {100 * blow.doubt:.0f} %). Give it as gun.calibration_factor and gun.calibration_u; it holds "
            "for this nozzle, setting and distance only.")
    cautions = list(CAUTIONS)
    if len(told.plates) < 3:
        cautions.append(f"{len(told.plates)} plate is too few to see what aim and draught do: try three."
                        if len(told.plates) == 1 else "Two plates say little of what aim and draught do: try three.")
    if max(found.misfit_k) > 8.0:
        cautions.append(f"The readings of a plate lie {max(found.misfit_k):.0f} K from anything the model can make of them: "
                        "look at the probe's contact, the thickness and the distance, and try that plate again.")
    if not 0.4 <= found.factor <= 2.5:
        cautions.append("A factor outside 0.4 to 2.5 is more than guns differ: check outlet, distance, plates and readings.")
    return answer.model_copy(update={
        "calibration_factor": found.factor, "calibration_u": found.width, "because": said, "cautions": cautions,
        "plates": [PlateTold(plate_mm=p.plate_mm, factor=f, misfit_k=m)
                   for p, f, m in zip(told.plates, found.each, found.misfit_k)]})


CAUTIONS = (
    "Hot work: permit, extraction and fire watch as for a repair. Black paint smokes when it is first heated: bake it out "
    "before the trial. Plates burn skin for a long time after the gun is off.",
    "The trial knows bare painted plates in still air; ribs, wind and a hand that wanders are not in it.",
)


def _plan(told: Trial) -> list[str]:
    gun = told.gun
    plates = ", ".join(f"{mm:g}" for mm in PLATES_MM)
    return [
        f"Cut three flat plates of the steel you repair, {SIDE_MM:g} by {SIDE_MM:g} mm, {plates} mm thick; measure each.",
        "Paint one face with matt black heat-proof paint and bake it. Fix a contact probe to the middle of the bare back, with "
        "paste or a spot weld, and lay the plate on two edges so that the back is free.",
        f"Clamp the gun square to the middle, outlet {gun.outlet_mm:g} mm, {gun.distance_mm:g} mm away, set to {gun.air_c:g} "
        "°C; let it blow aside for three minutes. No draught.",
        f"Read the back at 0 s, swing the gun in, and read at {', '.join(str(t) for t in READ_AT_S[1:])} s. Stop at 600 s.",
        "Let the plate cool to the air around before it is used again; take the next one meanwhile.",
        "Type the form and ask again: soundedge heat trial FORM.csv with the same gun.",
    ]


def _form(told: Trial) -> list[str]:
    rows = [f"{number},carbon_steel,{mm:g},{SIDE_MM:g},{t},"
            for number, mm in enumerate(PLATES_MM, 1) for t in READ_AT_S]
    return [",".join(COLUMNS), *rows]
