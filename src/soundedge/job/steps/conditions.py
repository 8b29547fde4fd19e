"""Conditions: did the steel stay dry, clean and rough enough, and did every layer come in good air and in time?

Preparation to first layer is one stretch; each later layer, and each restart after a pause, has the air of its own time
(rules/air.py).
"""

from __future__ import annotations

from typing import Any

from ...basis.finding import Finding, Verdict, worst
from ...basis.sentences import say
from ...conditions.ask import FORMS
from ...conditions.given import ConditionLimits
from ..case import Case, clock, clock_time
from ..kinds import Event
from ..kinds.surface import SurfaceChecked
from ..rules.air import Against, at, limits_for, since_preparation
from ..rules.pause import hot_since, paused
from ..rules.waived import waived
from ..step import Step

_VERDICT: dict[str, Verdict] = {
    "missing": "not_measured", "old": "not_measured", "odd": "indeterminate", "failing": "does_not_conform",
}
_SURFACE = {
    "surface_profile": ("profile_um", ("profile_um_min", "profile_um_max")),
    "salts": ("salts", ("salts_mg_m2_max",)),
    "dust": ("dust", ("dust_rating_max", "dust_size_max")),
}
# Fact → the room's findings about it.
RULES_OF = {"surface_profile": ("profile_min", "profile_max"), "salts": ("soluble_salts", "soluble_salts_stated"),
            "dust": ("dust_rating", "dust_size")}


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
                   say("acts.prepare_and_record") if first is None else say("acts.prepared_record"), case.rule_book)
    _after_preparation(case, step)
    _half_a_salt_test(case, step)
    if not log:
        return step
    request = question(case)
    found = case.ask(FORMS, request)
    plain = found.model_dump(mode="json")
    step.asked, step.answers = [request], [plain]
    step.cautions = plain["cautions"]
    accepted = {what: one for what in _SURFACE if (one := waived(case, what)) is not None}
    for finding in found.findings:
        what = next((what for what, rules_ in RULES_OF.items() if finding.rule in rules_), "")
        if what in accepted and finding.verdict == "not_measured" and finding.value is None:
            step.findings.append(finding)
            step.waive(accepted[what])
        elif finding.verdict == "not_measured" and finding.value is None:
            step.findings.append(finding)
            step.lacks(finding.rule, True, finding.because, finding.next_move, finding.source)
        else:
            step.hold_on([finding])
    for what, (key, limits) in _SURFACE.items():
        if key not in request and what in accepted:
            step.waive(accepted[what])
        elif key not in request and not any(limit in case.procedure.limits for limit in limits):
            step.lacks(what, case.requires(what), f"The {what.replace('_', ' ')} was not measured.", "Measure it.",
                       case.rule_book)
    left = [rule for one in step.not_done for rule in RULES_OF[one.fact]]
    step.because = _said(plain, [one for one in found.findings if one.rule not in left], first is not None)
    against = [*_before_the_first_layer(case, step), *_later_layers(case, step)]
    step.verdict = worst([plain["verdict"], *(_VERDICT[one.state] for one in against)])
    if against and plain["verdict"] == "conforms":
        step.because = against[0].because
    return step


def _before_the_first_layer(case: Case, step: Step) -> list[Against]:
    """Whether the steel stayed dry from its preparation to its first layer; to the last reading while there is none."""
    first, prepared, last = case.job.first_layer_at(), _prepared(case), case.job.of("air.read")[-1].at
    if prepared is None or (first is None and last < prepared.at):  # the next reading is asked before the heat
        return []
    end = first or last
    against = since_preparation(case, prepared.at, end)
    for one in against:
        wet = one.fact == "condensed" and one.state == "failing"
        move = one.what if first is None else say("acts.layers_on_wet") if wet else say("acts.air_lost")
        step.hold("condensed" if one.fact == "condensed" else "air_during_operation", one.because, move, one.source,
                  value=one.value, limit=one.limit, unit=one.unit, absent=first is None and one.state in ("missing", "old"))
    if first is not None and not against:
        step.findings.append(Finding(
            rule="air_during_operation", value=None, limit=case.procedure.value("dew_margin_k"), sense="at_least", unit="K",
            as_written="conforms", verdict="conforms", because=say("acts.air_dry", start=clock_time(prepared.at, first),
                                                                   end=clock_time(first, first)), next_move="Go on.",
            source=case.procedure.cite("dew_margin_k")))
    return against


def _later_layers(case: Case, step: Step) -> list[Against]:
    """The air at every layer after the first, and at every restart, each at its own time; one block for one fault."""
    first = case.job.first_layer_at()
    later = case.job.of("layer.fused")[1:]
    restarts = [e for e in case.job.of("heat.started") if first is not None and first < e.at and paused(case, e.at) is not None]
    found: dict[tuple[str, str], tuple[Against, list[Event]]] = {}
    for event in sorted([*later, *restarts], key=lambda e: e.at):
        for one in at(case, event.at, restart=event in restarts):
            found.setdefault((one.fact, one.state), (one, []))[1].append(event)
    for one, events in found.values():
        layers = [str(e.body.number) for e in events if e.kind == "layer.fused"]
        when = clock_time(events[0].at, events[0].at)
        name = say("acts.at_layers", layers=layers, n=len(layers), at=when) if layers else say("acts.at_restart", at=when)
        rule = "abraded" if one.fact == "abraded" else "air_at_each_layer"
        step.hold(rule, say("acts.air_then", which=name, because=one.because), say("acts.layer_engineer"), one.source,
                  value=one.value, limit=one.limit, unit=one.unit)
    return [one for one, _ in found.values()]


def _prepared(case: Case) -> Event | None:
    """The last preparation before the first layer."""
    first = case.job.first_layer_at()
    found = [e for e in case.job.of("surface.prepared") if first is None or e.at <= first]
    return found[-1] if found else None


def _checks(case: Case) -> list[Event]:
    """The checks of the surface as it was prepared last; those before it while there are no others."""
    prepared, checks = _prepared(case), case.job.of("surface.checked")
    return [e for e in checks if prepared is None or e.at >= prepared.at] or checks


def _after_preparation(case: Case, step: Step) -> None:
    """A surface checked before it was prepared again is not the surface the first layer lies on."""
    prepared, checks = _prepared(case), _checks(case)
    if prepared is not None and checks and checks[-1].at < prepared.at:
        step.hold(
            "surface_checked_as_prepared",
            f"{checks[-1].id} was checked at {clock(checks[-1].at)}, before the steel was prepared at "
            f"{clock(prepared.at)}.", "Check the surface as it is after the last preparation.", case.rule_book,
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
    until = None if first is None else hot_since(case, first) or first
    before = [e for e in log if until is None or e.at <= until]
    counts = (before or log)[-1].body
    request: dict[str, Any] = {
        "air_c": counts.air_c, "rh_pct": counts.rh_pct, "steel_c": counts.steel_c,
        "series": [
            {"at": e.at.isoformat(), "air_c": e.body.air_c, "rh_pct": e.body.rh_pct, "steel_c": e.body.steel_c} for e in log
        ],
    } | limits_for(case, *ConditionLimits.model_fields)
    tool = job.instruments.get(counts.instrument or "")
    if tool is not None and tool.tol:
        request["tol_air_k"] = request["tol_steel_k"] = tool.tol
    prepared = _prepared(case)
    if prepared is not None:
        end = first or max(log[-1].at, prepared.at)
        request["prepared_at"] = prepared.at.isoformat()
        request["first_layer_at" if first else "now"] = end.isoformat()
    _surface(case, request)
    return request


def typed_air(case: Case) -> dict[str, Any]:
    """What is asked beside one reading that is being typed: air and steel alone."""
    return limits_for(case, "dew_margin_k", "rh_pct_max", "steel_c_min", "steel_c_max")


def typed_surface(case: Case) -> dict[str, Any]:
    """What is asked beside the surface that is being typed; the air is not judged there."""
    asked = limits_for(case, *(key for key in ConditionLimits.model_fields if key.startswith(("salts", "profile", "dust"))))
    return asked | {"limits": {"dew_margin_k": None, "rh_pct_max": None} | asked["limits"]}


def _surface(case: Case, request: dict[str, Any]) -> None:
    checks = [e.body for e in _checks(case)]
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
    checks = _checks(case)
    half = [e for e in checks if (e.body.salt_us_cm is None) != (e.body.salt_water_ml is None) and e.body.salts_mg_m2 is None]
    if half and half[-1] is checks[-1]:
        step.hold(
            "salts_incomplete",
            f"{half[-1].id} gives only one of conductivity and extraction water; the salts do not follow from it.",
            "Write down conductivity and water, or the result in mg/m².", case.rule_book,
        )
