"""May the heat go on? Is anything here that burns, will the bond line get there, and can I finish?

    08:47; wiped 08:15, gas 0 % at 08:40, permit to 14:30, plan reaches in 31 min, prepared 07:50   → go
    the plan says the bond line never gets there                                                    → change the plan, ask again
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

from ...basis.sentences import say
from ..case import clock_time
from ..rules.heat_plan import rebakes, too_thick
from . import air, of_steps
from .history import not_of_service, service
from .hot_work import gas, permit, permit_at
from .moment import Moment
from .orders import standing
from .point import Point, Until
from .signing import signed_before


def heat_on(now: Moment) -> Iterator[Point | Until]:
    """Gun, second gun, oven, blanket."""
    yield from permit(now, "A4.1", core=True)
    yield from gas(now, "A4.3", heat=True)
    yield from service(now, "A4.5")
    yield from standing(now, "A4.6")
    if not now.layers:
        yield from of_steps.points(now, "survey", "A4.6", "X", by="technician")
        yield from of_steps.points(now, "disposition", "A4.6", "X", by="technician", only=not_of_service)
        yield from air.surface(now, "A4.6")
        yield from signed_before(now, "A4.6", "layer.fused")
        yield from air.clean(now, "A4.11")
        yield from air.clock(now, "A4.10")
    yield from estimate(now, "A4.7")
    yield from preheat(now, "A4.8")
    yield from _time(now, "A4.10")


def estimate(now: Moment, rule: str) -> Iterator[Point]:
    """What the model said of the plan. It may say no; when it says yes the probe still decides."""
    plan = now.last("heat.planned")
    if plan is None:
        weight = "blocks" if now.case.requires("heat_plan") else "informs"
        yield Point(rule, "Q", "heat_estimate", "missing", say("acts.plan_missing"), "measure", say("acts.plan_it"),
                    "technician", weight, source=now.case.rule_book)  # type: ignore[arg-type]
        return
    told = plan.body.estimate
    if told is None or (told.bond_reaches_fusion and told.overheats_first is None):
        return
    sure = told.verdict == "does_not_conform"
    needs = told.preheat_needed_c
    what = say("acts.plan_change") if needs is None else say("acts.plan_preheat", preheat=needs)
    yield Point(rule, "Q", "heat_estimate", "failing", told.because, "correct", what, "technician",
                "blocks" if sure else "warns", source=f"estimate, {told.model}")


def preheat(now: Moment, rule: str) -> Iterator[Point]:
    """A part heated as a whole stays below where any lining on it begins to melt; no plate is thicker than hot air is for."""
    plan = now.last("heat.planned")
    if plan is None:
        return
    baked, thick = rebakes(now.case, plan), too_thick(now.case)
    if baked is not None:
        because = (baked.because if baked.bonded else
                   say("acts.preheat_above", start=baked.start_c, limit=baked.limit_c) if baked.melts_c is None else
                   say("acts.preheat_melts", start=baked.start_c, polymer=baked.polymer, limit=baked.limit_c,
                       melts=baked.melts_c))
        yield Point(rule, "Q", "part_start", "failing", because, "ask_engineer", say("acts.preheat_ask"), "engineer",
                    value=baked.start_c, unit="°C", limit=baked.limit_c, source=baked.source)
    if thick is not None and not any(block.rule == "plate" for block in now.step("disposition").blocks):
        yield Point(rule, "Q", "plate", "failing", say("acts.plate_thick", plate=thick.plate_mm, limit=thick.limit_mm),
                    "ask_engineer", say("acts.plate_ask"), "engineer", value=thick.plate_mm, unit="mm", limit=thick.limit_mm,
                    source=thick.source)


def _time(now: Moment, rule: str) -> Iterator[Point]:
    """Whether the heat-up, at its slowest, fits before the permit and the preparation end."""
    plan, held = now.last("heat.planned"), permit_at(now)
    told = plan.body.estimate if plan is not None else None
    if told is None or told.bond_fusion_at_s is None:
        return
    reached = now.at + timedelta(seconds=told.bond_fusion_at_s * (1 + told.band_pct[-1] / 100))
    limit, _ = now.limit("prep_to_layer_min_max")
    ends = [held.body.until] if held is not None else []
    if limit is not None and now.prepared is not None and not now.layers:
        ends.append(now.prepared.at + timedelta(minutes=limit))
    if ends and now.at <= min(ends) < reached:
        yield Point(rule, "Q", "time_left", "odd",
                    say("acts.time_short", reached=clock_time(reached, now.at), end=clock_time(min(ends), now.at)), "correct",
                    say("acts.plan_again"), "technician", "warns", source="estimate")
