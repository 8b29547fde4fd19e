"""How are plan, readings, plate test, heat log, dose and gun label answered?"""

from __future__ import annotations

from typing import Any, Literal

from ..basis.errors import Contradiction, Missing
from ..basis.finding import Finding, Verdict, judge, worst
from ..basis.materials import material
from ..basis.procedure import Procedure
from ..basis.question import Answer
from ..basis.sentences import say
from ..basis.sources import cite
from .answers import NO_TRIAL, NOT_PROOF, U_BOND_K, U_SURFACE_K, cautions, minutes
from .case import Case
from .given import DoseRequest, GunLabelRequest, LearnRequest, LogRequest, PlanRequest, PlateTestRequest
from .jet import balance
from .log import Row, judge_log
from .melt import dose_factor, dose_s
from .rules import bond_under_c, surface_flux_w_m2

DWELL_S = 60.0
"""Time above fusion when the procedure sets none: powder needs about that to flow together (own estimate)."""


class Trial(Answer):
    """A change that was tried against a *never*."""

    change: str
    works: bool
    because: str


class PlanAnswer(Answer):
    """A plan with its numbers, or never with what would change it. ``sure``: P10, P50, P90 over the stated priors."""

    verdict: Verdict
    possible: bool
    because: str
    set_points: dict[str, float]
    first_layer_at_s: float | None
    end_s: float | None
    shortest_dwell_s: float
    hottest_surface_c: float
    hottest_where: str
    thermal_dose_s: float | None
    dose_reference_c: float
    failed: list[str]
    tried: int
    alternatives: list[Trial]
    surer: dict[str, float] | None
    sure: dict[str, Any] | None
    card: dict[str, Any] | None
    charts: dict[str, Any] | None = None
    band_pct: list[float]
    cautions: list[str]


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
    share = 0.4 if case.h_factor != 1.0 else 1.0
    findings = [
        judge("bond_dwell", out.dwell_s, limit=window.dwell_s, sense="at_least", unit="s", u=None,
              name="Shortest time of a bond above fusion (estimate)", source=held.cite("dwell_s_min")
              if "dwell_s_min" in held.limits else cite("own_estimate", "time for powder to flow together"),
              next_move="Preheat the part, or choose one of the alternatives."),
        judge("surface_limit", round(out.hottest_c, 2), limit=window.limit_c, sense="at_most", unit="°C",
              u=U_SURFACE_K * share, name="Hottest polymer surface (estimate)",
              next_move="Turn the air down and preheat the part.", source=held.cite("surface_c_max")
              if "surface_c_max" in held.limits else cite("common_practice", case.film.name)),
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
            "first_layer_s": _three(s.first_layer_s), "bond_at_planned_time_c": _three(s.bond_at_time_c),
            "neighbour_at_planned_time_c": _three(s.neighbour_c),
            "p_going_by_the_clock": s.p_by_the_clock, "p_going_by_readings": s.p_by_readings,
            "says": "Model-inferred over the stated priors, no physical trial. " + (
                "" if s.calibrated else "Calibrate the gun on a plate first: it removes most of the doubt."),
        }
    card = charts = None
    if found.possible:
        from .card import work_card

        card = work_card(found)
    if asked.charts and out.run is not None:
        from .charts import temperatures

        charts = {"repair": temperatures(out.run, fusion_c=window.fusion_c, limit_c=window.limit_c,
                                         title="Layered repair (estimate)")}
    verdict: Verdict = "conforms" if found.possible else "does_not_conform"
    if found.possible:
        verdict = worst([f.verdict for f in findings if f.rule == "surface_limit"] + ["conforms"])
    return PlanAnswer(
        findings=findings, verdict=verdict, possible=found.possible, because=because, set_points=points,
        first_layer_at_s=out.first_layer_s, end_s=out.end_s if found.possible else None, shortest_dwell_s=out.dwell_s,
        hottest_surface_c=out.hottest_c, hottest_where=out.hottest_where,
        thermal_dose_s=None if out.run is None else float(out.run.dose_s.max()),
        dose_reference_c=case.film.value("degradation_reference_c"), failed=list(out.failed), tried=found.tried,
        alternatives=[Trial(change=w, works=g, because=b) for w, g, b in found.alternatives],
        surer=None if found.surer is None else {
            "part_start_c": found.surer.start_c, "air_c": found.surer.gun_c, "distance_mm": found.surer.distance_mm},
        sure=sure, card=card, charts=charts, band_pct=[-15.0, 20.0] if case.h_factor != 1.0 else [-30.0, 60.0],
        cautions=cautions(best))


def _three(values: tuple[float, float, float]) -> dict[str, float | None]:
    return {name: (None if value > 9000 else value) for name, value in zip(("p10", "p50", "p90"), values)}


class LearnAnswer(Answer):
    """What the readings leave of the doubt, and the advice: hold, next_layer, back_off or steel_is_cold."""

    advice: Literal["hold", "next_layer", "back_off", "steel_is_cold"]
    because: str
    bond_now_c: dict[str, float | None]
    bond_before_readings_c: dict[str, float | None]
    bond_later_c: dict[str, float | None]
    later_s: float
    neighbour_now_c: dict[str, float | None]
    first_layer_ready_s: dict[str, float | None] | None
    p_first_layer_ready: float
    flux_factor: dict[str, float | None]
    calibration_factor: float
    effective_members: float
    members: int
    readings_used: int
    ignored: list[str]
    contradictions: list[str]
    says: str
    cautions: list[str]


def learn_work(asked: LearnRequest) -> LearnAnswer:
    """Narrow the priors by the readings and advise."""
    from .learn import Seen, learn
    from .plan import Window

    case = asked.case()
    seen = [Seen(r.time_s, r.reading_c, r.aimed_at, r.emissivity_set, r.r_mm, r.gun_on) for r in asked.readings]
    known = learn(case, Window.of(case, dwell_s=max(asked.dwell_s, 1.0)), seen, later_s=asked.look_ahead_s,
                  layers_laid_s=asked.layers_laid_s)
    p_ready = known.p_ready
    return LearnAnswer(
        advice=known.advice, because=known.because, bond_now_c=_three(known.bond_now_c),
        bond_before_readings_c=_three(known.bond_prior_now_c), bond_later_c=_three(known.bond_later_c),
        later_s=known.later_s, neighbour_now_c=_three(known.neighbour_now_c),
        first_layer_ready_s=None if known.ready_s is None else _three(known.ready_s), p_first_layer_ready=p_ready,
        flux_factor=_three(known.flux_factor), calibration_factor=known.flux_factor[1],
        effective_members=known.effective, members=known.members, readings_used=known.used,
        ignored=[f"Reading {number + 1}: {why}." for number, why in known.ignored],
        contradictions=list(known.contradictions),
        says=f"Model-inferred, calibrated with {known.used} readings, P(ready for powder by {minutes(known.later_s)}) = "
             f"{p_ready:.2f}. The contact probe on the back decides.",
        cautions=cautions(case))


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


class LogAnswer(Answer):
    """What the log proves. ``bond_from``: back, dot, surface_less_gap or nothing."""

    verdict: Verdict
    because: str
    bond_from: str
    bond_high_c: float | None
    bond_dwell_s: float | None
    surface_high_c: float | None
    surface_over_s: float
    longest_gap_s: float
    rows: int
    ignored_rows: int
    fusion_c: float
    surface_limit_c: float
    dwell_s: float
    charts: dict[str, Any] | None = None
    cautions: list[str]


def log_work(asked: LogRequest) -> LogAnswer:
    """Judge a heat log against the procedure's window; a missing one is not_measured."""
    film = None if asked.lining is None else material(asked.lining.polymer, kind="polymer")
    held: Procedure = asked.procedure or Procedure()

    def limit(own: float | None, key: str, what: str) -> tuple[float, str]:
        if own is not None:
            return own, "the request"
        if key in held.limits:
            return held.need(key), held.cite(key)
        if film is None:
            raise Missing(what, say("heat.value_missing", key=what))
        value = film.held(what)
        return value.value, cite(value.source, f"{film.name}, {what.removesuffix('_c').replace('_', ' ')}")

    fusion, fusion_source = limit(asked.fusion_c, "fusion_c_min", "fusion_c")
    surface, surface_source = limit(asked.surface_limit_c, "surface_c_max", "surface_limit_c")
    dwell = asked.dwell_s if asked.dwell_s is not None else held.value("dwell_s_min", DWELL_S)
    dwell = float(dwell if dwell is not None else DWELL_S)
    dwell_source = held.cite("dwell_s_min") if "dwell_s_min" in held.limits and asked.dwell_s is None else (
        "the request" if asked.dwell_s is not None else cite("own_estimate", "time for powder to flow together"))
    rows = asked.log or []
    start = min((row.at for row in rows if row.at is not None), default=None)
    plain = [Row((row.at - start).total_seconds() if row.at is not None and start is not None else float(row.time_s or 0.0),
                 row.reading_c, row.aimed_at, row.emissivity_set) for row in rows]
    told = judge_log(plain, fusion_c=fusion, limit_c=surface, dwell_s=dwell, around_c=asked.ambient_c,
                     bond_under=_bond_rule(asked))
    findings = _log_findings(told, fusion, dwell, surface, (fusion_source, dwell_source, surface_source), held,
                             bool(rows))
    verdict = worst(f.verdict for f in findings)
    failed = [f for f in findings if f.verdict == verdict]
    because = " ".join(f.because for f in failed[:2]) if verdict != "conforms" else (
        f"The bond line stood above {fusion:g} °C for {told.bond_dwell_s:.0f} s and no polymer reading passed {surface:g} °C.")
    if not rows:
        because = "There is no heat log: whether the bond line fused was not measured."
    charts = None
    if asked.charts and rows:
        from .charts import log_chart

        charts = {"log": log_chart(told.bond, told.surface, fusion_c=fusion, limit_c=surface)}
    notes = [NO_TRIAL, NOT_PROOF] if told.how == "surface_less_gap" else [NOT_PROOF]
    if told.ignored:
        notes.append(f"{told.ignored} readings of ground steel were set aside: its emissivity is anything from 0.1 to 0.6.")
    if told.longest_gap_s > 120:
        notes.append(f"The longest time between two readings is {minutes(told.longest_gap_s)}; what happened in it is not "
                     "known. Read at least every minute.")
    return LogAnswer(
        findings=findings, verdict=verdict, because=because, bond_from=told.how, bond_high_c=told.bond_high_c,
        bond_dwell_s=told.bond_dwell_s, surface_high_c=told.surface_high_c, surface_over_s=told.surface_over_s,
        longest_gap_s=told.longest_gap_s, rows=len(rows), ignored_rows=told.ignored, fusion_c=fusion,
        surface_limit_c=surface, dwell_s=dwell, charts=charts, cautions=notes)


def _bond_rule(asked: LogRequest):
    if asked.gun is None or asked.lining is None:
        return None
    case = Case(material="carbon_steel", plate_mm=10, polymer=asked.lining.polymer, film_mm=asked.lining.thickness_mm,
                power_w=asked.gun.power_w, gun_c=asked.gun.air_c, outlet_mm=asked.gun.outlet_mm,
                distance_mm=max(asked.gun.distance_mm, 1.0), flow_l_min=asked.gun.flow_l_min, flow_at=asked.gun.flow_at,
                ambient_c=asked.ambient_c, h_factor=asked.gun.calibration_factor)
    blow = case.blow()
    if not {"conductivity_w_mk", "conductivity_melt_w_mk", "emissivity"} <= set(case.film.values):
        return None  # what is not held for this polymer is not guessed: its surface then says nothing about the bond
    k = 0.5 * (case.film.value("conductivity_w_mk") + case.film.value("conductivity_melt_w_mk"))

    def bond(surface_c: float) -> float:
        flux = surface_flux_w_m2(h_w_m2k=blow.h0_w_m2k * case.h_factor, air_c=blow.axis_c, surface_c=surface_c,
                                 emissivity=case.film.value("emissivity"), surroundings_c=asked.ambient_c)
        return bond_under_c(surface_c, max(flux, 0.0), thickness_mm=case.film_mm, k_w_mk=k)

    return bond


def _log_findings(told, fusion, dwell, surface, sources, held: Procedure, given: bool) -> list[Finding]:
    fusion_source, dwell_source, surface_source = sources
    read_back = "Log a contact probe on the back while heating: it is a lower bound of the bond line."
    name = {"back": "The hottest the back was (lower bound of the bond line)", "dot": "The hottest the painted dot was",
            "surface_less_gap": "The hottest bond line, from surface and gap (estimate)"}.get(told.how, "The bond line")
    u = {"back": 3.0, "dot": 5.0}.get(told.how, U_BOND_K)
    findings = []
    if told.how == "nothing" and told.surface_high_c is not None and told.surface_high_c < fusion:
        findings.append(judge(
            "bond_fusion", told.surface_high_c, limit=fusion, sense="at_least", unit="°C", u=5.0, decision=held.decision,
            name="The hottest polymer surface (upper bound of the bond line)", source=fusion_source,
            next_move="The bond is cold: grind the repair out and do it again on hot steel."))
    elif told.how == "nothing" and told.surface_high_c is not None:
        findings.append(Finding(
            rule="bond_fusion", value=None, limit=fusion, sense="at_least", unit="°C", as_written="indeterminate",
            verdict="indeterminate",
            because=f"Only the polymer's surface was logged ({told.surface_high_c:.0f} °C): a glossy surface can lie over a "
                    f"bond line far below {fusion:g} °C.",
            next_move=f"{read_back} Give the gun, so that the gap through the film can be reckoned.",
            source=fusion_source))
    else:
        findings.append(judge(
            "bond_fusion", told.bond_high_c, limit=fusion, sense="at_least", unit="°C", u=u, decision=held.decision,
            name=name, source=fusion_source,
            next_move=read_back if not given or told.bond_high_c is None else
            "The bond is cold: grind the repair out and do it again on hot steel."))
        if told.bond_high_c is None or told.bond_high_c >= fusion:
            findings.append(judge(
                "bond_dwell", told.bond_dwell_s, limit=dwell, sense="at_least", unit="s", u=None if held.decision.rule ==
                "simple" else 5.0, decision=held.decision, name="Time of the bond line above fusion", source=dwell_source,
                next_move="Log more often, or hold the heat longer. Let the engineer look at this repair."))
    findings.append(judge(
        "surface_limit", told.surface_high_c, limit=surface, sense="at_most", unit="°C", u=5.0, decision=held.decision,
        name="The hottest polymer surface", source=surface_source,
        next_move="Log the polymer's surface too." if told.surface_high_c is None else
        "Look for discolouration and bubbles; let the engineer decide on the burnt film."))
    if told.quick_fall_k_s is not None and told.quick_fall_k_s > 2.0:
        findings.append(judge(
            "quick_fall", told.quick_fall_k_s, limit=2.0, sense="at_most", unit="K/s", u=None,
            name="The fall of the hot surface with the gun away", source=cite("own_estimate", "cooling over cold steel"),
            next_move="A surface that falls so fast lies on cold steel: test the bond before anything else."))
    return findings


class DoseAnswer(Answer):
    """Equivalent seconds at ``reference_c``; fume flags where the surface passed the polymer's thresholds."""

    dose_s: float
    reference_c: float
    energy_kj_mol: float
    hottest_c: float
    factor_at_hottest: float
    above_fume_s: float | None
    fume_c: float | None
    toxic_fume_c: float | None
    share_of_seen_change: float | None
    because: str
    cautions: list[str]


def dose_work(asked: DoseRequest) -> DoseAnswer:
    """Thermal dose of a surface history."""
    from .log import time_above

    d = asked.dose
    film = material(d.polymer, kind="polymer")
    energy, reference = film.value("degradation_energy_j_mol"), film.value("degradation_reference_c")
    dose = dose_s(d.times_s, d.temperatures_c, energy_j_mol=energy, reference_c=reference)
    hottest = max(d.temperatures_c)
    fume, toxic = (film.values[what].value if what in film.values else None for what in ("fume_c", "toxic_fume_c"))
    track = list(zip(d.times_s, d.temperatures_c))
    notes = ["Relative only: it says which of two histories aged the film more. It becomes a limit when a colour change "
             "has been seen and marked at one of them."]
    if fume is None:
        notes.insert(0, f"From which temperature {film.name} fumes is not held for this polymer: ask its maker.")
    elif hottest >= fume:
        poison = f"toxic from about {toxic:g} °C; " if toxic is not None else ""
        notes.insert(0, f"{hottest:g} °C is at or above {fume:g} °C, where {film.name} fumes ({poison}common practice, no "
                        "source). Extract, leave the place, no tobacco.")
    return DoseAnswer(
        dose_s=dose, reference_c=reference, energy_kj_mol=energy / 1000.0, hottest_c=hottest,
        factor_at_hottest=dose_factor(hottest, energy_j_mol=energy, reference_c=reference),
        above_fume_s=None if fume is None else time_above(track, fume), fume_c=fume, toxic_fume_c=toxic,
        share_of_seen_change=None if d.seen_change_dose_s is None else dose / d.seen_change_dose_s,
        because=f"The history aged {film.name} as {dose:.0f} s at {reference:g} °C would (activation energy "
                f"{energy / 1000:.0f} kJ/mol).",
        cautions=notes)


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

