"""What does a heat log prove?"""

from __future__ import annotations

from typing import Any

from ..basis.errors import Missing
from ..basis.finding import Finding, Verdict, judge, worst
from ..basis.materials import material
from ..basis.procedure import Procedure
from ..basis.question import Answer
from ..basis.sentences import say
from ..basis.sources import cite
from .answers import NO_TRIAL, NOT_PROOF, TRIED, class_caution, minutes
from .case import Case
from .given import LogRequest
from .log import Row, judge_log
from .rules import surface_flux_w_m2

DWELL_S = 60.0
"""Time above fusion when the procedure sets none: powder needs about that to flow together (own estimate)."""


class LogAnswer(Answer):
    """What the log proves. ``bond_from``: back, surface, dot, surface_less_gap or nothing; ``melted_c``: where the film is
    molten through, below ``fusion_c``, where it flows and wets steel (null where nothing is held of the polymer)."""

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
    heated_from: str | None
    melted_c: float | None
    fusion_c: float
    surface_limit_c: float
    dwell_s: float
    charts: dict[str, Any] | None = None
    cautions: list[str]


def log_work(asked: LogRequest) -> LogAnswer:
    """Judge a heat log against the procedure's window; a missing one is not_measured."""
    film = None if asked.lining is None else material(asked.lining.polymer, kind="polymer").of_class(asked.lining.melt_class)
    held: Procedure = asked.procedure or Procedure()

    def limit(own: float | None, key: str, what: str) -> tuple[float, str]:
        if own is not None:
            return own, "the request"
        if key in held.limits:
            return held.need(key), held.cite(key)
        if film is None:
            raise Missing(what, say("heat.value_missing", key=what))
        value = film.held(what)
        return value.value, value.cited(f"{film.name}, {what.removesuffix('_c').replace('_', ' ')}")

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
    told = judge_log(plain, fusion_c=fusion, limit_c=surface, dwell_s=dwell, heated_from=asked.heated_from,
                     around_c=asked.ambient_c, bond_under=_bond_rule(asked))
    findings = _log_findings(told, fusion, dwell, surface, (fusion_source, dwell_source, surface_source), held,
                             asked, u_gap_k=_u_gap_k(asked, told))
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
    notes = [NOT_PROOF]
    if told.how == "surface_less_gap" and asked.gun is not None:
        tried = asked.gun.calibration_factor != 1.0 or asked.gun.calibration_u is not None
        notes.insert(0, TRIED if tried else NO_TRIAL)
    if told.ignored:
        notes.append(f"{told.ignored} readings of ground steel were set aside: its emissivity is anything from 0.1 to 0.6.")
    melted = film.melted_c if film is not None and "melt_to_c" in film.values else None
    if film is not None and asked.lining is not None and asked.lining.melt_class is None and "melt_c" in film.values:
        notes += class_caution(film, None)
    if melted is not None and told.bond_high_c is not None and melted <= told.bond_high_c < fusion:
        notes.append(f"The bond line was molten (from {melted:g} °C) but not where it flows and wets steel ({fusion:g} °C): "
                     "molten is no bond.")
    if told.longest_gap_s > 120:
        notes.append(f"The longest time between two readings is {minutes(told.longest_gap_s)}; what happened in it is not "
                     "known. Read at least every minute.")
    return LogAnswer(
        findings=findings, verdict=verdict, because=because, bond_from=told.how, bond_high_c=told.bond_high_c,
        bond_dwell_s=told.bond_dwell_s, surface_high_c=told.surface_high_c, surface_over_s=told.surface_over_s,
        longest_gap_s=told.longest_gap_s, rows=len(rows), ignored_rows=told.ignored,
        heated_from=asked.heated_from, melted_c=melted, fusion_c=fusion,
        surface_limit_c=surface, dwell_s=dwell, charts=charts, cautions=notes)


def _gun_case(asked: LogRequest) -> Case | None:
    """The gun over this film; None where it is not given, or where too little is held of the polymer: nothing is guessed."""
    if asked.gun is None or asked.lining is None:
        return None
    case = Case(material="carbon_steel", plate_mm=10, polymer=asked.lining.polymer, melt_class=asked.lining.melt_class,
                film_mm=asked.lining.thickness_mm, power_w=asked.gun.power_w, gun_c=asked.gun.air_c,
                outlet_mm=asked.gun.outlet_mm, distance_mm=max(asked.gun.distance_mm, 1.0),
                flow_l_min=asked.gun.flow_l_min, flow_at=asked.gun.flow_at, ambient_c=asked.ambient_c,
                h_factor=asked.gun.calibration_factor, h_doubt=asked.gun.calibration_u)
    needed = {"conductivity_w_mk", "emissivity"}
    return case if needed <= set(case.film.values) else None


def _under(case: Case, surface_c: float, h: Any = 1.0, air_k: Any = 0.0, resistance: Any = 1.0) -> Any:
    """Bond under a surface by the gloss rule, with the gun's heat, its air and the film's resistance off by so much."""
    blow = case.blow()
    k = 0.5 * (case.film.value("conductivity_w_mk") + case.film.melt_conductivity_w_mk)
    flux = surface_flux_w_m2(h_w_m2k=blow.h0_w_m2k * case.h_factor * h, air_c=blow.axis_c + air_k, surface_c=surface_c,
                             emissivity=case.film.value("emissivity"), surroundings_c=case.ambient_c)
    return surface_c - (abs(flux) + flux) / 2.0 * resistance * case.film_mm * 1e-3 / k


def _bond_rule(asked: LogRequest) -> Any:
    case = _gun_case(asked)
    return None if case is None else lambda surface_c: _under(case, surface_c)


def _u_gap_k(asked: LogRequest, told: Any) -> float | None:
    """Standard uncertainty of a bond that was reckoned from the surface, over the same doubts as every estimate, K."""
    case = _gun_case(asked)
    if told.how != "surface_less_gap" or case is None or told.surface_high_c is None:
        return None
    from .doubt import priors_of, sample

    doubt = sample(64, priors_of(case))
    return float(_under(case, told.surface_high_c, doubt.h, doubt.air_k, doubt.film / doubt.k_film).std(ddof=1))


def _log_findings(
    told: Any, fusion: Any, dwell: Any, surface: Any, sources: Any, held: Procedure, asked: LogRequest,
    u_gap_k: float | None,
) -> list[Finding]:
    fusion_source, dwell_source, surface_source = sources
    given = bool(asked.log)
    read_back = ("Log a contact probe on the face that is not heated: it is a lower bound of the bond line."
                 if asked.heated_from != "both" else "Log a painted dot on the steel beside the repair.")
    name = {"back": "The hottest the back was" + (" (lower bound of the bond line)" if told.bound else ""),
            "surface": "The hottest polymer surface (lower bound of the bond line: heated from the back)",
            "dot": "The hottest the painted dot was",
            "surface_less_gap": "The hottest bond line, from surface and gap (estimate)"}.get(told.how, "The bond line")
    u = {"back": 3.0, "surface": 5.0, "dot": 5.0}.get(told.how, u_gap_k)
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
    elif told.how == "back" and not told.bound and told.bond_high_c >= fusion:
        why = ("the back was heated too, and a heated face is hotter than the bond line" if asked.heated_from else
               "nobody said where the heat came from, and a back that is heated is hotter than the bond line")
        findings.append(Finding(
            rule="bond_fusion", value=None, limit=fusion, sense="at_least", unit="°C", as_written="indeterminate",
            verdict="indeterminate", because=f"The back reached {told.bond_high_c:.0f} °C, but {why}.",
            next_move=f"{read_back} Let the engineer look at this repair." if asked.heated_from else
            "Say where the heat came from (heated_from): front, back or both.", source=fusion_source))
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
