"""May powder go on? Is the steel hot and was it dry all the way; did the layer below really fuse; what died in the pause?

    bond 249 °C, dry since preparation, 34 min of 240 gone                  → first layer: go
    layer 2 has 22 s of 30 above fusion, heat still on                      → wait 8 s in the same stretch
    lunch of 75 min, film 46 °C                                             → read gas and air again; the layers stand
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta

from ...basis.sentences import say
from ...heat.ask import FORMS
from ..kinds import Event
from ..kinds.heat import LayerFused
from ..rules.dwell import own_rows, timed
from ..step import Step
from ..steps import buildup
from ..steps.heat import log_question
from . import air, of_steps
from .heating import preheat
from .history import not_of_service, service
from .hot_work import gas, permit
from .moment import Moment
from .orders import standing
from .point import Point, Until
from .signing import signed_before

STRETCH_GAP = timedelta(seconds=30)  # without a reading for longer, a stretch above fusion has ended; own judgement


def first_layer(now: Moment) -> Iterator[Point | Until]:
    """First powder on steel."""
    yield from permit(now, "A4.1", core=True)
    yield from gas(now, "A4.3", heat=True)
    yield from service(now, "A4.5")
    yield from of_steps.points(now, "disposition", "A4.6", "X", by="technician", only=not_of_service)
    yield from standing(now, "A4.6")
    yield from signed_before(now, "A4.6", "layer.fused")
    yield from air.surface(now, "A4.6")
    yield from hot_enough(now, "A5.1")
    yield from air.clean(now, "A5.2")
    yield from air.dry_now(now, "A5.3")
    yield from air.clock(now, "A5.4")
    yield from powder(now, "A5.5")


def next_layer(now: Moment) -> Iterator[Point | Until]:
    """Powder on a fused layer."""
    yield from permit(now, "A6.5", core=True)
    yield from gas(now, "A6.5", heat=True)
    yield from service(now, "A4.5")
    yield from standing(now, "A2.2")
    yield from dwelt(now, "A6.1")
    yield from below(now, "A6.3")
    yield from hot_enough(now, "A6.4")
    yield from air.at_layer(now, "A6.5")
    planned = now.planned_layers
    if planned is not None and len(now.layers) >= planned and now.film is None:
        yield Point("A6.4", "Q", "layers", "failing", say("acts.layers_done", n=len(now.layers), planned=planned), "measure",
                    say("acts.layers_measure"), "inspector", "informs", value=len(now.layers), limit=planned,
                    source=now.case.rule_book)
    yield from powder(now, "A6.4")


def restart(now: Moment) -> Iterator[Point | Until]:
    """Heat again after a pause."""
    yield from permit(now, "A7.1", core=True)
    yield from gas(now, "A7.1", heat=True)
    yield from service(now, "A4.5")
    yield from air.at_layer(now, "A7.2", restart=True)
    yield from standing(now, "A2.2")
    yield from preheat(now, "A4.8")
    yield from below(now, "A7.3")
    if not now.layers:
        yield from air.dry_now(now, "A7.2")
        yield from air.clean(now, "A7.3")
        yield from air.clock(now, "A7.3")


def below(now: Moment, rule: str) -> Iterator[Point]:
    """What is known to be bad about the steel and the air under these layers: nobody builds on it.

    What was not read then can no longer be measured.
    """
    if not now.layers:
        return
    step = now.step("conditions")
    for block in step.blocks:
        if block.absent:
            continue
        point = of_steps.point(step, block, rule, "Q", by="technician")
        if block.rule in ("air_during_operation", "air_at_each_layer") or point.state == "missing":
            point = replace(point, state="failing", verb="ask_engineer", what=block.next_move, by="engineer")
        yield point


def dwelt(now: Moment, rule: str) -> Iterator[Point]:
    """Whether the log, as far as it is known now, gave the layer below its time above fusion; one typed later may."""
    logs = now.of("heat.logged")
    if not now.layers or not timed(logs):
        return
    rows = own_rows(now.layers, logs)[-1].rows
    if not rows:
        return
    plan = now.last("heat.planned")
    told = now.case.ask(FORMS, log_question(now.case, logs, plan.body if plan is not None else None) | {"log": list(rows)})
    short = next((f for f in told.findings if f.rule == "bond_dwell"), None)
    if short is None or short.value is None or short.limit is None or short.value >= short.limit:
        return
    ends = max(log.body.started_at + timedelta(seconds=row.time_s) for log in logs for row in log.body.readings)
    hot = now.at - ends <= STRETCH_GAP
    yield Point(rule, "Q", "log", "failing", say("acts.dwell_short", had=short.value, need=short.limit),
                "wait_until" if hot else "measure",
                say("acts.dwell_hold", left=short.limit - short.value) if hot else say("acts.dwell_again", need=short.limit),
                "technician", value=short.value, unit="s", limit=short.limit, source=now.case.procedure.cite("dwell_s_min"))


def hot_enough(now: Moment, rule: str) -> Iterator[Point]:
    """The bond line, as it was measured just now: what was not measured informs, what is too cold waits."""
    need, source = now.limit("fusion_c_min")
    most, top = now.limit("surface_c_max")
    bond, surface = now.given.get("bond_c"), now.given.get("surface_c")
    if bond is not None and need is not None and bond < need:
        yield Point(rule, "Q", "bond", "failing", say("acts.bond_cold", bond=bond, need=need), "correct",
                    say("acts.bond_heat_on"), "technician", value=bond, unit="°C", limit=need, source=source)
    elif bond is None and need is not None:
        yield Point(rule, "Q", "bond", "missing", say("acts.bond_not_read"), "measure", say("acts.bond_read", need=need),
                    "technician", "informs", limit=need, unit="°C", source=source)
    if surface is not None and most is not None and surface > most:
        yield Point(rule, "Q", "surface_heat", "failing", say("acts.surface_hot", surface=surface, most=most), "stop",
                    say("acts.surface_draw_back"), "technician", value=surface, unit="°C", limit=most, source=top)


def powder(now: Moment, rule: str) -> Iterator[Point]:
    """The powder that is weighed, the lot that is to be used, and who uses it, when they are named."""
    yield from _weighed(now, rule)
    lot = now.given.get("lot")
    if lot is None:
        return
    body = LayerFused(number=len(now.layers) + 1, lot=str(lot))
    asked = Event("asked", "layer.fused", now.by, now.at, body)
    step = Step("buildup")
    buildup.lots(now.case, step, [asked])
    buildup.fuser(now.case, step, [asked])
    for block in step.blocks:
        yield of_steps.point(step, block, rule, "Q", by="technician", fact=block.rule)


def _weighed(now: Moment, rule: str) -> Iterator[Point]:
    """More powder than a layer of the procedure takes."""
    grams, (limit, source) = now.given.get("powder_g"), now.limit("layer_um_max")
    plans = now.step("buildup").answers
    if grams is None or limit is None or len(plans) != 1:
        return
    least, likely = buildup.layer_um(plans[0], float(grams), now.case)
    if likely > limit:
        yield Point(rule, "Q", "powder", "failing", say("acts.powder_much", powder=grams, likely=likely, limit=limit),
                    "correct", say("acts.powder_less", powder=float(grams) * limit / likely), "technician",
                    "blocks" if least > limit else "warns", value=likely, unit="um", limit=limit, source=source)
