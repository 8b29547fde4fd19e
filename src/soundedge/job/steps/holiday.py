"""Holiday: was the test made after the thickness, inside the voltage window, proved on a coupon, and what did it find?

A test below the window proves nothing: it is void, not passed.
"""

from __future__ import annotations

from typing import Any

from ...holiday.ask import FORMS
from ..case import Case, clock
from ..step import Step


def holiday(case: Case, thickness: Step) -> Step:
    """The latest test that counts, judged against the window of the film that was measured."""
    step = Step("holiday")
    job = case.job
    tests = job.of("holiday.tested")
    film = job.last("film.measured")
    if not tests:
        step.because = "No high-voltage test was made."
        step.lacks("holiday_test", True, step.because, "Test repair, overlap and the parent film around it.",
                   case.rule_book)
        return step
    test = tests[-1]
    if film is None or not thickness.answers:
        step.hold("thickness_first", "The holiday test was made before any film was measured; its voltage rests on nothing.",
                  "Measure the film, then test again.", case.rule_book)
        return step
    if test.at < film.at:
        step.hold(
            "thickness_first",
            f"The holiday test at {clock(test.at)} came before the film was measured at {clock(film.at)}.",
            "Test again, at a voltage for the film as measured.", case.rule_book,
        )
    request = question(case, thickness.answers[0], test.body)
    found = case.ask(FORMS, request)
    plain = found.model_dump(mode="json")
    step.asked, step.answers = [request], [plain]
    step.cautions = plain["cautions"]
    step.hold_on(found.findings)
    _as_done(case, step, test, plain)
    if test.body.holidays:
        places = ", ".join(f"x {h.x:g}, y {h.y:g}" for h in test.body.holidays[:5])
        step.hold(
            "no_holiday", f"The test found {len(test.body.holidays)} holiday(s), at {places} mm.",
            "Grind back there, repair and test that zone again.", case.rule_book, "rejected",
            value=len(test.body.holidays), limit=0,
        )
    _word(step, test, plain)
    return step


def _word(step: Step, test: Any, plain: dict[str, Any]) -> None:
    volts = f"{(test.body.verified_v or test.body.voltage_v) / 1000:g} kV"
    if test.body.holidays:
        step.verdict = "does_not_conform"
        step.because = step.blocks[-1].because
    elif step.blocks:
        step.verdict = "not_measured"
        step.because = f"The test at {volts} is void: {step.blocks[0].because}"
    else:
        step.verdict = "conforms"
        step.because = f"Tested at {volts}; no holiday was found. {(plain.get('stated') or {}).get('proves') or ''}".strip()


def question(case: Case, film: dict[str, Any], test: Any) -> dict[str, Any]:
    """The request to the holiday room: the film as measured and corrected, the voltage at the electrode."""
    procedure = case.procedure
    lining = case.job.the("lining.identified")
    request: dict[str, Any] = {
        "film_um": {"min": film["min_um"], "max": film["max_um"]},
        "polymer": lining.polymer,
        "electrode": test.electrode if test.electrode != "wet_sponge" else "wire_brush",
        "air": {"c": test.air_c, "kpa": test.kpa},
        "stated_voltage_v": test.verified_v or test.voltage_v,
        "state": {"immersed": lining.immersed, "conductive_filler": lining.conductive_filler, "wet": test.wet},
    }
    points = procedure.choices.get("strength")
    if points:
        request["strength"] = [{"kv_mm": p["kv_mm"], "at_um": p["at_um"]} for p in points]
    if procedure.value("strength_fraction") is not None:
        request["strength_fraction"] = procedure.value("strength_fraction")
    readings = [e for e in case.job.of("vapour.read")]
    if readings:
        request["lel_pct"] = readings[-1].body.lel_pct
    return request


def _as_done(case: Case, step: Step, test: Any, plain: dict[str, Any]) -> None:
    body, procedure = test.body, case.procedure
    if not body.grounded:
        step.hold("grounded", "The part was not grounded; without a return path nothing sparks.",
                  "Ground the part and test again.", "common practice, no source")
    if body.coupon_hole_found is None:
        step.lacks("coupon", case.requires("coupon"),
                   "The setting was not proved on a coupon with a drilled hole.",
                   "Spark the hole of a coupon as thick as the thickest film, then test again.", case.rule_book)
    elif not body.coupon_hole_found:
        step.hold("coupon", "The setting did not find the drilled hole of the coupon.",
                  "Find out why; raise the voltage within the window, prove it, test again.", case.rule_book)
    elif body.coupon_um is not None and body.coupon_um < plain["film_um"]["max"]:
        step.hold(
            "coupon_thick_enough",
            f"The coupon was {body.coupon_um:g} µm; the thickest film is {plain['film_um']['max']:g} µm.",
            "Prove the setting on a coupon at least as thick.", case.rule_book, value=body.coupon_um,
            limit=plain["film_um"]["max"], unit="um",
        )
    travel = procedure.value("travel_m_s_max")
    if travel is not None and body.travel_m_s is not None and body.travel_m_s > travel:
        step.hold("travel", f"The electrode travelled at {body.travel_m_s:g} m/s; at most {travel:g} m/s is allowed.",
                  "Test again, slower.", procedure.cite("travel_m_s_max"), value=body.travel_m_s, limit=travel, unit="m/s")
    passes = procedure.value("repeats_max")
    if passes is not None and body.passes > passes:
        step.hold("passes", f"The electrode went over the place {body.passes} times; at most {passes:g} is allowed.",
                  "Let the lining engineer decide; repeated sparking harms sound film.", procedure.cite("repeats_max"),
                  value=body.passes, limit=passes)
    if body.covered_pct < 100:
        step.hold("covered", f"Only {body.covered_pct:g} % of the zone was covered.", "Test the rest.", case.rule_book,
                  value=body.covered_pct, limit=100, unit="%")
