"""Limits and statements that nothing asked for: powder weighed, film to abrade, shims, overlap, a service stated on paper."""

import pytest

from soundedge.job.acts.before import before
from soundedge.job.acts.may import may
from soundedge.job.judge import judge_job
from soundedge.job.typed import events_of

from .sheets import blocks, sheet
from .test_gates import LAYERS, also, at, entry, every, judged, limit_new, logged, procedure, spots


def asked(act, clock, *changes, **how):
    typed = sheet()
    every(*changes)(typed)
    return before(events_of(typed), act, at=at(clock), **how)


def begun(layers):
    """A change: the job at a moment when film was read though only so many of five layers lie."""
    def change(typed):
        del typed["layer"][layers:]
        typed["sign"], typed["gauge_check"] = typed["sign"][:2], [typed["gauge_check"][0] | {"at": at("09:55")}]
        typed["film"][0]["at"] = at("10:00")
        for section in ("cooled", "hot_work_end", "heat_log", "holiday", "release"):
            typed.pop(section)
        typed["air"].pop()
    return change


@pytest.mark.parametrize("layers", [1, 4])
def test_film_read_too_early_does_not_hide_the_layers_that_are_missing(layers):
    typed = sheet()
    begun(layers)(typed)
    told = may(events_of(typed))

    assert told.next.act in ("next_layer", "restart"), told.say
    assert "temperature" not in told.say


def test_how_old_the_air_was_is_said_of_the_moment_of_the_act():
    typed = sheet()
    limit_new("air_age_min_max", 30, "min")(typed)
    done = next(act for act in may(events_of(typed)).done if act.act == "first_layer")
    old = next(point for point in done.points if point.fact == "air_log")

    assert "45 min before 09:05" in old.because and "ago" not in old.because


# powder: the plan of the cover lays 1.04 g in layers of 280 µm, and counts 0.2 of it lost
@pytest.mark.parametrize(("grams", "answer"), [(1.0, "go"), (1.5, "go_with_warnings"), (5.0, "no")])
def test_powder_weighed_for_a_layer_is_held_against_the_thickest_layer_of_the_procedure(grams, answer):
    found = asked("next_layer", "09:14", lambda typed: typed.update(layer=typed["layer"][:1]),
                  logged("09:05"), given={"bond_c": 251, "powder_g": grams})
    about = [point for point in found.points if point.fact == "powder"]

    assert found.answer == answer, found.points
    assert bool(about) == (answer != "go")
    if about:
        assert about[0].verb == "correct" and about[0].value == pytest.approx(280 * grams / 1.0357, rel=1e-3)


def test_a_layer_of_five_times_its_powder_holds_and_one_of_a_little_more_is_only_said():
    much, some = judged(entry("layer", 2, powder_g=5.0)), judged(entry("layer", 2, powder_g=1.3))

    assert "layer_thickness" in blocks(much) and "engineer" in much.blocked_by[0].next_move
    assert some.verdict == "released" and any("1.3 g" in line for line in some.steps["buildup"].cautions)
    assert not judged(entry("layer", 2, powder_g=1.0)).steps["buildup"].cautions


# the next morning: layers 3 to 5 after 23 h
NEXT_DAY = every(
    *(entry("layer", place, at=at(LAYERS[place], 1)) for place in (2, 3, 4)),
    also("permit", at=at("07:10", 1), by="tobias", number="HW-2026-207", until=at("14:30", 1)),
    also("vapour", at=at("08:35", 1), by="tobias", lel_pct=0, instrument="V1"),
    *(also("air", at=at(clock, 1), by="ines", air_c=20.4, rh_pct=51, steel_c=19.2, instrument="H2") for clock in
      ("08:40", "09:45")),
    also("heat_pause", at=at("09:20"), by="ines"), also("heat_start", at=at("09:00", 1), by="ines"),
)
EIGHT_HOURS = limit_new("pause_abrade_min_max", 480, "min")
ABRADED = also("sanded", at=at("08:30", 1), by="ines", zone="repair")


def test_film_that_was_cold_overnight_is_abraded_before_it_is_heated_again():
    found = before(events_of(_made(NEXT_DAY, EIGHT_HOURS)), "restart", at=at("08:50", 1))
    point = next(one for one in found.points if one.fact == "abraded")

    assert (found.answer, point.rule, point.verb) == ("no", "A7.2", "correct") and "Abrade" in point.what
    again = before(events_of(_made(NEXT_DAY, EIGHT_HOURS, ABRADED)), "restart", at=at("08:50", 1))
    assert not [one for one in again.points if one.fact == "abraded"]


def test_layers_laid_the_next_day_on_film_that_nobody_abraded_hold():
    assert "abraded" in blocks(judged(every(NEXT_DAY, EIGHT_HOURS)))
    assert "abraded" not in blocks(judged(every(NEXT_DAY, EIGHT_HOURS, ABRADED)))
    assert "abraded" not in blocks(judged(NEXT_DAY))  # a procedure that does not ask for it


def _made(*changes):
    typed = sheet()
    every(*changes)(typed)
    return typed


# shims on both sides of the film: 20 % beyond it, of readings from 1203 to 1434 µm
SHIMS = limit_new("gauge_margin_pct_min", 20, "%")


def shims(*sizes):
    return every(*(also("gauge_check", at=at("11:26"), by="tobias", instrument="G7", reference_um=um, reading_um=um + 2)
                   for um in sizes))


@pytest.mark.parametrize(("sizes", "holds"), [((), True), ((500,), True), ((2000,), True), ((500, 2000), False)])
def test_shims_lie_on_both_sides_of_the_film_as_far_as_the_procedure_asks(sizes, holds):
    assert ("gauge_shims" in blocks(judged(every(SHIMS, shims(*sizes))))) is holds
    assert judged(shims(*sizes)).verdict == "released"  # one that does not ask


def test_an_overlap_that_nobody_read_is_not_released_untested():
    held = judged(spots(lambda read: [spot for spot in read if spot["where"] != "overlap"]))

    assert "overlap_measured" in blocks(held)


# what the owner stated on paper, where the job was opened without it
def stated(service):
    return also("decontaminated", at=at("06:50"), by="tobias", number="DC-2026-77", tag="MC-7", stated_on=at("06:00"),
                media="31 % hydrochloric acid", signed_by="Jonas Pell", service=service)


FORBIDDEN = procedure("prohibited", [{"what": "any repair", "service": "immersed", "clause": "clause 5.9"}])


def test_a_prohibition_by_service_reads_what_was_stated_on_paper():
    assert "prohibited_service" in blocks(judged(FORBIDDEN))
    assert "prohibited" in blocks(judged(every(FORBIDDEN, stated("immersed"))))
    assert judged(every(FORBIDDEN, stated("dry"))).verdict == "released"


def test_film_that_no_voltage_may_test_is_not_ordered_to_be_tested_again():
    typed = sheet()
    typed["part"]["service"] = "immersed"
    held = judge_job(events_of(typed), estimates=False).blocked_by
    moves = [block.next_move for block in held if block.rule == "holiday_void"]

    assert moves and all("again" not in move and "owner" in move for move in moves)


# moves and answers before an act
ACETONE = {"solvent": "acetone", "ml": 4, "space_l": 4000, "air_changes_per_h": 6}


def upto(clock):
    """A change: only what was done by then."""
    def change(typed):
        for section, entries in list(typed.items()):
            if isinstance(entries, list) and section not in ("person", "instrument", "lot"):
                typed[section] = [one for one in entries if one["at"] <= at(clock)]
        typed.pop("release", None)
    return change


def test_no_solvent_goes_on_where_there_was_heat_until_its_temperature_was_read():
    hot = asked("wipe", "09:10", upto("09:06"), given=ACETONE)
    assert (hot.answer, hot.first.rule, hot.first.verb) == ("no", "A3.1", "measure")

    read = also("cooled", at=at("09:40"), by="ines", film_c=31)
    warm = also("cooled", at=at("09:40"), by="ines", film_c=70)
    assert asked("wipe", "09:41", upto("09:06"), read, given=ACETONE).answer == "go"
    assert asked("wipe", "09:41", upto("09:06"), warm, given=ACETONE).first.verb == "wait_until"
    assert asked("wipe", "08:16", given=ACETONE).answer == "go"  # before any heat


def test_a_wet_sponge_is_not_for_thick_film():  # ASTM D5162: up to 500 µm
    found = asked("spark_on", "12:04", zone="repair", given={"voltage_v": 67.5, "electrode": "wet_sponge"})

    assert (found.answer, found.first.rule, found.first.verb) == ("no", "A11.5", "correct") and "500" in found.first.because


@pytest.mark.parametrize(("held", "rinse"), [("Salzsäure 31 %", "Chlorbleichlauge"), ("bleach", "phosphoric acid")])
def test_acid_and_bleach_do_not_meet_in_either_language(held, rinse):  # from memory: together they give chlorine
    found = asked("open_part", "06:45", entry("part", last_service=held), given={"rinse": rinse})

    assert (found.answer, found.first.verb) == ("no", "stop")


def test_a_preparation_that_was_only_not_recorded_is_no_order_to_grind():
    def never(typed):
        del typed["prepared"]

    moves = [block.next_move for block in judged(never).blocked_by if block.rule == "surface_prepared"]

    assert moves and "Record" in moves[0] and "rind" not in moves[0]
