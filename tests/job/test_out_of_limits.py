"""A film out of limits, and a gauge that failed: the move is true, the judge and the answer before the act say the same."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soundedge.job.acts.before import before
from soundedge.job.fold import Job, fold
from soundedge.job.judge import judge_job
from soundedge.job.rules.out_of_limits import moves, out_of_limits
from soundedge.job.typed import events_of

from .sheets import blocks, sheet
from .test_gates import ENGINEER, again, also, at, entry, every, instructs, judged

JOB = events_of(sheet())
NEVER = ("grind back", "Take more readings", "wash")


def film(*spots, **more):
    """A change: the film as read at these places, without a correction."""
    listed = [{"id": name, "where": where, "x": -60, "y": 35 + n, "readings_um": list(um)} for n, (name, where, um) in
              enumerate(spots)]
    return entry("film", 0, **({"spots": listed, "correction": None} | more))


def read(*um, where="repair", name="R4"):
    """One place out of the ordinary on film that is otherwise 1250 µm."""
    rest = [("R1", "repair", (1250, 1252)), ("O1", "overlap", (1260, 1262)), ("P1", "parent", (1240, 1242))]
    return film(*rest, (name, where, um))


def both(change, act="measure_film", when="12:20", **given):
    """The judge's block on the film and the answer before the act, of one sheet."""
    typed = sheet()
    every(*([change] if callable(change) else change))(typed)
    outcome = judge_job(events_of(typed), estimates=False)
    block = next((one for one in outcome.steps["thickness"].blocks if one.verb), None)
    return outcome, block, before(events_of(typed), act, at=at(when), given=given)


# Case 24: repair lowest 960 µm, look good, plate class 1; permit ended. Not: "grind back".
def test_case_24_thin_new_film_takes_one_more_layer_after_a_new_permit():
    ended = lambda typed: typed["permit"][0].update(until=at("12:00"))  # noqa: E731
    _, block, act = both((read(960, 962), ended))

    assert (act.answer, act.first.verb, act.first.by) == ("no", "correct", "technician")
    assert act.first.what == block.next_move == (
        "One more layer at R4: abrade, clean, fuse, let it cool and measure again. First ask for a new permit: HW-2026-206 "
        "ended at 2026-05-04 12:00 UTC.")
    assert "permit" not in both(read(960, 962))[1].next_move
    assert not any(word in block.next_move for word in NEVER)


@pytest.mark.parametrize("um", [(990, 991), (990,)])
def test_990_under_an_every_reading_rule_leads_to_a_layer_and_not_to_more_readings(um):
    outcome, block, act = both(read(*um))

    assert "every_reading" in blocks(outcome)
    assert act.first.verb == "correct" and act.first.what == block.next_move
    assert block.next_move.startswith("One more layer at R4")


def test_one_low_reading_among_good_ones_is_read_again_before_anything_is_built():
    _, block, act = both(read(1250, 960, 1251))

    assert act.first.verb == "read_again"
    assert block.next_move.startswith("Measure R4 again: two readings that agree there decide. If it stands: One more layer")


def test_a_place_that_was_read_again_and_stays_low_is_not_read_a_third_time():
    once = read(1250, 960, 1251)
    twice = every(once, again("film", 0, at=at("11:35")))

    assert both(twice)[1].next_move.startswith("One more layer at R4")


def test_a_reading_too_near_the_limit_asks_for_a_better_gauge_and_corrects_nothing():
    outcome, _, act = both(read(1020, 1021))  # 3 % of tolerance are 18 µm of standard uncertainty

    assert outcome.steps["thickness"].verdict == "indeterminate"
    assert act.first.verb == "read_again" and "smaller tolerance" in act.first.what
    assert "layer" not in act.first.what


@pytest.mark.parametrize("bad,because", [
    (also("look", at=at("11:20"), by="tobias", stage="end", accepted=False, seen="White grains."), "the look of"),
    (also("probed", at=at("11:20"), by="tobias", lift_mm=0.5), "the rim lifts by 0.5 mm"),
    (also("bond", at=at("11:20"), by="tobias", plate="W1", method="peel", accepted=False), "the bond of plate W1"),
])
def test_thin_film_that_looks_bad_or_does_not_hold_is_cut_out(bad, because):
    _, block, act = both((read(960, 962), bad))

    assert block.next_move.startswith("Cut R4 out to sound film") and because in block.next_move
    assert block.next_move in [point.what for point in act.points if point.fact == "film"] and "layer" not in block.next_move


def test_thin_overlap_is_feathered_out():
    assert "feathered out over the old film" in both(read(960, 962, where="overlap", name="O2"))[1].next_move


# Case 21: repair 1 240 to 1 890 µm, u 20: down by 90, aim 130; stop line 1 240 − 1 000 − 40 = 200 µm at the thinnest.
def test_case_21_too_thick_is_sanded_to_the_maximum_and_keeps_the_minimum():
    spots = [{"id": "R1", "where": "repair", "readings_um": [1240.0, 1241.0]},
             {"id": "R2", "where": "repair", "readings_um": [1890.0, 1888.0]}]
    out = out_of_limits({"spots": spots, "sanity": []}, 1000, 1800)
    told = moves(Job(events=()), out, [1240.0, 1241.0, 1890.0, 1888.0], 1000, 1800, 20)

    assert [(one.verb, one.what) for one in told] == [
        ("correct", "Sand R2 down by 90 µm, better 130 µm; at the thinnest place at most 200 µm may go. Then measure again.")]


def test_sanding_is_asked_before_it_is_done_and_kills_the_readings():
    _, block, act = both(read(1890, 1888), act="sand", zone="repair")
    assert act.answer == "go" and act.points[0].what == block.next_move
    assert block.next_move.startswith("Sand R4 down by 90 µm")

    sanded = every(read(1890, 1888), also("sanded", at=at("12:21"), by="ines", zone="repair"))
    outcome, _, later = both(sanded, act="sand", when="12:22", zone="repair")
    assert "film" in [one.rule for one in outcome.steps["thickness"].blocks]
    assert (later.answer, later.first.rule, later.first.verb) == ("no", "A8.1", "measure")


@pytest.mark.parametrize("change,zone,rule,verb", [
    (read(1250, 1251), "parent", "A8.5", "stop"), (read(960, 962), "repair", "A8.2", "ask_engineer"),
    (entry("cooled", 0, film_c=62), "repair", "A8.3", "wait_until")])
def test_what_may_not_be_sanded(change, zone, rule, verb):
    act = both(change, act="sand", zone=zone)[2]

    assert (act.answer, act.first.rule, act.first.verb) == ("no", rule, verb)


def test_thick_overlap_is_feathered_down():
    assert both(read(1890, 1888, where="overlap", name="O2"))[1].next_move.startswith("Feather O2 down by 90 µm")


def test_old_film_that_nobody_touched_is_the_engineers_and_the_repair_stands():
    outcome, block, act = both(read(900, 901, where="parent", name="P4"))

    assert (outcome.verdict, block.kind) == ("engineering_review", "engineering_review")
    assert (act.first.verb, act.first.by) == ("ask_engineer", "engineer")
    assert "grind and build nothing" in block.next_move and "repair itself stands" in block.next_move


@pytest.mark.parametrize("told, clock, holds", [
    ({}, "11:48", True), ({"old_film_um_min": 950}, "11:48", True), ({"old_film_um_min": 900}, "11:48", False),
    ({"old_film_um_min": 900}, "09:00", True)])  # before anybody had read it
def test_an_instruction_accepts_thin_old_film_only_down_to_what_it_names(told, clock, holds):
    written = every(ENGINEER, read(900, 901, where="parent", name="P4"), instructs(clock),
                    lambda typed: typed["engineer"][0].update(told))

    assert bool(judged(written).steps["thickness"].blocks) is holds


def test_old_film_that_was_sanded_is_new_damage():
    change = every(read(900, 901, where="parent", name="P4"), also("sanded", at=at("11:10"), by="ines", zone="parent"))

    assert both(change)[1].next_move.startswith("Outline P4 as new damage")


def test_thick_old_film_informs_and_holds_nothing():
    outcome = judged(read(1890, 1888, where="parent", name="P4"))

    assert outcome.steps["thickness"].blocks == [] and outcome.steps["thickness"].verdict == "conforms"


@pytest.mark.parametrize("um", [(112, 113), (900, 900, 900, 900, 900)])  # mil among µm; a probe that was not lifted
def test_what_no_gauge_can_have_read_is_read_with_another_probe(um):
    _, block, act = both(read(*um))

    assert act.first.verb == "read_again" and "another probe" in block.next_move


WHERE, WAY = st.sampled_from(["repair", "overlap", "parent"]), st.floats(200, 2600, allow_nan=False)


@given(st.lists(st.tuples(WHERE, st.lists(WAY, min_size=1, max_size=3)), min_size=1, max_size=6))
def test_every_place_out_of_limits_is_named_in_a_move_and_nobody_grinds_old_film(places):
    spots = [{"id": f"S{n}", "where": where, "readings_um": um} for n, (where, um) in enumerate(places)]
    out = out_of_limits({"spots": spots, "sanity": []}, 1000, 1800)
    films = [um for where, read in places if where != "parent" for um in read] or [1250.0]
    told = moves(fold(JOB), out, films, 1000, 1800, 20)

    assert {one.spot for one in out} == {spot["id"] for spot in spots if min(spot["readings_um"]) < 1000
                                         or max(spot["readings_um"]) > 1800}
    for one in out:
        named = [move for move in told if one.spot in move.what]
        assert named or (one.where == "parent" and one.way == "thick" and one.sure)
        if one.where == "parent":
            assert all(move.verb in ("ask_engineer", "read_again") for move in named)


# ------------------------------------------------------------------ a failed gauge

def checks(*given):
    """A change: shim checks (clock, gauge, shown on 1000 µm)."""
    return lambda typed: typed.update(gauge_check=[
        {"at": at(clock), "by": "tobias", "instrument": gauge, "reference_um": 1000, "reading_um": shown}
        for clock, gauge, shown in given])


G8 = also("instrument", id="G8", kind="film_gauge", calibrated_on=at("00:00", -90), calibration_due=at("00:00", 90), tol_pct=3)
FAILED = (("11:25", "G7", 1004), ("11:32", "G7", 1080))


def test_readings_since_the_last_good_check_are_suspect():
    outcome = judged(checks(*FAILED))

    assert (outcome.verdict, "suspect_readings" in blocks(outcome)) == ("held", True)


@pytest.mark.parametrize("name,change", {
    "another gauge": every(G8, checks(*FAILED, ("11:34", "G8", 1002), ("11:45", "G8", 1003)),
                           again("film", 0, at=at("11:36"), instrument="G8")),
    "the same gauge, put right": every(checks(*FAILED, ("11:34", "G7", 1001), ("11:45", "G7", 1003)),
                                       again("film", 0, at=at("11:36"))),
}.items())
def test_the_same_places_read_again_with_a_good_gauge_count(name, change):
    outcome = judged(change)

    assert (outcome.verdict, blocks(outcome)) == ("released", [])


def test_a_place_that_was_not_read_again_stays_suspect():
    fewer = every(G8, checks(*FAILED, ("11:34", "G8", 1002), ("11:45", "G8", 1003)),
                  again("film", 0, at=at("11:36"), instrument="G8"), lambda typed: typed["film"][1]["spots"].pop())
    outcome = judged(fewer)

    assert outcome.verdict == "held" and {"suspect_readings", "places_left_out"} <= set(blocks(outcome))


def test_a_second_gauge_that_fails_too_holds_again():
    outcome = judged(every(G8, checks(*FAILED, ("11:34", "G8", 1002), ("11:45", "G8", 1090)),
                           again("film", 0, at=at("11:36"), instrument="G8")))

    assert blocks(outcome).count("suspect_readings") == 1 and "G8" in next(
        block.because for block in outcome.blocked_by if block.rule == "suspect_readings")
