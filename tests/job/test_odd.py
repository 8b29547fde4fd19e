"""Is a value that is possible but odd asked back once, does it hold what uses it, and does the answer free it?

Conversions are computed here by their definitions: °F = 1.8 °C + 32, 1 mil = 25.4 µm, 1 inch = 25.4 mm.
"""

import pytest

from soundedge.basis.errors import BenchError
from soundedge.job.acts.before import before
from soundedge.job.judge import judge_job
from soundedge.job.odd import odd
from soundedge.job.typed import events_of
from soundedge.report.from_job import certificate_view

from .sheets import blocks, sheet
from .test_gates import at, entry, every, judged


def scaled(factor):
    """A change: every film reading times a factor."""
    def change(typed):
        for spot in typed["film"][0]["spots"]:
            spot["readings_um"] = [value * factor for value in spot["readings_um"]]
    return change


FAHRENHEIT = entry("air", 0, steel_c=round(18.6 * 1.8 + 32, 1))
# what is changed, where its answer goes → the rule that asks, and what the question must say
ODD = {
    "steel in °F": (FAHRENHEIT, ("air", 0), "odd_steel_c", "°F (18.6 °C)"),
    "air in °F": (entry("air", 0, air_c=59, steel_c=18), ("air", 0), "odd_air_c", "°F (15.0 °C)"),
    "steel far from the air, in no other unit": (entry("air", 0, steel_c=145), ("air", 0), "odd_steel_c", "Read it again"),
    "shim in mil": (entry("gauge_check", 0, reference_um=39.4, reading_um=39.5), ("gauge_check", 0), "odd_reference_um", "mil"),
    "voltage in kV": (entry("holiday", 0, voltage_v=8), ("holiday", 0), "odd_voltage_v", "kV (8000 V)"),
    "plate in inch": (entry("part", plate_mm=0.5), ("part",), "odd_plate_mm", "inch (12.7 mm)"),
    "air dated a year late": (entry("air", 2, at=at("09:40", 365)), ("air", 2), "odd_at", "year"),
}


def answered(place):
    def change(typed):
        target = typed[place[0]] if len(place) == 1 else typed[place[0]][place[1]]
        target["confirmed"] = "Read twice with a second instrument."
    return change


@pytest.mark.parametrize("name", ODD)
def test_an_odd_value_is_asked_back_and_holds_until_it_is_answered(name):
    change, place, rule, words = ODD[name]
    held = judged(change)
    asked = [block for block in held.blocked_by if block.rule == rule]

    assert len(asked) == 1 and words in asked[0].because and held.verdict != "released"
    assert rule not in blocks(judged(every(change, answered(place))))


@pytest.mark.parametrize("factor", [1 / 25.4, 1 / 1000, 10])
def test_film_readings_in_another_unit_are_refused_by_name(factor):
    with pytest.raises(BenchError, match="must be in µm"):
        judged(scaled(factor))


def test_a_chip_done_well_is_asked_nothing():
    outcome = judged(lambda typed: None)
    steps = ("disposition", "conditions", "instruments", "thickness", "holiday")

    assert outcome.verdict == "released" and [one for step in steps for one in odd(outcome.job, step)] == []


def test_hot_steel_is_not_odd_once_heat_was_planned():
    typed = sheet()
    planned = typed["heat_plan"][0]["at"] if isinstance(typed["heat_plan"], list) else typed["heat_plan"]["at"]
    typed["air"][2]["steel_c"] = 120.0

    assert typed["air"][2]["at"] > planned
    assert "odd_steel_c" not in blocks(judge_job(events_of(typed), estimates=False))


def test_the_answer_is_kept_and_printed_and_a_correction_to_another_value_takes_it_away():
    typed = sheet()
    every(entry("air", 0, steel_c=50.0), answered(("air", 0)))(typed)
    outcome = judge_job(events_of(typed), estimates=False)
    page = repr(certificate_view(outcome, issued_at=at("13:00"), record_digest="0" * 64))
    assert outcome.verdict == "released" and "confirmed: Read twice with a second instrument." in page

    fixed = {"at": at("12:10"), "by": "ines", "entry": "air-1", "field": "steel_c", "old": 50.0, "because": "Read again."}
    typed["correction"] = [fixed | {"new": 60.0}]
    assert "odd_steel_c" in blocks(judge_job(events_of(typed), estimates=False))
    del typed["air"][0]["confirmed"]
    typed["correction"] = [fixed | {"new": 50.0}]  # looked at again, and it stands
    assert "odd_steel_c" not in blocks(judge_job(events_of(typed), estimates=False))


@pytest.mark.parametrize("act, when", [("heat_on", "08:47"), ("first_layer", "09:00")])
def test_before_the_act_an_unanswered_odd_value_is_odd_and_an_answered_one_is_not(act, when):
    def states(*changes):
        typed = sheet()
        every(*changes)(typed)
        found = before(events_of(typed), act, at=at(when), repair="A")
        return {(point.fact, point.state, point.verb) for point in found.points}

    asked = entry("air", 1, steel_c=66.0, at=at("08:20"))
    assert ("odd_steel_c", "odd", "read_again") in states(asked)
    assert "odd_steel_c" not in {fact for fact, _, _ in states(asked, answered(("air", 1)))}
