"""What falls when a gauge fails its closing check, and what does not."""

import json
from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soundedge.basis.errors import BenchError
from soundedge.basis.question import answer
from soundedge.instruments.ask import FORMS, ChecksRequest
from soundedge.instruments.checks import Check, Reading, corrected, find_suspects

from ..tries import tries


def at(hour, day=4):
    return f"2031-05-{day:02d}T{hour:02d}:00:00Z"


def check(hour, reading, gauge="G7", reference=1000, day=4):
    return {"instrument": gauge, "at": at(hour, day), "reference_um": reference, "reading_um": reading}


def reading(name, hour, value, job="J-1", gauge="G7", day=4, **more):
    return {"id": name, "instrument": gauge, "at": at(hour, day), "job": job, "value_um": value, **more}


def ask(checks, readings=(), **more):
    return answer(FORMS, {"checks": list(checks), "tol_pct": 3, "readings": list(readings), **more})


def test_everything_since_the_last_good_check_falls():
    found = ask([check(6, 1002), check(10, 1004), check(16, 1062)],
                [reading("r1", 7, 1100), reading("r2", 11, 1040, "J-2", certificate="C-2"), reading("r3", 15, 1030, "J-3")])

    assert found.suspect == ["r2", "r3"] and found.verdict == "does_not_conform"
    assert found.jobs_held == ["J-3", "J-2"] and found.certificates_held == ["C-2"]
    assert found.last_good["G7"] == datetime(2031, 5, 4, 10, tzinfo=UTC)
    assert [(t.job, t.rank) for t in found.triage] == [("J-3", 1), ("J-2", 2)]
    assert found.triage[0].corrected_min_um == pytest.approx(1030 * 1000 / 1062)
    assert "1062" in found.suspect_because["r2"]


def test_a_good_closing_check_proves_the_shift():
    found = ask([check(6, 1002), check(16, 1004)], [reading("r1", 7, 1100)])

    assert found.suspect == [] and found.unproven == [] and found.verdict == "conforms"


def test_a_reading_at_the_moment_of_a_check_counts_as_after_it():
    assert ask([check(6, 1002), check(10, 1062), check(16, 1000)], [reading("r1", 6, 1100)]).suspect == ["r1"]
    assert ask([check(6, 1062), check(10, 1002), check(16, 1000)], [reading("r1", 10, 1100)]).suspect == []


def test_without_a_closing_check_nothing_is_known_yet():
    found = ask([check(6, 1002)], [reading("r1", 7, 1100)])

    assert found.suspect == [] and found.unproven == ["r1"] and found.verdict == "not_measured"


def test_after_a_failed_check_readings_are_suspect_until_a_good_one():
    found = ask([check(6, 1002), check(8, 1062), check(12, 1001), check(16, 1000)],
                [reading("r1", 9, 1100), reading("r2", 13, 1100)])

    assert found.suspect == ["r1"] and found.last_good["G7"].hour == 12 + 4


def test_another_gauge_is_not_touched():
    found = ask([check(6, 1002), check(16, 1062), check(6, 1000, "G8"), check(16, 1000, "G8")],
                [reading("r1", 7, 1100), reading("r2", 7, 1100, "J-2", "G8")])

    assert found.suspect == ["r1"] and found.jobs_held == ["J-1"]


def test_a_gauge_that_was_never_good_has_no_last_good_check():
    found = ask([check(6, 1062), check(16, 1062)], [reading("r1", 7, 1100)])

    assert found.last_good == {"G7": None} and found.suspect == ["r1"]


def test_the_limit_of_the_tolerance_still_passes():
    assert ask([check(6, 1030), check(7, 970)]).verdict == "conforms"
    assert ask([check(6, 1030.1)]).verdict == "does_not_conform"


def test_a_gauge_that_failed_is_not_passed_by_a_later_check_of_another():
    alone = ask([check(6, 1100), check(16, 1000, "G8")])
    shims = ask([check(6, 1100), check(6, 500, reference=500)])
    beside = ask([check(6, 1100), check(6, 1000, "G8"), check(16, 1000, "G8")], [reading("r1", 7, 1100, gauge="G8")])

    assert alone.verdict == shims.verdict == "does_not_conform" and alone.because == "G7 failed the last check."
    assert "G7 out of use" in alone.next_move
    assert beside.verdict == "conforms" and "G7 failed" in beside.because and "G7 out of use" in beside.next_move


def test_what_was_not_given_is_not_called_good():
    assert ask([]).verdict == "not_measured" and "nothing is known" in ask([]).because
    assert ask([check(6, 1000)]).verdict == "conforms" and "none is judged" in ask([check(6, 1000)]).because


def test_several_shims_at_one_moment_stand_or_fall_together():
    found = ask([check(6, 1000), check(16, 1001), check(16, 530, reference=500)], [reading("r1", 7, 1100)])

    assert found.suspect == ["r1"]


def test_the_offset_lives_through_time_zones():
    found = ask([check(6, 1002), {**check(16, 1062), "at": "2031-05-04T18:00:00+02:00"}],
                [{**reading("r1", 0, 1100), "at": "2031-05-04T08:30:00+02:00"}])

    assert found.suspect == ["r1"]


def test_a_lapsed_calibration_makes_later_readings_suspect():
    found = ask([check(6, 1002), check(16, 1001)], [reading("r1", 7, 1100)], at=at(20),
                calibrations=[{"instrument": "G7", "on": "2030-05-01T00:00:00Z", "interval_days": 365},
                              {"instrument": "G7", "on": "2029-05-01T00:00:00Z", "interval_days": 365}])

    assert found.suspect == ["r1"] and "lapsed" in found.suspect_because["r1"]
    assert found.calibration[0].lapsed and found.calibration[0].days_left < 0 and len(found.calibration) == 1


def test_a_corrected_value_never_clears_a_reading():
    found = ask([check(6, 1002), check(16, 1062)], [reading("r1", 7, 1900)], min_um=1000)

    assert found.triage[0].below_minimum is False and found.suspect == ["r1"] and "never clears" in found.cautions[0]


def test_one_shim_corrects_by_proportion_or_difference_two_by_a_line():
    moment = datetime(2031, 5, 4, tzinfo=UTC)
    one = [Check("G7", moment, 1000, 1060)]
    two = [Check("G7", moment, 500, 540), Check("G7", moment, 1500, 1580)]

    assert corrected(1060, one) == (1000, 1000)
    assert corrected(530, one) == (500, 470)
    assert corrected(1060, two)[0] == pytest.approx(1000)   # 540 → 500, 1580 → 1500: the middle goes to the middle


@tries(80)
@given(st.lists(st.tuples(st.integers(0, 23), st.booleans()), max_size=6), st.lists(st.integers(0, 23), min_size=1, max_size=8))
def test_suspects_are_what_the_definition_says(given_checks, hours):
    """Each reading is between two checks; it is suspect exactly when the one before or after was bad."""
    checks = [Check("G", datetime(2031, 5, 4, h, tzinfo=UTC), 1000, 1000 if good else 1100)
              for h, good in dict(given_checks).items()]
    readings = [Reading(str(i), "G", datetime(2031, 5, 4, h, 30, tzinfo=UTC), "J", 1000) for i, h in enumerate(hours)]

    found = find_suspects(checks, readings, tol_pct=3)

    for i, h in enumerate(hours):
        before = [c for c in checks if c.at.hour <= h]
        after = [c for c in checks if c.at.hour > h]
        last = max(before, key=lambda c: c.at, default=None)
        following = min(after, key=lambda c: c.at, default=None)
        bad = any(c is not None and c.reading_um == 1100 for c in (last, following))
        assert (str(i) in found.suspect) == bad
        assert (str(i) in found.unproven) == (not bad and (last is None or following is None))


@pytest.mark.parametrize("change, kind", [
    ({"checks": [check(6, -1)]}, "out_of_range"),
    ({"checks": [{**check(6, 1000), "at": "yesterday"}]}, "unreadable"),
    ({"checks": [{**check(6, 1000), "reference_um": 0}]}, "out_of_range"),
    ({"tol_pct": 0}, "out_of_range"),
    ({"readings": [reading("r1", 7, 1000), reading("r1", 8, 1000)]}, "contradiction"),
    ({"readings": [{**reading("r1", 7, 1000), "colour": 1}]}, "unknown"),
])
def test_a_bad_request_is_refused_by_name(change, kind):
    with pytest.raises(BenchError) as bad:
        answer(FORMS, {"checks": [check(6, 1000)], "tol_pct": 3, **change})

    assert bad.value.kind == kind


junk = st.recursive(st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
                    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=6), inner, max_size=3),
                    max_leaves=6)


@tries(150)
@given(st.sampled_from([*ChecksRequest.model_fields, "study", "chart", "capability", "low", "high"]), junk)
def test_no_bad_field_ends_in_a_traceback(field, value):
    try:
        found = answer(FORMS, {"checks": [check(6, 1000)], field: value})
        json.dumps(found.model_dump(mode="json"), allow_nan=False)
    except BenchError as bad:
        assert bad.message


@tries(80)
@given(st.sampled_from(["study", "chart", "capability"]),
       st.lists(st.floats(-1e12, 1e12), max_size=6) | st.lists(st.lists(st.floats(-1e12, 1e12), max_size=3), max_size=4),
       st.none() | st.floats(-1e12, 1e12))
def test_any_numbers_give_an_answer_or_a_reason(mark, values, low):
    raw = {mark: values} | ({"low": low, "high": None if low is None else low + 1} if mark == "capability" else {})
    try:
        json.dumps(answer(FORMS, raw).model_dump(mode="json"), allow_nan=False)
    except BenchError as bad:
        assert bad.message


def test_the_bare_command_says_what_it_lacks(capsys):
    from soundedge.cli.main import main

    with pytest.raises(SystemExit) as left:
        main(["instruments"])

    assert left.value.code == 3 and "nothing is known of any gauge" in capsys.readouterr().out


def test_a_good_check_leaves_its_error_and_the_shims_to_the_readings():
    """ASTM D7091 (memory): the errors of gauge and standard combine as √(2² + 3²) = 3.6 %. A check that passes is not a gauge
    without an error, and a check on a shim that nobody knows has no probability."""
    found = ask([check(6, 1020) | {"u_reference_um": 30}, check(16, 1062)])

    assert found.known_u_pct == {"G7": pytest.approx(3.60555, abs=1e-5)}
    assert [(f.u, f.p_conforms is None) for f in found.findings] == [(pytest.approx(3.0), False), (None, True)]
    assert "uncertainty is not known" in found.findings[1].because
