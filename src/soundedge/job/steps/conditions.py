"""Conditions: was the steel dry, clean and rough enough, and did the first layer come in good air and in time?

No layer before a good interval: from the preparation to the first layer the air log must say *good*.
"""

from __future__ import annotations

from typing import Any

from ...conditions.ask import FORMS
from ...conditions.given import ConditionLimits
from ..case import Case, clock
from ..kinds.surface import SurfaceChecked
from ..step import Step

_SURFACE = {
    "surface_profile": ("profile_um", ("profile_um_min", "profile_um_max")),
    "salts": ("salts", ("salts_mg_m2_max",)),
    "dust": ("dust", ("dust_rating_max", "dust_size_max")),
}


def conditions(case: Case) -> Step:
    """The room's answer on the whole air log and the prepared surface."""
    step = Step("conditions")
    job = case.job
    log, prepared = job.of("air.read"), job.of("surface.prepared")
    first = job.first_layer_at()
    if not log:
        step.because = "Air, humidity and steel were not read."
        step.lacks("air_log", True, step.because, "Read them before and during the work.",
                   case.procedure.cite("dew_margin_k"))
    if not prepared:
        step.lacks("surface_prepared", True, "The preparation of the surface is not recorded.",
                   "Grind back to the sound edge, prepare the steel and record when.", case.rule_book)
    _after_preparation(case, step)
    _half_a_salt_test(case, step)
    if not log:
        return step
    request = question(case)
    found = case.ask(FORMS, request)
    plain = found.model_dump(mode="json")
    step.asked, step.answers = [request], [plain]
    step.cautions = plain["cautions"]
    for finding in found.findings:
        if finding.verdict == "not_measured" and finding.value is None and finding.rule != "air_during_operation":
            step.findings.append(finding)
            step.lacks(finding.rule, True, finding.because, finding.next_move, finding.source)
        else:
            step.hold_on([finding])
    for what, (key, limits) in _SURFACE.items():
        if key not in request and not any(limit in case.procedure.limits for limit in limits):
            step.lacks(what, case.requires(what), f"The {what.replace('_', ' ')} was not measured.", "Measure it.",
                       case.rule_book)
    step.verdict = plain["verdict"]
    step.because = _said(plain, found.findings, first is not None)
    return step


def _after_preparation(case: Case, step: Step) -> None:
    """A surface checked before it was prepared again is not the surface the first layer lies on."""
    first = case.job.first_layer_at()
    prepared = [e for e in case.job.of("surface.prepared") if first is None or e.at <= first]
    stale = [e for e in case.job.of("surface.checked") if prepared and e.at < prepared[-1].at]
    if stale:
        step.hold(
            "surface_checked_as_prepared",
            f"{stale[-1].id} was checked at {clock(stale[-1].at)}, before the steel was prepared at "
            f"{clock(prepared[-1].at)}.", "Check the surface as it is after the last preparation.", case.rule_book,
        )


def _said(plain: dict[str, Any], findings: list[Any], layered: bool) -> str:
    against = [f for f in findings if f.verdict != "conforms"]
    if against:
        return str(against[0].because)
    when = "at the last reading before the first layer" if layered else "at the last reading"
    return f"The steel was {plain['dew_margin_k']:.1f} K above the dew point {when}."


def question(case: Case) -> dict[str, Any]:
    """The request to the conditions room: the reading that counts, the whole log, the surface, the clock."""
    job = case.job
    log, first = job.of("air.read"), job.first_layer_at()
    before = [e for e in log if first is None or e.at <= first]
    counts = (before or log)[-1].body
    request: dict[str, Any] = {
        "air_c": counts.air_c, "rh_pct": counts.rh_pct, "steel_c": counts.steel_c,
        "series": [
            {"at": e.at.isoformat(), "air_c": e.body.air_c, "rh_pct": e.body.rh_pct, "steel_c": e.body.steel_c} for e in log
        ],
    } | rules(case, *ConditionLimits.model_fields)
    tool = job.instruments.get(counts.instrument or "")
    if tool is not None and tool.tol:
        request["tol_air_k"] = request["tol_steel_k"] = tool.tol
    prepared = [e for e in job.of("surface.prepared") if first is None or e.at <= first]
    if prepared:
        end = first or max(log[-1].at, prepared[-1].at)
        request["prepared_at"] = prepared[-1].at.isoformat()
        request["first_layer_at" if first else "now"] = end.isoformat()
        if first:
            request["operations"] = [
                {"name": "from preparation to the first layer", "start": prepared[-1].at.isoformat(), "end": end.isoformat()}
            ]
    _surface(case, request)
    return request


def rules(case: Case, *keys: str) -> dict[str, Any]:
    """The limits of these names that the procedure sets, with their sources, and its rule of decision."""
    procedure = case.procedure
    limits = {key: procedure.value(key) for key in keys if key in procedure.limits}
    return {
        "limits": limits,
        "limit_sources": {key: procedure.cite(key) for key in limits},
        "decision": {"rule": procedure.decision.rule, "probability": procedure.decision.probability},
    }


def typed_air(case: Case) -> dict[str, Any]:
    """What is asked beside one reading that is being typed: air and steel alone."""
    return rules(case, "dew_margin_k", "rh_pct_max", "steel_c_min", "steel_c_max")


def typed_surface(case: Case) -> dict[str, Any]:
    """What is asked beside the surface that is being typed; the air is not judged there."""
    asked = rules(case, *(key for key in ConditionLimits.model_fields if key.startswith(("salts", "profile", "dust"))))
    return asked | {"limits": {"dew_margin_k": None, "rh_pct_max": None} | asked["limits"]}


def _surface(case: Case, request: dict[str, Any]) -> None:
    checks = [e.body for e in case.job.of("surface.checked")]
    profiles = [c.profile_um for c in checks if c.profile_um is not None]
    if profiles:
        request["profile_um"] = profiles
    dust = [c for c in checks if c.dust_rating is not None]
    if dust:
        request["dust"] = {"rating": dust[-1].dust_rating}
        if dust[-1].dust_size is not None:
            request["dust"]["size"] = dust[-1].dust_size
    salts = [c for c in checks if c.salts_mg_m2 is not None or _extract(c)]
    if salts:
        last = salts[-1]
        request["salts"] = {"rise_us_cm": last.salt_us_cm, "volume_ml": last.salt_water_ml} if _extract(last) else {}
        if last.salts_mg_m2 is not None:
            request["salts"]["stated_mg_m2"] = last.salts_mg_m2


def _extract(check: SurfaceChecked) -> bool:
    """Whether conductivity and water were both written down, so that the salts follow from them."""
    return check.salt_us_cm is not None and check.salt_water_ml is not None


def _half_a_salt_test(case: Case, step: Step) -> None:
    """Conductivity without its water, or water without conductivity, is no result; that it was read is said."""
    checks = case.job.of("surface.checked")
    half = [e for e in checks if (e.body.salt_us_cm is None) != (e.body.salt_water_ml is None) and e.body.salts_mg_m2 is None]
    if half and half[-1] is checks[-1]:
        step.hold(
            "salts_incomplete",
            f"{half[-1].id} gives only one of conductivity and extraction water; the salts do not follow from it.",
            "Write down conductivity and water, or the result in mg/m².", case.rule_book,
        )
