"""What somebody signed or worked under, changed afterwards: procedure, part, limits; and heat that nobody asked about."""

import pytest

from soundedge.basis.errors import BenchError
from soundedge.job.acts.before import before
from soundedge.job.typed import events_of

from .sheets import blocks, sheet
from .test_gates import (
    BIG,
    ENGINEER,
    LAYERS,
    a_correction,
    again,
    also,
    at,
    entry,
    every,
    instructs,
    judged,
    logged,
    low_at_r4,
    procedure,
    signs,
    spots,
)


def corrected(clock, what, field, old, new, by="tobias"):
    return a_correction(clock, entry=what, field=field, old=old, new=new, by=by)


LOWER = corrected("11:40", "job", "procedure.limits.film_um_min.value", 1000, 800)
BACK = corrected("11:41", "job", "procedure.limits.film_um_min.value", 800, 1000)


@pytest.mark.parametrize("by", ["ines", "tobias"])
def test_nobody_corrects_a_limit_of_the_procedure_until_the_film_conforms(by):
    outcome = judged(every(spots(low_at_r4), corrected("11:40", "job", "procedure.limits.film_um_min.value", 1000, 800, by)))

    assert "procedure_as_opened" in blocks(outcome)


def test_a_procedure_corrected_back_is_the_one_that_was_approved():
    assert "procedure_as_opened" in blocks(judged(LOWER))
    assert judged(every(LOWER, BACK)).verdict == "released"


CHANGED = {
    "the plate": corrected("10:00", "part", "plate_mm", 30, 12, "amara"),
    "what is kept out": corrected("10:00", "part", "keep_out.0.kind", "sealing_face", "weld"),
    "the service": corrected("10:00", "part", "service", "immersed", "dry"),
    "the bore": corrected("10:00", "part", "bore_d_mm", 400, 410),
    "the old film": corrected("10:00", "lining", "thickness_um", 1250, 1300),
}
AS_IT_WAS = {"the plate": entry("part", plate_mm=30), "the bore": entry("part", bore_d_mm=400, datum="0° at the drain"),
             "the service": entry("part", service="immersed")}


@pytest.mark.parametrize("what", CHANGED)
def test_a_part_corrected_after_the_disposition_was_signed_is_looked_at_and_signed_again(what):
    change = every(ENGINEER, AS_IT_WAS.get(what, lambda typed: None), CHANGED[what])
    signed_again = also("sign", at=at("10:05"), by="tobias", hold_point="disposition", meaning="I looked at it once more.")

    assert "hold_point_disposition" in blocks(judged(change))
    assert judged(every(change, signed_again)).verdict == "released"


GAS = entry("vapour", 0, lel_pct=30)
LATER_GAS = again("vapour", 0, at=at("11:00"), lel_pct=0)


@pytest.mark.parametrize("change", [
    lambda by: corrected("11:10", "vapour-1", "lel_pct", 30, 3, by),
    lambda by: also("void", at=at("11:10"), by=by, entry="vapour-1", because="Meter upside down.")])
def test_what_a_failing_step_rests_on_is_changed_by_the_engineer_alone_on_a_sheet_as_at_the_desk(change):
    bad = every(ENGINEER, GAS, LATER_GAS)

    assert "changed_what_failed" in blocks(judged(every(bad, change("ines"))))
    assert "changed_what_failed" not in blocks(judged(every(bad, change("amara"))))
    assert "changed_what_failed" not in blocks(judged(every(bad, change("ines"), instructs("11:20"))))


def test_a_slip_on_which_nothing_failed_is_corrected_by_whoever_made_it():
    assert judged(corrected("07:00", "air-1", "rh_pct", 52, 53, "ines")).verdict == "released"


def test_a_name_of_the_part_corrected_changes_no_decision():
    assert judged(corrected("10:00", "part", "name", "mixer cover", "cover of the mixer")).verdict == "released"


LETTER = {"film_um_min": 800}


def test_film_signed_before_a_letter_lowered_its_limit_is_signed_again():
    late = every(ENGINEER, spots(low_at_r4), instructs("12:20", **LETTER))
    in_time = every(ENGINEER, spots(low_at_r4), instructs("11:40", **LETTER))

    assert "hold_point_film" in blocks(judged(late))
    assert judged(in_time).verdict == "released"


SITE = {  # 29 CFR 1915.13(b): below 10 % of the lower explosive limit
    "more gas": ("lel_pct_max", 30, entry("vapour", 0, lel_pct=20), "vapour"),
    "no fire watch": ("fire_watch_min", 0, entry("hot_work_end", 0, fire_watch_until=at("09:51")), "fire_watch"),
}


@pytest.mark.parametrize("name", SITE)
def test_a_letter_loosens_no_limit_of_fire_and_gas(name):
    key, value, change, rule = SITE[name]
    held = blocks(judged(every(ENGINEER, change, instructs("08:00", **{key: value}))))

    assert {rule, "limit_of_site_safety"} <= set(held)


def test_a_letter_may_tighten_a_limit_of_fire_and_gas():
    assert judged(every(ENGINEER, instructs("08:00", lel_pct_max=5, fire_watch_min=65))).verdict == "released"
    assert "vapour" in blocks(judged(every(ENGINEER, entry("vapour", 0, lel_pct=6), instructs("08:00", lel_pct_max=5))))


def test_a_letter_for_its_own_limits_still_governs():
    wide = instructs("08:00", bare_area_mm2_max=1500, footprint_area_mm2_max=5000)
    assert judged(every(ENGINEER, BIG, wide)).verdict == "released"


# heat that was on, and when
HEAT_AGAIN = also("heat_start", at=at("10:30"), by="ines")
END_AGAIN = also("hot_work_end", at=at("10:40"), by="ines", fire_watch_until=at("11:45"), watched_by="ines")
HEAT = {
    "heat again after the fire watch began": (HEAT_AGAIN, "fire_watch_after_heat"),
    "heat again before the voltage, on film read before": (
        every(also("heat_start", at=at("11:55"), by="ines"),
              also("hot_work_end", at=at("11:56"), by="ines", fire_watch_until=at("12:20"), watched_by="ines")),
        "measured_after_last_heat"),
    "powder put on before the permit": (
        every(entry("permit", 0, at=at("09:01")), entry("layer", 0, started_at=at("08:58"))), "permit"),
    "powder put on before the gas was read": (
        every(entry("vapour", 0, at=at("09:01")), entry("layer", 0, started_at=at("08:58"))), "vapour_reading"),
    "heat in the log before the gas was read": (
        every(logged(*LAYERS, seconds=600, started="08:40"), entry("vapour", 0, at=at("08:58"))), "vapour_reading"),
    "film cooled, and heat on again before it was read": (
        every(also("heat_start", at=at("11:22"), by="ines"),
              also("hot_work_end", at=at("11:22"), by="ines", fire_watch_until=at("12:25"), watched_by="ines")), "cooling"),
}


@pytest.mark.parametrize("name", HEAT)
def test_heat_that_was_on_counts_with_or_without_a_layer(name):
    change, rule = HEAT[name]
    assert rule in blocks(judged(change))


def test_heat_again_that_was_watched_to_its_end_holds_nothing():
    assert judged(every(HEAT_AGAIN, END_AGAIN)).verdict == "released"


def test_a_log_by_the_clock_typed_after_the_film_had_cooled_makes_nothing_warm_again():
    """A fact counts from its own time, not from when it was typed: its last reading above 100 °C was before 09:41."""
    def typed_late(typed):
        logged(*LAYERS)(typed)
        typed["heat_log"][0]["at"] = at("11:40")

    typed = sheet()
    typed_late(typed)
    found = before(events_of(typed), "spark_on", at=at("12:04"), zone="repair")

    assert not [point for point in found.points if point.fact == "film_temp"], found.points
    assert judged(typed_late).verdict == "released"


# the gas meter on a night shift
ASKED = procedure("required", sheet()["job"]["procedure"]["required"] + ["meter_bump"])


def test_a_meter_tried_before_midnight_stands_for_the_night_shift():
    tried = dict(by="tobias", instrument="V1", given_pct=50, shown_pct=49)

    assert judged(every(ASKED, also("bump", at=at("23:30", -1), **tried))).verdict == "released"
    assert "meter_bump" in blocks(judged(every(ASKED, also("bump", at=at("20:00", -1), **tried))))


def test_gas_of_nothing_tries_no_meter():
    with pytest.raises(BenchError):
        judged(also("bump", at=at("07:10"), by="tobias", instrument="V1", given_pct=0, shown_pct=0))


def test_the_disposition_signed_once_more_does_not_hide_that_work_went_past_it():
    late = signs("disposition", at=at("09:10"))
    assert "hold_point_disposition" in blocks(judged(every(late, again("sign", 0, at=at("10:05")))))


@pytest.mark.parametrize("by", ["ines", "tobias"])
def test_a_value_that_was_asked_back_is_corrected_by_whoever_made_it(by):
    """18.6 °C is 65.5 °F. Gas far above its limit holds the same job all the while, and stays the engineer's."""
    bad = every(ENGINEER, entry("air", 0, steel_c=65.5))
    right = corrected("11:10", "air-1", "steel_c", 65.5, 18.6, by)

    assert "odd_steel_c" in blocks(judged(bad))
    assert judged(every(bad, right)).verdict == "released"
    with_gas = every(bad, GAS, LATER_GAS, right)
    assert "changed_what_failed" not in blocks(judged(with_gas))
    assert "changed_what_failed" in blocks(judged(every(with_gas, corrected("11:20", "vapour-1", "lel_pct", 30, 3, by))))
