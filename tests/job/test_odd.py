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
from .test_gates import at, entry, every, judged, logged


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


# five readings alike, layers on each other's heels, a log that stands still, a pH with its point too far left
def film_alike(typed):
    typed["film"][0]["spots"][0]["readings_um"] = [1262.0] * 5


def standing_still(typed):
    rows = [{"time_s": second, "reading_c": 268.0, "aimed_at": "painted_dot"} for second in range(400)]
    typed["heat_log"][0]["readings"] = [*rows, {"time_s": 401, "reading_c": 290, "aimed_at": "polymer"}]


ASKED = {
    "film readings alike": (
        film_alike, "odd_readings_um", "1262 µm stands 5 times", ("film-1", "spots.0.readings_um.0", 1262.0)),
    "a log without change": (
        standing_still, "odd_reading_c", "100 times in a row", ("heat_log-1", "readings.0.reading_c", 268.0)),
    "a layer a minute after the one below": (
        entry("layer", 2, at=at("09:15")), "odd_number", "60 s after", ("layer-3", "number", 3)),
    "pH 0.7": (lambda typed: typed.setdefault("ph", []).append({"at": at("07:52"), "by": "ines", "edge_ph": 0.7}),
               "odd_edge_ph", "is that 7?", ("ph-1", "edge_ph", 0.7)),
    "a meter at nothing just after much solvent": (
        entry("solvent", 0, ml=10, space_l=50, air_changes_per_h=0, at=at("08:34")), "odd_lel_pct", "lowest point",
        ("vapour-1", "lel_pct", 0)),
}


@pytest.mark.parametrize("name", ASKED)
def test_an_odd_reading_is_answered_by_looking_again_and_writing_it_down_once_more(name):
    change, rule, words, (what, field, value) = ASKED[name]
    asked = [block for block in judged(change).blocked_by if block.rule == rule]
    again = {"at": at("12:02"), "by": "ines", "entry": what, "field": field, "old": value, "new": value,
             "because": "Read twice with a second instrument."}

    assert len(asked) == 1 and words in asked[0].because and "same value" in asked[0].next_move
    assert rule not in blocks(judged(every(change, lambda typed: typed.update(correction=[again]))))


def test_a_meter_tried_in_that_shift_or_read_again_is_not_asked():
    change = ASKED["a meter at nothing just after much solvent"][0]
    tried = {"at": at("07:10"), "by": "tobias", "instrument": "V1", "given_pct": 50, "shown_pct": 49}
    again = {"at": at("08:50"), "by": "tobias", "instrument": "V1", "lel_pct": 0}

    assert "odd_lel_pct" not in blocks(judged(every(change, lambda typed: typed.update(bump=[tried]))))
    assert "odd_lel_pct" not in blocks(judged(every(change, lambda typed: typed["vapour"].append(again))))


def test_before_heat_a_meter_at_nothing_just_after_much_solvent_is_read_again():
    typed = sheet()
    ASKED["a meter at nothing just after much solvent"][0](typed)
    found = before(events_of(typed), "heat_on", at=at("08:47"))

    assert (found.answer, found.first.fact, found.first.verb) == ("no", "odd_lel_pct", "read_again")


def test_places_read_again_answer_readings_that_were_alike():
    def again(typed):
        film_alike(typed)
        typed["film"].append(typed["film"][0] | {"at": at("11:38"), "spots": sheet()["film"][0]["spots"]})

    assert "odd_readings_um" not in blocks(judged(again))


def test_layers_close_together_are_not_asked_about_where_a_log_shows_each_ones_time():
    clocks = ("09:05", "09:06", "09:22", "09:31", "09:40")
    quick = every(entry("layer", 1, at=at("09:06")), logged(*clocks, seconds=40))

    assert "odd_number" not in blocks(judged(quick)) and "odd_number" in blocks(judged(entry("layer", 1, at=at("09:06"))))


def test_a_lot_opened_after_it_expired_is_refused_by_name():
    with pytest.raises(BenchError, match="day and month"):
        judged(entry("lot", 0, opened_on=at("00:00", 600)))
