"""Hazards: was the vapour measured before heat, the permit in force, the fire watch kept? Estimates; the meter decides."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from ...basis.sentences import Sentence, say
from ...hazards.ask import FORMS
from ..case import Case, clock
from ..kinds import Event
from ..odd import SOURCE as ODD
from ..odd import Odd, kept
from ..rules.breach import closed
from ..rules.gas import Gas, gas_at, permit_at
from ..rules.hot import heated, last_heat
from ..rules.seen import SHIFT
from ..step import Step

JUST_AFTER = timedelta(minutes=10)  # own judgement
MUCH_PCT = 50.0  # own judgement: by estimate, of the explosive limit


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
    for event in job.of("solvent.used"):
        request = question(case) | event.body.model_dump(exclude_none=True)
        plain = case.ask(FORMS, request).model_dump(mode="json")
        step.asked.append(request)
        step.answers.append(plain)
        step.cautions += [c for c in plain.get("cautions", []) if c not in step.cautions]
    for odd in zero_after_much(case):
        step.hold(odd.rule, f"{odd.entry}: {odd.because}", odd.move, ODD)
    hot = heated(job)
    for one in hot:
        gas = gas_at(case, one.at, required=case.requires("vapour_reading"))
        if gas.state in ("missing", "old", "high") and _closed(case, step, one.event, gas.because):
            continue
        if gas.state in ("missing", "old"):
            step.lacks("vapour_reading", True, gas.because, say("acts.breach_no_gas", entry=one.event.id),
                       case.procedure.cite("lel_pct_max"))
            return
        if gas.state == "high":
            _high(case, step, gas, say("acts.breach_report", entry=one.event.id))
    read = job.of("solvent.used", "vapour.read")
    if not hot and read:
        gas = gas_at(case, read[-1].at, required=False)
        if gas.state == "missing":
            step.missing.append("vapour_reading")
        elif gas.state == "high":
            _high(case, step, gas, say("acts.gas_ventilate"))


def zero_after_much(case: Case) -> list[Odd]:
    """A meter that shows nothing just after a solvent of which the estimate is half the explosive limit or more: asked back,
    unless it was tried on known gas in that shift."""
    found = []
    for read in case.job.of("vapour.read")[-1:]:  # one before it was read again
        wiped = [event for event in case.job.of("solvent.used") if event.at <= read.at]
        if read.body.lel_pct or not wiped or read.at - wiped[-1].at > JUST_AFTER:
            continue
        tried = [event for event in case.job.of("meter.bumped")
                 if event.body.instrument == read.body.instrument and timedelta() <= read.at - event.at <= SHIFT]
        told = case.ask(FORMS, question(case) | wiped[-1].body.model_dump(exclude_none=True))
        if not tried and told.lel_pct > MUCH_PCT:
            minutes = round((read.at - wiped[-1].at).total_seconds() / 60)
            found.append(Odd(read.id, "lel_pct", 0.0, "%", say("acts.gas_nothing", pct=told.lel_pct, minutes=minutes),
                             say("acts.gas_nothing_move")))
    return [one for one in found if not kept(case.job, one)]


def _high(case: Case, step: Step, gas: Gas, move: Sentence) -> None:
    """The meter did not allow heat; the job is held once for each such reading."""
    if not any(block.because == gas.because for block in step.blocks):
        step.hold("vapour", gas.because, move, case.procedure.cite("lel_pct_max"),
                  value=gas.share_pct, limit=gas.limit_pct, unit="%")


def question(case: Case) -> dict[str, Any]:
    """What the room is asked beside a solvent: the procedure's limit, and the planned gun's air."""
    procedure, plan = case.procedure, case.job.last("heat.planned")
    asked: dict[str, Any] = {}
    if "lel_pct_max" in procedure.limits:
        asked |= {"lel_limit_pct": procedure.value("lel_pct_max"), "limit_source": procedure.cite("lel_pct_max")}
    if plan is not None:
        asked["gun_air_c"] = plan.body.gun.air_c
    return asked


def _permit(case: Case, step: Step) -> None:
    hot = heated(case.job)
    permits = case.job.of("permit.issued")
    if not permits:
        none = say("acts.permit_missing")
        if not hot or not all([_closed(case, step, one.event, none) for one in hot]):
            move = say("acts.breach_no_permit", entry=hot[0].event.id) if hot else say("acts.permit_ask")
            step.lacks("permit", bool(hot), none, move, case.rule_book)
        return
    longest = case.procedure.value("permit_min_max")
    for permit in permits:
        minutes = (permit.body.until - permit.at).total_seconds() / 60
        if longest is not None and minutes > longest:
            step.hold("permit_length", f"Permit {permit.body.number} runs for {minutes:g} min; at most {longest:g} min are "
                      "allowed.", "Write a new permit for each shift.", case.procedure.cite("permit_min_max"),
                      value=minutes, limit=longest, unit="min")
    for one in hot:
        if permit_at(case.job, one.at) is None:
            because = f"{one.what} at {clock(one.at)} lies outside every hot-work permit."
            if _closed(case, step, one.event, because):
                continue
            step.hold("permit", because, say("acts.breach_report", entry=one.event.id), case.rule_book)
            return


def _closed(case: Case, step: Step, event: Event, because: str) -> bool:
    """Whether the report of a breach was closed; it is then printed, and holds nothing."""
    said = closed(case, event, because)
    if said is not None and said not in step.cautions:
        step.cautions.append(said)
    return said is not None


def _fire_watch(case: Case, step: Step) -> None:
    ended = case.job.of("hot_work.ended")
    layers, heat = case.job.of("layer.fused"), last_heat(case)
    needed = case.procedure.value("fire_watch_min")
    if not ended:
        step.lacks("fire_watch", case.requires("fire_watch") and bool(layers), "The end of hot work and its fire watch are "
                   "not recorded.", "Record when heat ended and how long somebody watched.",
                   case.procedure.cite("fire_watch_min"))
        return
    if heat is not None and ended[-1].at < heat:
        last = "layer" if layers and layers[-1].at == heat else "heat"
        step.hold("fire_watch_after_heat", f"The fire watch began at {clock(ended[-1].at)}, before the last {last} at "
                  f"{clock(heat)}.", "Record the end of the last heat and the watch after it.", case.rule_book)
    watched = (ended[-1].body.fire_watch_until - ended[-1].at).total_seconds() / 60
    if needed is None or watched >= needed:
        return
    because = f"The fire watch lasted {watched:g} min; the procedure asks for {needed:g} min."
    if not _closed(case, step, ended[-1], because):
        step.hold("fire_watch", because, say("acts.breach_report", entry=ended[-1].id),
                  case.procedure.cite("fire_watch_min"), value=watched, limit=needed, unit="min")
