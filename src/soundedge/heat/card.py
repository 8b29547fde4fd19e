"""What goes on the one page beside the gun: set-points in the gun's own terms, times, readings, *never* and cautions?

Plain data; the report prints it.
"""

from __future__ import annotations

from typing import Any

from .answers import NO_TRIAL, NOT_PROOF, cautions, minutes
from .learn import expected_reading_c
from .plan import Found


def work_card(found: Found) -> dict[str, Any]:
    """The card of a plan.

    Parameters
    ----------
    found : Found
        A plan that is possible.

    Returns
    -------
    dict
        ``set_points``: list of {what, value, unit}; ``stages``: list of {stage, do, until, lasts, read}, where
        ``read`` lists {aim, expect_c}; ``never``: sentences; ``cautions``: sentences.
    """
    case, window, outcome = found.case, found.window, found.outcome
    run = outcome.run
    assert run is not None and outcome.first_layer_s is not None
    first = outcome.first_layer_s
    every = window.dwell_s + 15.0
    last = float(run.laid_s[-1, 0])
    around = case.ambient_c

    def shows(series: Any, at: float) -> float:
        return round(expected_reading_c(run.at(series, at), around), 0)

    def back(at: float) -> float:
        return round(run.at(run.back, at), 0)

    set_points = [
        {"what": "Part before the gun", "value": round(case.start_c), "unit": "°C"},
        {"what": "Gun air", "value": round(case.gun_c), "unit": "°C"},
        {"what": "Gun power", "value": round(case.power_w), "unit": "W"},
        {"what": "Outlet", "value": case.outlet_mm, "unit": "mm"},
        {"what": "Outlet to surface", "value": round(case.distance_mm), "unit": "mm"},
        {"what": "First layer when the back probe shows", "value": round(window.start_c), "unit": "°C"},
        {"what": "Hold the gun away above (polymer surface)", "value": round(window.pause_c), "unit": "°C"},
        {"what": "Layers", "value": window.layers, "unit": ""},
        {"what": "Between layers", "value": round(every), "unit": "s"},
    ]
    warm = []
    for share in (0.25, 0.5, 0.75, 1.0):
        at = share * first
        warm.append({"at_s": round(at), "aim": "back_contact", "expect_c": back(at)})
        warm.append({"at_s": round(at), "aim": "polymer", "expect_c": shows(run.sound_max, at),
                     "where": "sound lining at the edge of the scarf"})
    stages = [
        {"stage": "warm the bare steel", "do": "Gun square over the spot, no powder.",
         "until": f"A contact probe on the back shows {window.start_c:.0f} °C.", "lasts": minutes(first),
         "read": warm if first > 0 else warm[-2:]},
        {"stage": "layers", "do": f"{window.layers} layers of {1000 * case.film_mm / window.layers:.0f} µm, each fused "
         f"{window.dwell_s:.0f} s before the next; gun away above {window.pause_c:.0f} °C.",
         "until": "All layers are in.", "lasts": minutes(last - first),
         "read": [{"at_s": round(t), "aim": aim, "expect_c": value} for t in (first + every, last)
                  for aim, value in (("back_contact", back(t)), ("polymer", shows(run.joint_max, t - 1.0)))]},
        {"stage": "finish", "do": "Keep the whole repair molten.", "until": "The time is up.",
         "lasts": minutes(outcome.end_s - last),
         "read": [{"at_s": round(outcome.end_s), "aim": "back_contact", "expect_c": back(outcome.end_s)}]},
        {"stage": "cool", "do": "Gun off, still air, no water.", "until": "Hand-warm; measure nothing hot.",
         "lasts": "see cool_to_touch", "read": [
             {"aim": "polymer", "expect_c": None,
              "where": "A surface that falls by more than 60 K in 30 s lies on cold steel: the bond did not fuse."}]},
    ]
    never = [
        f"Never lay powder before the back shows {window.start_c:.0f} °C, however glossy anything looks.",
        f"Never let any polymer surface pass {window.limit_c:.0f} °C.",
        "Never go by a reading of bare ground steel: aim at the polymer, a painted dot, or touch the back.",
        "Never quench the repair.",
    ]
    if found.sure is not None:
        due = found.sure.first_layer_s
        never.append(
            f"Never go by the clock: the first layer may be due after {minutes(due[0])} or only after "
            + (f"{minutes(due[2])}." if due[2] <= 5400 else "more than 90 min; then stop and preheat the part."))
    return {"title": f"Hot-air repair of {case.film_mm:g} mm {case.film.name} on {case.plate_mm:g} mm {case.steel.name}",
            "set_points": set_points, "stages": stages, "never": never,
            "cautions": [NO_TRIAL, NOT_PROOF, *cautions(case)[2:]]}
