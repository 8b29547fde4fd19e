"""Hazards: was the vapour measured before heat, the permit in force, the fire watch kept? Estimates; the meter decides."""

from __future__ import annotations

from typing import Any

from ...hazards.ask import FORMS
from ..case import Case, clock
from ..step import Step


def hazards(case: Case) -> Step:
    """Solvent against the meter, permit against the layers, fire watch against its length."""
    step = Step("hazards")
    _solvent(case, step)
    _permit(case, step)
    _fire_watch(case, step)
    done = case.job.of("solvent.used", "vapour.read", "permit.issued", "hot_work.ended")
    against = [block for block in step.blocks if not block.absent]
    step.verdict = "does_not_conform" if against else ("not_measured" if step.missing or not done else "conforms")
    if against:
        step.because = against[0].because
    elif done:
        step.because = "Permit, gas reading and fire watch are recorded." if not step.missing else (
            f"Not recorded: {', '.join(step.missing).replace('_', ' ')}.")
    return step


def _solvent(case: Case, step: Step) -> None:
    job = case.job
    limit = case.procedure.value("lel_pct_max") or 10.0
    used = job.of("solvent.used")
    for event in used:
        request = question(case) | event.body.model_dump(exclude_none=True)
        plain = case.ask(FORMS, request).model_dump(mode="json")
        step.asked.append(request)
        step.answers.append(plain)
        step.cautions += [c for c in plain.get("cautions", []) if c not in step.cautions]
    read = job.of("vapour.read")
    heats = [e.at for e in job.of("layer.fused")]
    if not heats:
        if read and (not used or read[-1].at >= used[-1].at):
            _within(case, step, read[-1], limit)
        elif used:
            step.missing.append("vapour_reading")
        return
    for heat in heats:
        solvents = [e for e in used if e.at <= heat]
        readings = [e for e in read if e.at <= heat and (not solvents or e.at >= solvents[-1].at)]
        if readings:
            if _within(case, step, readings[-1], limit):
                continue
        elif solvents or case.requires("vapour_reading"):
            step.lacks(
                "vapour_reading", True,
                f"Flammable gas was not measured between the last solvent and the heat at {clock(heat)}."
                if solvents else f"Flammable gas was not measured before the heat at {clock(heat)}.",
                "An estimate does not stand in for the meter: no heat before it has read.",
                case.procedure.cite("lel_pct_max"),
            )
        return


def question(case: Case) -> dict[str, Any]:
    """What the room is asked beside a solvent: the procedure's limit, and the planned gun's air."""
    procedure, plan = case.procedure, case.job.last("heat.planned")
    asked: dict[str, Any] = {}
    if "lel_pct_max" in procedure.limits:
        asked |= {"lel_limit_pct": procedure.value("lel_pct_max"), "limit_source": procedure.cite("lel_pct_max")}
    if plan is not None:
        asked["gun_air_c"] = plan.body.gun.air_c
    return asked


def _within(case: Case, step: Step, read: Any, limit: float) -> bool:
    """Whether the meter allowed heat; if not, the job is held."""
    if read.body.lel_pct <= limit:
        return True
    step.hold(
        "vapour", f"The meter read {read.body.lel_pct:g} % of the explosive limit at {clock(read.at)}; at most "
        f"{limit:g} % is allowed.", "No heat. Ventilate and measure again.", case.procedure.cite("lel_pct_max"),
        value=read.body.lel_pct, limit=limit, unit="%",
    )
    return False


def _permit(case: Case, step: Step) -> None:
    layers = case.job.of("layer.fused")
    permits = case.job.of("permit.issued")
    if not permits:
        step.lacks("permit", case.requires("permit") and bool(layers), "No hot-work permit is recorded.",
                   "No heat without a permit.", case.rule_book)
        return
    longest = case.procedure.value("permit_min_max")
    for permit in permits:
        minutes = (permit.body.until - permit.at).total_seconds() / 60
        if longest is not None and minutes > longest:
            step.hold("permit_length", f"Permit {permit.body.number} runs for {minutes:g} min; at most {longest:g} min are "
                      "allowed.", "Write a new permit for each shift.", case.procedure.cite("permit_min_max"),
                      value=minutes, limit=longest, unit="min")
    for layer in layers:
        if not any(p.at <= layer.at <= p.body.until for p in permits):
            step.hold("permit", f"Layer {layer.body.number} at {clock(layer.at)} lies outside every hot-work permit.",
                      "Report it; let the engineer decide.", case.rule_book)
            return


def _fire_watch(case: Case, step: Step) -> None:
    ended = case.job.of("hot_work.ended")
    layers = case.job.of("layer.fused")
    needed = case.procedure.value("fire_watch_min")
    if not ended:
        step.lacks("fire_watch", case.requires("fire_watch") and bool(layers), "The end of hot work and its fire watch are "
                   "not recorded.", "Record when heat ended and how long somebody watched.",
                   case.procedure.cite("fire_watch_min"))
        return
    if layers and ended[-1].at < layers[-1].at:
        step.hold("fire_watch_after_heat", f"The fire watch began at {clock(ended[-1].at)}, before the last layer at "
                  f"{clock(layers[-1].at)}.", "Record the end of the last heat and the watch after it.", case.rule_book)
    kept = (ended[-1].body.fire_watch_until - ended[-1].at).total_seconds() / 60
    if needed is not None and kept < needed:
        step.hold("fire_watch", f"The fire watch lasted {kept:g} min; the procedure asks for {needed:g} min.",
                  "Report it; watch longer next time.", case.procedure.cite("fire_watch_min"), value=kept, limit=needed,
                  unit="min")
