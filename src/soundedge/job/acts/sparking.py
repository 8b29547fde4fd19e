"""May the voltage go on? Which zone, by which method, at which voltage, and is the air clear?

    overlap 1150 to 1330 µm, film signed, gas 0 %       → go: between the zone's lowest and highest voltage
    overlap 640 to 1900 µm                              → no: the lowest voltage is above the highest; split the zone on the map
    a zone without readings                             → no window, so it is not sparked: measure it

The window is the holiday room's, asked with all that the procedure says.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from ...basis.sentences import say
from ...basis.sources import cite
from ...holiday.ask import FORMS
from ...holiday.window import WET_SPONGE_UM
from ..case import clock_time
from ..rules.old_film import SOURCE, ground
from ..steps.holiday import BEFORE_A_TEST, NOT_BY_VOLTAGE, went_over, wet_until, zones_question
from . import of_steps
from .gauging import cold
from .hot_work import gas
from .moment import Moment
from .point import Point, Until, Weight
from .signing import signed_before

ZONES = ("repair", "overlap", "parent")


def spark_on(now: Moment, zone: str) -> Iterator[Point | Until]:
    """The test of one zone; not of one that voltage says nothing about, nor of one that was accepted untested."""
    barred = list(_barred(now, zone))
    if barred:
        yield from barred
        return
    yield from gas(now, "A11.1", spark=True)
    yield from cold(now, "A11.3")
    if now.film is None:
        yield Point("A11.4", "Q", "film", "missing", say("acts.zone_not_measured", zone=zone), "measure",
                    say("acts.zone_measure"), "inspector", source=now.case.rule_book)
        return
    yield from of_steps.points(now, "thickness", "A11.4", "Q", by="inspector", fact="film")
    yield from signed_before(now, "A11.13", "holiday.tested")
    held = windows(now)
    if zone not in held:
        yield Point("A11.4", "Q", "film", "missing", say("acts.zone_not_measured", zone=zone), "measure",
                    say("acts.zone_measure"), "inspector", source=now.case.rule_book)
        return
    if _by_sponge(now, held[zone]):
        yield from _thin_enough(now, held[zone])
    else:
        yield from _dry(now)
        yield from _window(now, held[zone])
    yield from last_test(now, zone)


def _barred(now: Moment, zone: str) -> Iterator[Point]:
    """Old film from service without a written voltage, film that conducts, and what is waived."""
    accepted = next((one for one in now.step("holiday").not_done if one.fact == "spark" and one.zone == zone), None)
    why = ground(now.case, zone, lettered=bool(now.given.get("letter")))
    rule = "A11.9" if why == "conductive" else "A11.6" if why is None else "A11.8"
    if accepted is not None:
        yield Point(rule, "Q", "spark", "waived", accepted.said, "stop", say("acts.spark_waived_then"), "inspector",
                    source=now.case.rule_book)
    elif why is not None:
        because, move = NOT_BY_VOLTAGE[why]
        owner = why == "in_service"
        yield Point(rule, "Q", "service" if owner else "conductive", "failing", because(zone),
                    "ask_owner" if owner else "ask_engineer", move, "owner" if owner else "engineer", source=SOURCE)


def untested(now: Moment) -> set[str]:
    """The zones that were accepted untested."""
    return {one.zone for one in now.step("holiday").not_done if one.fact == "spark" and one.zone is not None}


def windows(now: Moment) -> dict[str, dict[str, Any]]:
    """Each zone that was measured, with its window; empty when nothing was."""
    answers = now.step("thickness").answers
    if now.film is None or not answers:
        return {}
    request = zones_question(now.case, answers[0], BEFORE_A_TEST)
    if not request["zones"]:
        return {}
    plain = now.case.ask(FORMS, request).model_dump(mode="json")
    return {str(one["zone"]): one for one in plain["zones"]}


def passed(now: Moment) -> set[str]:
    """The zones whose test stands."""
    return {str(zone["zone"]) for answer in now.step("holiday").answers for zone in answer.get("zones", [])
            if zone.get("status") == "passed"}


def last_test(now: Moment, zone: str) -> Iterator[Point]:
    """Why this zone is tested again: what the last test of it was worth. A hole is closed by a layer, not by another test."""
    tried = any(went_over(test, zone) for test in now.of("holiday.tested"))
    for block in now.step("holiday").blocks:
        if (tried and block.because.startswith(f"Zone {zone}:")) or (block.rule == "no_holiday" and block.kind == "rejected"):
            weight: Weight = "blocks" if block.kind == "rejected" else "warns"
            yield of_steps.point(now.step("holiday"), block, "A11.7", "Q", by="inspector", fact="voltage", weight=weight)


def _by_sponge(now: Moment, zone: dict[str, Any]) -> bool:
    """Whether it is by wet sponge: as its entry says, or as the room advises for a film so thin. It has no window."""
    return bool(now.given.get("electrode", zone["method"]) == "wet_sponge")


def _thin_enough(now: Moment, zone: dict[str, Any]) -> Iterator[Point]:
    """The low voltage of a wet sponge finds nothing through thick film."""
    if zone["method"] != "wet_sponge":
        thickest = zone["film_um"]["max"]
        yield Point("A11.5", "Q", "method", "failing", say("acts.sponge_thick", film=thickest, most=WET_SPONGE_UM), "correct",
                    say("acts.sponge_not"), "inspector", value=thickest, unit="um", limit=WET_SPONGE_UM,
                    source=cite("astm_d5162"))


def _dry(now: Moment) -> Iterator[Point]:
    """High voltage waits after a wet sponge anywhere on the part."""
    until = wet_until(now.case, now.at)
    if until is not None:
        wait = clock_time(until, now.at)
        yield Point("A11.12", "Q", "spark_place", "failing", say("acts.sponge_wet", until=wait), "wait_until",
                    say("acts.sponge_wait", until=wait), "inspector", source=now.case.procedure.cite("sponge_to_spark_min"))


def _window(now: Moment, zone: dict[str, Any]) -> Iterator[Point]:
    low, high = zone["low_v"], zone["high_v"]
    if zone["method"] == "high_voltage" and low is not None and high is not None and low > high:
        yield Point("A11.6", "Q", "window", "failing", say("acts.window_empty", zone=str(zone["zone"]), low=low, high=high),
                    "correct", say("acts.window_split"), "inspector", value=low, unit="V", limit=high,
                    source=now.case.rule_book)
        return
    volts = now.given.get("voltage_v")
    if volts is not None and low is not None and volts < low:
        yield Point("A11.7", "Q", "voltage", "failing", say("acts.voltage_low", volts=volts, low=low), "correct",
                    say("acts.voltage_set"), "inspector", value=volts, unit="V", limit=low, source=now.case.rule_book)
    elif volts is not None and high is not None and volts > high:
        yield Point("A11.7", "Q", "voltage", "failing", say("acts.voltage_high", volts=volts, high=high), "correct",
                    say("acts.voltage_set"), "inspector", value=volts, unit="V", limit=high, source=now.case.rule_book)
