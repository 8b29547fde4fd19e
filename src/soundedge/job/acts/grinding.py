"""May I cut into the film? Is it decided, is it clean of product, how far may I go?

    outlined as found, decided, permit on, 23 mm to the seal face of which 20 are kept out, u 0.4 mm → go, with 2.2 mm to spare
    nothing outlined                                                                              → outline it first

The first cut takes the evidence of what was there away, so it waits for the outline and the decision.
"""

from __future__ import annotations

from collections.abc import Iterator

from ...basis.sentences import say
from ..rules.repairs import found_in
from . import of_steps
from .history import not_of_service, service
from .hot_work import gas, permit
from .moment import Moment
from .orders import standing
from .point import Point, Until


def grind(now: Moment) -> Iterator[Point | Until]:
    """First cut into the film, bevel, blast, feather."""
    if not now.job.of("damage.outlined"):
        yield Point("A2.1", "X", "outline", "missing", say("acts.outline_missing"), "measure", say("acts.outline_first"),
                    "technician", source=now.case.rule_book)
        return
    yield from decided(now, "A2.2")
    yield from service(now, "A2.3")
    if now.asked.repaired:  # film dressed by hand makes no sparks
        yield from permit(now, "A2.5", core=False)
    yield from gas(now, "A2.5")
    yield from stop_line(now, "A2.6")


def decided(now: Moment, rule: str) -> Iterator[Point | Until]:
    """May it be repaired at all, under this procedure?"""
    yield from of_steps.points(now, "survey", rule, "X", by="technician", only=lambda b: b.rule != "as_prepared")
    yield from of_steps.points(now, "disposition", rule, "X", by="technician", only=not_of_service)
    yield from standing(now, rule)


def stop_line(now: Moment, rule: str) -> Iterator[Point]:
    """How far the repair may still grow before it meets a surface that is kept out."""
    least = now.limit("stop_line_mm_min")[0] or 0.0
    for repair in found_in(now.step("disposition")):
        if now.repair is not None and now.repair not in repair["members"]:
            continue
        found = next((f for f in repair["findings"] if f["rule"] == "keep_out"), None)
        if found is None or found["verdict"] != "conforms" or found["value"] is None:
            continue
        left = found["value"] - found["limit"] - 2 * (found["u"] or 0.0)
        if left < least:
            yield Point(rule, "Q", "keep_out_gap", "odd",
                        say("acts.stop_line", left_mm=left, kind=str(repair["nearest_keep_out"]).replace("_", " ")),
                        "ask_engineer", say("acts.stop_line_then"), "engineer", "warns", value=left, unit="mm",
                        limit=found["limit"], source=now.case.procedure.cite("stop_line_mm_min"))
