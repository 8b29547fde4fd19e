"""Heat: was there a plan before the first layer, and does the log say the bond line fused?

The plan is an estimate; the log is what was measured, and the log decides. A missing log is not measured, never good.
"""

from __future__ import annotations

from typing import Any

from ...basis.sentences import say
from ...heat.answers import MODEL
from ...heat.ask import FORMS
from ..case import Case, clock
from ..kinds import Event
from ..kinds.heat import HeatEstimate, HeatPlanned
from ..rules.dwell import layers_that_fit, own_rows, timed
from ..rules.heat_plan import never, rebakes, too_thick
from ..step import Step

NOT_RECORDED = "What the model said of the heat plan was not recorded with it."


def heat(case: Case, disposition: Step) -> Step:
    """Plan and log of the heat."""
    step = Step("heat")
    job = case.job
    layers = job.of("layer.fused")
    plans, logs = job.of("heat.planned"), job.of("heat.logged")
    if plans:
        _plan(case, step, plans[-1].body, disposition)
        _plan_forbids(case, step, plans[-1], disposition, measured=bool(logs))
        if layers and plans[0].at > layers[0].at:
            step.hold("heat_planned_first", "The heat plan was made after the first layer.",
                      "Let the engineer look at it.", case.rule_book)
    else:
        step.lacks("heat_plan", case.requires("heat_plan"), "There is no heat plan.",
                   "Plan preheat, gun and times before the first layer.", case.rule_book)
    if logs:
        plan = plans[-1].body if plans else None
        logged_s, dwell_s = _log(case, step, logs, plan)
        _dwell(case, step, logs, plan, logged_s, dwell_s)
        if layers and not timed(logs) and logs[-1].at < layers[-1].at:
            step.verdict = "not_measured"
            step.hold("heat_logged_to_the_end", f"The heat log ends at {clock(logs[-1].at)}, before the last layer at "
                      f"{clock(layers[-1].at)}.", "Log the heat of every layer; ask the engineer about the ones without.",
                      case.rule_book)
    else:
        step.because = "The heat was not logged: that the bond line fused was not measured."
        step.lacks("heat_log", case.requires("heat_log") and bool(layers), step.because,
                   "Log the readings while fusing; ask the engineer what stands in for the missing log.", case.rule_book)
    return step


def _plan(case: Case, step: Step, plan: Any, disposition: Step) -> None:
    """What the model said when the plan was recorded; the model is not run again."""
    if plan.estimate is None:
        step.cautions.append(NOT_RECORDED)
        return
    step.asked.append(question(case, plan, disposition))
    step.answers.append(plan.estimate.model_dump(mode="json"))
    step.cautions += plan.estimate.cautions


def _plan_forbids(case: Case, step: Step, plan: Event, disposition: Step, *, measured: bool) -> None:
    """A plan that bakes the whole lining again, or heats too thick a plate, is the engineer's; one that never reaches holds
    until a log says otherwise."""
    baked, thick = rebakes(case, plan), too_thick(case)
    if baked is not None:
        lower = "Lower the preheat and plan again; a whole lining is baked again only by the engineer's written instruction."
        step.hold("rebake", baked.because, say("acts.preheat_ask") if baked.bonded else lower, baked.source,
                  "engineering_review", value=baked.start_c, unit="°C", limit=baked.limit_c)
    if thick is not None and not any(block.rule == "plate" for block in disposition.blocks):
        step.hold("plan_plate", thick.because, "Ask the engineer: heat from the steel side, or another way to repair it.",
                  thick.source, "engineering_review", value=thick.plate_mm, unit="mm", limit=thick.limit_mm)
    why = "" if measured else never(plan.body)
    if why:
        step.hold("heat_plan_never", why, "Change the plan (gun, preheat, back) and ask again, or ask the engineer; no heat by "
                  "this one.", "estimate of the heat plan")


def kept(answer: dict[str, Any]) -> HeatEstimate:
    """Which part of the room's answer is kept with a plan."""
    return HeatEstimate.model_validate(
        {"model": MODEL} | {key: answer[key] for key in HeatEstimate.model_fields if key != "model"})


def estimated(case: Case, plan: HeatPlanned, disposition: Step) -> HeatPlanned:
    """A plan with what the model now says about it.

    Raises
    ------
    BenchError
        The room cannot use the plan, and it comes from a sheet, where it can be corrected.
    """
    answer = case.ask(FORMS, question(case, plan, disposition)).model_dump(mode="json")
    return plan.model_copy(update={"estimate": kept(answer)})


def question(case: Case, plan: Any, disposition: Step) -> dict[str, Any]:
    """The request to the heat room: part, lining, the largest repair, and the plan; without a gun when none is given."""
    part = case.job.the("part.identified")
    sizes = [r["greatest_dimension_mm"] for a in disposition.answers for r in a.get("repairs", [])]
    steel = {"material": part.material, "plate_mm": part.plate_mm}
    request = {"part": steel | ({} if part.radius_mm is None else {"radius_mm": part.radius_mm})} | _asked(case)
    if sizes:
        request["spot_d_mm"] = max(sizes)
    if plan is not None:
        request |= {"gun": plan.gun.model_dump(exclude_none=True), "ambient_c": plan.ambient_c,
                    "part_start_c": plan.part_start_c, "back": plan.back}
    return request


def log_question(case: Case, logs: list[Any], plan: Any) -> dict[str, Any]:
    """The request about the heat log: every reading, and the gun it was planned with, if any."""
    request = {"log": _rows(logs)} | _asked(case)
    if (side := _heated_from(logs, plan)) is not None:
        request["heated_from"] = side
    return request | ({"gun": plan.gun.model_dump(exclude_none=True), "ambient_c": plan.ambient_c} if plan is not None else {})


def _heated_from(logs: list[Any], plan: Any) -> str | None:
    """The side the heat came from: as the logs say, all of one side or both; where none says it, as planned."""
    said = {event.body.heated_from for event in logs} - {None}
    if said:
        return said.pop() if len(said) == 1 else "both"
    return None if plan is None else "both" if plan.back == "second_gun" else "front"


def _asked(case: Case) -> dict[str, Any]:
    lining = case.job.the("lining.identified")
    film = {"polymer": lining.polymer, "thickness_mm": lining.thickness_um / 1000}
    return {"lining": film | ({} if lining.melt_class is None else {"melt_class": lining.melt_class}),
            "procedure": case.asked_procedure}


def _dwell(case: Case, step: Step, logs: list[Any], plan: Any, logged_s: float | None, dwell_s: float) -> None:
    """Each layer needs its own time above fusion; readings of one layer prove no other."""
    layers = case.job.of("layer.fused")
    needed = case.requires("heat_log")
    move = "Hold the heat for a full dwell on each layer and log it; ask the engineer about the layers without one."
    source = case.procedure.cite("dwell_s_min")
    if not timed(logs):
        fit = len(layers) if logged_s is None else layers_that_fit(logged_s, dwell_s)
        if fit < len(layers):
            step.lacks("dwell_of_each_layer", needed, f"The log has {logged_s:.0f} s above fusion; {len(layers)} layers of "
                       f"{dwell_s:g} s each, one after another, need {len(layers) * dwell_s:g} s. At most {fit} can have had "
                       "it.", move, source)
        return
    for one in own_rows(layers, logs):
        layer = f"Layer {one.layer.body.number}"
        if not one.rows:
            step.lacks("dwell_of_each_layer", needed, f"{layer}: no reading lies in its own time, up to "
                       f"{clock(one.layer.at)}.", move, source)
            continue
        told = case.ask(FORMS, log_question(case, logs, plan) | {"log": list(one.rows)})
        short = [f for f in told.findings if f.rule in ("bond_fusion", "bond_dwell") and f.verdict != "conforms"]
        if short and short[0].verdict == "does_not_conform":
            step.hold("dwell_of_each_layer", f"{layer}: {short[0].because}", move, source, value=short[0].value,
                      limit=short[0].limit, unit=short[0].unit)
        elif short:
            step.lacks("dwell_of_each_layer", needed, f"{layer}: {short[0].because}", move, source)


def _rows(logs: list[Any]) -> list[dict[str, Any]]:
    """The readings of several logs, on one clock where each says when it began; else as they were typed."""
    if len(logs) < 2 or not timed(logs):
        return [row.model_dump() for event in logs for row in event.body.readings]
    first = min(event.body.started_at for event in logs)
    return [row.model_dump() | {"time_s": row.time_s + (event.body.started_at - first).total_seconds()}
            for event in logs for row in event.body.readings]


def _log(case: Case, step: Step, logs: list[Any], plan: Any) -> tuple[float | None, float]:
    """The whole log; its time above fusion, and the dwell asked of each layer."""
    request = log_question(case, logs, plan)
    found = case.ask(FORMS, request)
    plain = found.model_dump(mode="json")
    step.asked.append(request)
    step.answers.append(plain)
    step.cautions += [c for c in plain.get("cautions", []) if c not in step.cautions]
    step.hold_on(found.findings)
    step.verdict = plain["verdict"]
    against = [finding for finding in found.findings if finding.verdict != "conforms"]
    step.because = against[0].because if against else plain.get("because") or "The log shows the bond line above fusion."
    return plain["bond_dwell_s"], float(plain["dwell_s"])
