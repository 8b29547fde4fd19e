"""The heat plan, the layers, the heat log and the end of hot work."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from ...basis.on_paper import when, words
from ...basis.quantity import Instant, Prose, Quantity, Word, shown
from ...basis.question import Request
from .kind import ENGINEER, TECHNICIAN, Kind, of_repair
from .values import AirC

EstimateC = Annotated[float, Quantity("Estimated temperature", "°C", at_least=-273, at_most=2000)]
EstimateS = Annotated[float, Quantity("Estimated time", "s", at_least=0, at_most=1e7)]


class Gun(Request):
    """A hot-air gun in its own terms; ``name`` is the shop's, and the last two are what its trial gave."""

    power_w: Annotated[float, Quantity("Gun power", "W", above=50, at_most=20000)]
    air_c: Annotated[float, Quantity("Gun air", "°C", above=30, at_most=800)]
    outlet_mm: Annotated[float, Quantity("Gun outlet", "mm", above=2, at_most=300)]
    distance_mm: Annotated[float, Quantity("Gun distance", "mm", at_least=0, at_most=1000)]
    name: Word | None = None
    calibration_factor: Annotated[float, Quantity("Calibration factor of the gun", "", at_least=0.2, at_most=4)] | None = None
    calibration_u: Annotated[float, Quantity("Doubt of the calibration factor", "", at_least=0.01, at_most=1)] | None = None


class HeatEstimate(Request):
    """What the model said about a heat plan when it was recorded, and which model. Null: it does not happen in two hours."""

    model: Word
    verdict: Literal["conforms", "does_not_conform", "indeterminate", "not_measured"]
    because: Prose
    gloss_at_s: EstimateS | None = None
    gloss_bond_c: EstimateC | None = None
    gloss_bond_c_low: EstimateC | None = None
    gloss_bond_c_high: EstimateC | None = None
    bond_reaches_fusion: bool
    bond_fusion_at_s: EstimateS | None = None
    preheat_needed_c: EstimateC | None = None
    overheats_first: Literal["neighbour_lining", "repair_surface"] | None = None
    cool_to_touch_s: EstimateS | None = None
    band_pct: Annotated[list[Annotated[float, Quantity("Band of the times", "%", at_least=-100, at_most=1000)]],
                        Field(min_length=2, max_length=2)]
    cautions: list[Prose] = []


class HeatPlanned(Request):
    """The heat plan before the first layer. The bench stores with it what the model said (``estimate``); nobody types that."""

    gun: Gun
    back: Literal["free", "insulated", "second_gun"] = "free"
    part_start_c: Annotated[float, Quantity("Part at the start", "°C", at_least=-45, at_most=400)] = 20.0
    ambient_c: AirC = 20.0
    estimate: HeatEstimate | None = None


class LayerFused(Request):
    """One layer of one repair, melted through before the next: its powder went on at ``started_at``; ``at``, it had fused."""

    number: Annotated[int, Quantity("Layer number", "", at_least=1, at_most=200, whole=True)]
    lot: Word
    repair: Word | None = None
    started_at: Instant | None = None
    powder_g: Annotated[float, Quantity("Powder", "g", above=0, at_most=100000)] | None = None
    remark: Prose | None = None


class HeatReading(Request):
    """One line of the heat log."""

    time_s: Annotated[float, Quantity("Time", "s", at_least=0, at_most=86400)]
    reading_c: Annotated[float, Quantity("Reading", "°C", at_least=-60, at_most=900)]
    aimed_at: Literal["polymer", "painted_dot", "ground_steel", "back_contact"]
    emissivity_set: Annotated[float, Quantity("Emissivity set", "", above=0.01, at_most=1)] = 0.95


class HeatLogged(Request):
    """What pyrometer or probe showed while layers of one repair were fused; ``started_at`` is the moment of its second 0.

    ``heated_from`` says from which side the heat came: only when all of it came from the front is the back a lower bound of
    the bond line.
    """

    readings: list[HeatReading]
    repair: Word | None = None
    started_at: Instant | None = None
    heated_from: Literal["front", "back", "both"] | None = None
    file: Word | None = None
    instrument: Word | None = None


class HotWorkEnded(Request):
    """Last heat; the fire watch starts here."""

    fire_watch_until: Instant
    watched_by: Word


FROM = {"front": "the front", "back": "the back", "both": "both sides"}
_FUSES = frozenset({TECHNICIAN})


def _planned(body: HeatPlanned) -> str:
    gun = body.gun
    return (f"gun {_tried(gun)}{shown(gun.power_w)} W, {shown(gun.air_c)} °C, outlet {shown(gun.outlet_mm)} mm, distance "
            f"{shown(gun.distance_mm)} mm, back {words(body.back)}; {_said(body.estimate)}")


def _tried(gun: Gun) -> str:
    """Which gun, and what its trial gave."""
    if gun.calibration_factor is None:
        return "" if gun.name is None else f"{gun.name}, "
    width = "" if gun.calibration_u is None else f" ± {100 * gun.calibration_u:.0f} %"
    return f"{gun.name or ''} (tried: {gun.calibration_factor:.2f}{width}), ".lstrip()


def _logged(body: HeatLogged) -> str:
    said = f"{of_repair(body)}{len(body.readings)} readings"
    return said if body.heated_from is None else f"{said}, heated from {FROM[body.heated_from]}"


def _said(told: HeatEstimate | None) -> str:
    """What the model said when the plan was recorded."""
    if told is None:
        return "estimate not recorded"
    gloss, late = told.gloss_at_s, told.band_pct[-1]
    parts = ["no gloss" if gloss is None else f"gloss after {gloss:.0f} s" if gloss >= 1 else "gloss within 1 s",
             f"bond line then {told.gloss_bond_c:.0f} °C{_band(told)}" if told.gloss_bond_c is not None else "",
             f"bond line fuses after {told.bond_fusion_at_s:.0f} s" if told.bond_fusion_at_s is not None else
             "bond line never fuses",
             f"preheat to {told.preheat_needed_c:.0f} °C" if told.preheat_needed_c is not None else "",
             f"cool to touch after {told.cool_to_touch_s / 60:.0f} min" if told.cool_to_touch_s is not None else "",
             f"times {told.band_pct[0]:+.0f} "
             + (f"to {late:+.0f} %" if late < 300 else "% to far longer, perhaps never")]
    return f"estimate ({told.model}, {words(told.verdict)}): {', '.join(part for part in parts if part)}"


def _band(told: HeatEstimate) -> str:
    if told.gloss_bond_c_low is None or told.gloss_bond_c_high is None:
        return ""
    return f" ({told.gloss_bond_c_low:.0f} to {told.gloss_bond_c_high:.0f} °C)"


def _watched(body: HotWorkEnded) -> str:
    return f"fire watch until {when(body.fire_watch_until)}, by {body.watched_by}"


KINDS = (
    Kind("heat.planned", HeatPlanned, "Heat planned", _planned,
         section="heat_plan", step="heat", roles=frozenset({TECHNICIAN, ENGINEER}), box="4a"),
    Kind("layer.fused", LayerFused, "Layer fused",
         lambda b: f"{of_repair(b)}layer {b.number}" + (f": {b.remark}" if b.remark else ""),
         names_repair=True,
         section="layer", act="layer", step="buildup", roles=_FUSES, repair=True, follows=("disposition", "surface"), box="4b"),
    Kind("heat.logged", HeatLogged, "Heat log", _logged,
         names_repair=True,
         section="heat_log", step="heat", roles=_FUSES, repair=True, measured_with=("infrared", "steel_probe"), box="4c"),
    Kind("hot_work.ended", HotWorkEnded, "Hot work ended", _watched,
         section="hot_work_end", step="hazards", roles=_FUSES, repair=True, box="4d"),
)
