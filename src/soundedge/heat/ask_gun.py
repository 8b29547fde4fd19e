"""How much heat does this gun give, by a plate test and by its label?"""

from __future__ import annotations

from ..basis.finding import Verdict
from ..basis.question import Answer
from .given import GunLabelRequest, PlateTestRequest
from .jet import balance


class PlateTestAnswer(Answer):
    """The gun's heat from one plate: flux into it, the factor to give as ``gun.calibration_factor`` and its u."""

    flux_w_m2: float
    rate_k_s: float
    calibration_factor: float
    u_calibration_factor: float
    because: str
    cautions: list[str] = []


def plate_test_work(asked: PlateTestRequest) -> PlateTestAnswer:
    """One minute on a known plate."""
    from .jet import jet
    from .learn import plate_test

    p = asked.plate_test
    blow = jet(power_w=p.gun.power_w, air_c=p.gun.air_c, outlet_mm=p.gun.outlet_mm,
               distance_mm=max(p.gun.distance_mm, 1.0), ambient_c=p.ambient_c, flow_l_min=p.gun.flow_l_min,
               flow_at=p.gun.flow_at)
    reach = p.side_mm / 3.141592653589793**0.5
    steps = 60
    radii = [reach * ((i + 0.5) / steps) ** 0.5 for i in range(steps)]
    h_mean = sum(blow.h_w_m2k(r) for r in radii) / steps
    air = sum(blow.h_w_m2k(r) * blow.air_c(r) for r in radii) / steps / h_mean
    found = plate_test(material_key=p.material, plate_mm=p.plate_mm, times_s=[r.time_s for r in p.readings],
                       readings_c=[r.reading_c for r in p.readings], h_mean_w_m2k=h_mean, air_mean_c=air,
                       ambient_c=p.ambient_c)
    return PlateTestAnswer(
        flux_w_m2=found.flux_w_m2, rate_k_s=found.rate_k_s, calibration_factor=found.factor,
        u_calibration_factor=found.u_factor,
        because=f"The plate warms by {found.rate_k_s:.2f} K/s: {found.flux_w_m2:.0f} W/m² go in, {found.factor:.2f} times what "
                "the model gives this gun at this setting and distance. Give it as gun.calibration_factor; it holds for "
                "this nozzle, setting and distance only.",
        cautions=[] if 0.5 <= found.factor <= 2.0 else
        ["A factor outside 0.5 to 2 is more than guns differ: check outlet, distance, plate and the readings."])


class GunLabelAnswer(Answer):
    """The label's heat balance."""

    flow_g_s: float
    flow_cold_l_min: float
    flow_hot_l_min: float
    heat_w: float
    verdict: Verdict
    because: str


def gun_label_work(asked: GunLabelRequest) -> GunLabelAnswer:
    """Check power, air and flow against each other; an impossible label is refused with its balance."""
    g = asked.gun_label
    blow = balance(power_w=g.power_w, air_c=g.air_c, flow_l_min=g.flow_l_min, flow_at=g.flow_at, ambient_c=g.ambient_c,
                   efficiency=g.efficiency)
    return GunLabelAnswer(
        flow_g_s=1000 * blow.flow_kg_s, flow_cold_l_min=blow.cold_l_min, flow_hot_l_min=blow.hot_l_min,
        heat_w=blow.power_w, verdict="conforms",
        because=f"{blow.power_w:.0f} W in the air at {g.air_c:g} °C are {1000 * blow.flow_kg_s:.2f} g/s: {blow.cold_l_min:.0f} "
                f"l/min of air at 20 °C, or {blow.hot_l_min:.0f} l/min hot.")
