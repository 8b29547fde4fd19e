"""Which plan heats the bond through, and how sure is it?"""

from __future__ import annotations

from typing import Any

from ..basis.errors import Contradiction
from ..basis.finding import Verdict, judge, worst
from ..basis.procedure import Procedure
from ..basis.question import Answer
from ..basis.sentences import say
from ..basis.sources import cite
from .answers import cautions, minutes, moved_by, p10_p50_p90
from .ask_log import DWELL_S
from .given import PlanRequest


class Trial(Answer):
    """A change that was tried against a *never*."""

    change: str
    works: bool
    because: str


class PlanAnswer(Answer):
    """A plan with its numbers, or never with what would change it. ``sure``: P10, P50, P90 over the stated priors."""

    verdict: Verdict
    possible: bool
    p_both: float | None
    because: str
    set_points: dict[str, float]
    first_layer_at_s: float | None
    end_s: float | None
    shortest_dwell_s: float
    hottest_surface_c: float
    hottest_where: str
    thermal_dose_s: float | None
    dose_reference_c: float | None
    failed: list[str]
    tried: int
    alternatives: list[Trial]
    surer: dict[str, float] | None
    sure: dict[str, Any] | None
    card: dict[str, Any] | None
    charts: dict[str, Any] | None = None
    band_pct: list[float]
    melted_c: float
    fusion_c: float
    cautions: list[str]
    sources: list[str]


def plan_work(asked: PlanRequest) -> PlanAnswer:
    """Find the mildest setting that passes, and say how sure it is."""
    from .plan import Window, plan

    case = asked.case()
    held: Procedure = asked.procedure or Procedure()
    wish = asked.plan
    dwell = wish.dwell_s if wish.dwell_s is not None else held.value("dwell_s_min", DWELL_S)
    window = Window.of(case, dwell_s=max(float(dwell or 0.0), 1.0), layers=wish.layers)
    if window.limit_c <= window.fusion_c + 12.0:
        raise Contradiction(
            "surface_limit_c",
            say("heat.no_room_above_fusion", limit_c=window.limit_c, fusion_c=window.fusion_c))
    found = plan(case, window, members=wish.members, may_set_air=wish.may_set_air, may_preheat=wish.may_preheat)
    out = found.outcome
    best = found.case
    points = {"part_start_c": best.start_c, "air_c": best.gun_c, "distance_mm": best.distance_mm,
              "outlet_mm": best.outlet_mm, "power_w": best.power_w, "first_layer_at_bond_c": window.start_c,
              "hold_away_above_c": window.pause_c, "layers": float(window.layers),
              "between_layers_s": window.dwell_s + 15.0, "dwell_s": window.dwell_s}
    doubt = found.sure
    findings = [
        judge("bond_dwell", out.dwell_s, limit=window.dwell_s, sense="at_least", unit="s",
              u=None if doubt is None else doubt.u_dwell_s,
              name="Shortest time of a bond above fusion (estimate)", source=held.cite("dwell_s_min")
              if "dwell_s_min" in held.limits else cite("own_estimate", "time for powder to flow together"),
              next_move="Preheat the part, or choose one of the alternatives."),
        judge("surface_limit", round(out.hottest_c, 2), limit=window.limit_c, sense="at_most", unit="°C",
              u=None if doubt is None else doubt.u_hottest_k, name="Hottest polymer surface (estimate)",
              next_move="Turn the air down and preheat the part.", source=held.cite("surface_c_max")
              if "surface_c_max" in held.limits else case.film.held("surface_limit_c").cited(case.film.name)),
    ]
    if found.possible:
        because = (f"With the part at {best.start_c:.0f} °C and air of {best.gun_c:g} °C at {best.distance_mm:g} mm the bare "
                   f"steel is ready for powder after about {minutes(out.first_layer_s or 0.0)}; {window.layers} layers then "
                   f"hold every bond above {window.fusion_c:g} °C for {out.dwell_s:.0f} s or more, no surface above "
                   f"{out.hottest_c:.0f} °C.")
    else:
        because = f"Never with this gun: {'; '.join(out.failed)}."
        works = [words for words, good, _ in found.alternatives if good]
        because += f" What would change it: {', or '.join(works)}." if works else " None of the usual helps changes it: oven."
    sure = None
    if found.sure is not None:
        s = found.sure
        sure = {
            "members": s.members, "calibrated": s.calibrated,
            "first_layer_s": p10_p50_p90(s.first_layer_s), "bond_at_planned_time_c": p10_p50_p90(s.bond_at_time_c),
            "neighbour_at_planned_time_c": p10_p50_p90(s.neighbour_c),
            "p_going_by_the_clock": s.p_by_the_clock, "p_going_by_readings": s.p_by_readings,
            "says": "Model-inferred over the stated priors, no physical trial. " + (
                "" if s.calibrated else "Try the gun on plates first (soundedge heat trial): it removes most of the doubt."),
        }
    card = charts = None
    if found.possible:
        from .card import work_card

        card = work_card(found)
    if asked.charts and out.run is not None:
        from .charts import temperatures

        charts = {"repair": temperatures(out.run, fusion_c=window.fusion_c, limit_c=window.limit_c,
                                         title="Layered repair (estimate)")}
    ages = "degradation_energy_j_mol" in case.film.values
    verdict: Verdict = "conforms" if found.possible else "does_not_conform"
    if found.possible:
        verdict = worst([f.verdict for f in findings if f.rule == "surface_limit"] + ["conforms"])
    return PlanAnswer(
        findings=findings, verdict=verdict, possible=found.possible,
        p_both=None if doubt is None else doubt.p_by_readings, because=because, set_points=points,
        first_layer_at_s=out.first_layer_s, end_s=out.end_s if found.possible else None, shortest_dwell_s=out.dwell_s,
        hottest_surface_c=out.hottest_c, hottest_where=out.hottest_where,
        thermal_dose_s=None if out.run is None or not ages else float(out.run.dose_s.max()),
        dose_reference_c=window.limit_c if ages else None, failed=list(out.failed), tried=found.tried,
        alternatives=[Trial(change=w, works=g, because=b) for w, g, b in found.alternatives],
        surer=None if found.surer is None else {
            "part_start_c": found.surer.start_c, "air_c": found.surer.gun_c, "distance_mm": found.surer.distance_mm},
        sure=sure, card=card, charts=charts, band_pct=_band_pct(found),
        melted_c=case.film.melted_c, fusion_c=window.fusion_c,
        cautions=cautions(best), sources=moved_by(best))


def _band_pct(found: Any) -> list[float]:
    """How much sooner or later than planned the first layer may go on, %: P10 and P90 of the ensemble."""
    from .spread import MOST_PCT, UNTOLD_PCT

    at = found.outcome.first_layer_s
    if found.sure is None or not at:
        return list(UNTOLD_PCT)
    low, _, high = found.sure.first_layer_s
    return [min(round(100.0 * (low / at - 1.0)), 0.0), max(min(round(100.0 * (high / at - 1.0)), MOST_PCT), 0.0)]
