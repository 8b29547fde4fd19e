"""May a bare hand go on this surface: what is asked, and what is answered?"""

from __future__ import annotations

from typing import Annotated

from ..basis.finding import Verdict, judge
from ..basis.materials import Metal, material
from ..basis.quantity import Instant, Quantity, Word
from ..basis.question import Answer, Request
from ..basis.sources import cite
from .burns import cool_minutes, threshold_c
from .cautions import PYROMETER_DECIDES
from .clocks import later

AirC = Annotated[float, Quantity("Air temperature", "°C", at_least=-45, at_most=60)]
HotC = Annotated[float, Quantity("Surface temperature", "°C", at_least=-60, at_most=1000)]
TolK = Annotated[float, Quantity("Tolerance of the thermometer", "K", at_least=0, at_most=100,
                                 next_move="It is a half-width and a difference.")]


class Cooling(Request):
    """A plate cooling in air: how thick, of what, in how warm air. Both faces together lose ``h_w_m2k``."""

    plate_mm: Annotated[float, Quantity("Plate", "mm", above=0, at_most=500)]
    air_c: AirC = 20.0
    material: Metal = "carbon_steel"
    h_w_m2k: Annotated[float, Quantity("Heat transfer of both faces", "W/(m²K)", at_least=2, at_most=200,
                                       next_move="About 20 with both faces free, 10 with one.")] = 20.0


class TouchRequest(Request):
    """A hot surface and how long bare skin may be on it."""

    surface: Word
    temperature_c: HotC
    contact_s: Annotated[float, Quantity("Contact time", "s", above=0, at_most=1e6)] = 1.0
    tol_temperature_k: TolK = 0.0
    cooling: Cooling | None = None
    at: Instant | None = None


class TouchAnswer(Answer):
    """The burn threshold [°C], the verdict, and when the surface is estimated to be below it [min]."""

    burn_threshold_c: float
    burn_threshold_high_c: float
    verdict: Verdict
    minutes_until_touch: float | None = None
    not_before: Instant | None = None
    cautions: list[str] = []
    notes: list[str] = []


def touch(request: TouchRequest) -> TouchAnswer:
    """A surface temperature against the burn threshold for a contact time.

    Below the band: ``conforms``; inside it, or when only the thermometer's tolerance reaches it:
    ``indeterminate``; at its upper end and above: ``does_not_conform``.
    """
    r = request
    low, high = threshold_c(r.surface, r.contact_s)
    warm = judge(
        "burn_threshold", r.temperature_c, limit=low, sense="at_most", strict=True, unit="°C",
        u=r.tol_temperature_k / 3**0.5 or None,
        name=f"The {r.surface.replace('_', ' ')} surface, for {r.contact_s:g} s on bare skin,", source=cite("iso_13732_1"),
        next_move="Gloves, a sign and a barrier; measure again when it has cooled.",
    )
    verdict: Verdict = "does_not_conform"
    if r.temperature_c + r.tol_temperature_k < low:
        verdict = "conforms"
    elif r.temperature_c < max(high, low + 1e-12) or r.temperature_c - r.tol_temperature_k < low:
        verdict = "indeterminate"
    because = warm.because
    if high > low:
        because += f" Between {low:.0f} and {high:.0f} °C a burn may come, above it will."
    if verdict == "indeterminate" and r.temperature_c < low:
        because += f" The thermometer's tolerance of {r.tol_temperature_k:g} K reaches the threshold."
    move = warm.next_move if verdict != "conforms" else "Check with a contact thermometer before bare hands go on it."
    answer = TouchAnswer(
        burn_threshold_c=low, burn_threshold_high_c=high, verdict=verdict,
        cautions=[PYROMETER_DECIDES, "An infrared thermometer reads bare metal far too cold."],
        notes=["Thresholds are for healthy adult skin and a small area; they are not limits. For handling longer than a "
               "minute: 51 °C for 1 min, 48 °C for 10 min, 43 °C for 8 h and more."],
    )
    answer.findings = [warm.model_copy(update={"verdict": verdict, "because": f"Estimate: {because}", "next_move": move})]
    if r.surface == "plastic":
        answer.notes.append("For a solid plastic. A lining on hot steel goes on giving heat: take bare_metal when the steel "
                            "behind it is hot.")
    _cool(r, low, answer)
    return answer


def _cool(r: TouchRequest, low: float, answer: TouchAnswer) -> None:
    if r.cooling is None:
        return
    c = r.cooling
    steel = material(c.material, kind="metal")
    answer.minutes_until_touch = cool_minutes(
        r.temperature_c, low, air_c=c.air_c, plate_mm=c.plate_mm, density_kg_m3=steel.value("density_kg_m3"),
        heat_capacity_j_kgk=steel.value("heat_capacity_j_kgk"), h_w_m2k=c.h_w_m2k,
    )
    if answer.minutes_until_touch is None:
        answer.notes.append(f"In air of {c.air_c:g} °C it never cools below {low:.1f} °C.")
        return
    answer.notes.append(f"Cooling as one plate with {c.h_w_m2k:g} W/(m²K) over both faces ({cite('own_estimate')}): not before "
                        f"{answer.minutes_until_touch:.0f} min from the reading, then measure.")
    if r.at is not None:
        answer.not_before = later(r.at, answer.minutes_until_touch)
