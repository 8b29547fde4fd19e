"""A test that was void is made again: does the second one count, and does every next move lead to a release?

A spark test that counts for nothing gives way to one of the same zone that counts. One pass is a procedure's own limit here
(KBW-LP-04, clause 9); a pass below the window, over a broken return lead or by sponge put no test voltage on the film.
"""

import copy

import pytest

from soundedge.job.acts.before import before
from soundedge.job.acts.may import may
from soundedge.job.judge import judge_job
from soundedge.job.typed import events_of

from .sheets import blocks, sheet
from .test_gates import ENGINEER, at, entry, every, instructs, judged, limit_new

VOID = {
    "at 3000 V, below the window": {"voltage_v": 3000, "verified_v": 3000},
    "over a return lead that nobody checked": {"grounded": False},
}
FULL = {
    "on wet film": {"wet": True},
    "too fast": {"travel_m_s": 0.9},
}


def made(*changes):
    """A change: the test of the released cover several times, two minutes apart, each with other values."""
    def change(typed):
        one = typed["holiday"][0]
        typed["holiday"] = [copy.deepcopy(one) | {"at": at(f"12:{5 + 2 * n:02}")} | values for n, values in enumerate(changes)]
    return change


@pytest.mark.parametrize("name", VOID)
def test_a_void_test_made_again_well_is_released(name):
    outcome = judged(made(VOID[name], {}))

    assert outcome.verdict == "released", blocks(outcome)


@pytest.mark.parametrize("name", FULL)
def test_a_void_pass_at_full_voltage_counts_as_a_pass_until_the_engineer_allows_two(name):
    held = judged(made(FULL[name], {}))
    first = next(block for block in held.blocked_by if block.rule == "holiday_unproven")

    assert "2" in first.because and "engineer" in first.next_move
    assert judged(every(ENGINEER, made(FULL[name], {}), instructs("12:06", repeats_max=2))).verdict == "released"


def test_before_a_second_pass_at_full_voltage_the_engineer_is_asked():
    held = judged(made({"wet": True}))

    moves = [block.next_move for block in held.blocked_by if block.rule == "holiday_void"]

    assert moves and all(move.startswith("Ask the engineer first") for move in moves)


def test_a_void_test_after_a_good_one_takes_nothing_from_it():
    assert judged(made({}, {"voltage_v": 3000, "verified_v": 3000})).verdict == "released"


def test_a_void_test_that_found_a_hole_is_no_void_test():
    found = judged(made({"voltage_v": 3000, "verified_v": 3000, "holidays": [{"x": -60, "y": 35}]}, {}))

    assert found.verdict == "rejected" and "no_holiday" in blocks(found)


@pytest.mark.parametrize(("values", "words"), [({"wet": True}, "wet"), ({"grounded": False}, "earth was not checked")])
def test_what_spoils_the_test_of_one_zone_spoils_that_zone_alone(values, words):
    held = judged(made({"zones": ["repair", "overlap"]}, {"zones": ["parent"]} | values))
    said = [block.because for block in held.blocked_by if block.rule == "holiday_void"]

    assert len(said) == 1 and said[0].startswith("Zone parent:") and words in said[0]


@pytest.mark.parametrize(("values", "rule"), [
    ({"verified_v": None, "coupon_um": None, "coupon_hole_found": None}, "holiday_void"),
    ({"coupon_um": None, "coupon_hole_found": None}, "holiday_unproven"),
])
def test_the_voltage_and_the_coupon_of_one_detector_prove_nothing_for_another(values, rule):
    def second(typed):
        typed["instrument"].append(next(one for one in typed["instrument"] if one["id"] == "HD3") | {"id": "HD4"})

    swapped = {"zones": ["parent"], "instrument": "HD4"}
    assert rule in blocks(judged(every(second, made({"zones": ["repair", "overlap"]}, swapped | values))))
    assert judged(every(second, made({"zones": ["repair", "overlap"]}, swapped))).verdict == "released"


NO_COUPON = {"coupon_um": None, "coupon_hole_found": None}


def test_a_coupon_sparked_afterwards_proves_the_setting_without_another_pass():
    held = judged(made(NO_COUPON))
    move = next(block.next_move for block in held.blocked_by if block.rule == "holiday_unproven")

    assert "0 %" in move
    assert judged(made(NO_COUPON, {"covered_pct": 0})).verdict == "released"
    assert "holiday_void" in blocks(judged(made({"covered_pct": 0})))  # the trial alone tests nothing


def test_the_places_left_out_tested_afterwards_are_no_second_pass():
    assert "holiday_incomplete" in blocks(judged(made({"covered_pct": 60})))
    assert "holiday_incomplete" in blocks(judged(made({"covered_pct": 60}, {"covered_pct": 30})))
    assert judged(made({"covered_pct": 60}, {"covered_pct": 40})).verdict == "released"
    assert "holiday_incomplete" in blocks(judged(made({"covered_pct": 50, "passes": 2})))  # the same half twice


def test_the_example_tested_below_its_window_is_released_once_its_next_moves_are_followed():
    typed = sheet("usual-voltage-cover")
    typed["holiday"][0]["zones"] = ["repair", "overlap", "parent"]
    typed["sign"].pop(), typed.pop("release")
    test = typed["holiday"][0]
    for n, zone in enumerate(("repair", "overlap", "parent")):
        now = may(events_of(typed), act="spark_on").acts
        told = next(act for act in now if act.zone == zone)
        volts = float(str(told.first.what).split("Set ")[1].split(" V")[0])
        typed["holiday"].append(test | {"at": at("13:00").replace(day=test["at"].day, month=test["at"].month, minute=n),
                                        "zones": [zone], "voltage_v": volts, "verified_v": volts, "coupon_um": 2100,
                                        "coupon_hole_found": True})
    outcome = judge_job(events_of(typed), estimates=False)

    assert {block.rule for block in outcome.blocked_by} == {"hold_point_holiday", "release_signed"}, blocks(outcome)


def sponged(minutes):
    """A change: overlap of 400 µm by wet sponge; repair and parent film by high voltage so many minutes later."""
    def change(typed):
        limits = typed["job"]["procedure"]["limits"]
        limits["film_um_min"]["value"] = 300
        for spot in typed["film"][0]["spots"]:
            film = 412 if spot["where"] == "overlap" else 1262
            spot["readings_um"] = [film + n for n, _ in enumerate(spot["readings_um"])]
        one = typed["holiday"][0]
        sponge = {"electrode": "wet_sponge", "voltage_v": 67.5, "verified_v": 67.5, "coupon_um": 450, "zones": ["overlap"]}
        typed["holiday"] = [one | sponge, one | {"at": at(f"12:{5 + minutes:02}"), "zones": ["repair", "parent"]}]
        typed["sign"][3]["at"], typed["release"]["at"] = at("12:55"), at("13:00")
    return change


WAIT = limit_new("sponge_to_spark_min", 30, "min")


@pytest.mark.parametrize(("minutes", "verdict"), [(3, "held"), (29, "held"), (30, "released"), (-3, "released")])
def test_high_voltage_waits_after_a_wet_sponge_and_comes_first_without_waiting(minutes, verdict):
    outcome = judged(every(WAIT, sponged(minutes)))

    assert outcome.verdict == verdict, blocks(outcome)
    assert ("sponge_before_spark" in blocks(outcome)) == (verdict == "held")


def test_before_the_voltage_goes_on_after_a_sponge_it_is_said_how_long_to_wait():
    typed = sheet()
    every(WAIT, sponged(10))(typed)
    found = before(events_of(typed), "spark_on", at=at("12:14"), zone="parent")

    assert (found.answer, found.first.verb, found.first.rule) == ("no", "wait_until", "A11.12") and "12:35" in found.first.what


def test_a_zone_tested_by_sponge_is_held_against_its_own_film_also_where_its_test_is_judged_afterwards():
    typed = sheet()
    sponged(-3)(typed)
    done = [act for act in may(events_of(typed)).done if act.act == "spark_on"]

    assert {act.zone: act.answer for act in done} == {"overlap": "go", "repair": "go", "parent": "go"}


def test_a_wet_sponge_wets_the_film_and_is_not_void_for_it():
    typed = sheet()
    every(sponged(-3), entry("holiday", 0, wet=True))(typed)

    assert judge_job(events_of(typed), estimates=False).verdict == "released"


def test_a_test_that_found_a_hole_is_taken_back_by_the_engineer_alone():
    """At the desk nobody else may void it; on a sheet it is seen afterwards."""
    def voided(by):
        def change(typed):
            made({"holidays": [{"x": -60, "y": 35}]}, {})(typed)
            typed["void"] = [{"at": at("12:09"), "by": by, "entry": "holiday-1", "because": "Sparked over a wet edge."}]
        return change

    allows = every(ENGINEER, made({"holidays": [{"x": -60, "y": 35}]}, {}))
    assert judged(allows).verdict == "rejected"
    held = judged(voided("tobias"))
    assert held.verdict == "engineering_review" and "hole_voided" in blocks(held)
    assert judged(every(ENGINEER, voided("amara"))).verdict == "released"
    assert judged(every(ENGINEER, voided("tobias"), instructs("12:10"))).verdict == "released"
