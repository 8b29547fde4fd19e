"""Intervals between readings and the trend, from logs made by hand."""

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soundedge.conditions.dew_point import dew_point_c
from soundedge.conditions.log import Reading, Rules, _low_k, intervals, margin_of, state_of, trend

EIGHT = datetime(2031, 5, 4, 8, tzinfo=UTC)
RULES = Rules(dew_margin_k=3.0, rh_pct_max=85.0, gap_min_max=120.0)


def at(minutes, margin, *, air_c=20.0, rh_pct=60.0):
    """A reading with exactly this margin."""
    return Reading(EIGHT + timedelta(minutes=minutes), air_c, rh_pct, dew_point_c(air_c, rh_pct) + margin)


def states(*log, rules=RULES):
    return [b.state for b in intervals(log, rules)]


def test_two_readings_that_hold_make_a_good_interval():
    assert states(at(0, 5), at(60, 4)) == ["good"]


def test_a_margin_that_crosses_between_two_readings_is_bad_whichever_way_it_goes():
    assert states(at(0, 5), at(60, 1), at(120, 5)) == ["bad", "bad"]


def test_a_gap_longer_than_allowed_is_unknown_even_between_two_good_readings():
    assert states(at(0, 5), at(120, 5), at(240.1, 5)) == ["good", "unknown"]


def test_an_interval_that_holds_only_on_the_plain_values_is_unknown():
    tight = Rules(3.0, 85.0, 120.0, tol_air_k=0.5, tol_rh_pct=2.0, tol_steel_k=0.5)

    assert states(at(0, 4), at(60, 4), rules=tight) == ["unknown"]
    assert states(at(0, 5), at(60, 5), rules=tight) == ["good"]


def test_wet_air_at_one_end_is_bad():
    assert states(at(0, 5), at(60, 5, rh_pct=86)) == ["bad"]
    assert states(at(0, 5), at(60, 5, rh_pct=86), rules=Rules(3.0, None, 120.0)) == ["good"]


def test_a_dip_between_two_good_ends_is_not_called_good():
    """Air warms while it dries: half-way it holds more water than at either end."""
    a, b = at(0, 3.2, air_c=8, rh_pct=84), at(60, 3.2, air_c=30, rh_pct=22)

    assert margin_of(a) > 3 and margin_of(b) > 3
    assert states(a, b) == ["unknown"]


def test_one_more_reading_costs_one_interval_whatever_was_read_before():
    """A page of a job with 1,500 readings is made anew after each one; the ends are looked at 17 times for each interval."""
    log = [at(minutes, 5 + minutes / 7, air_c=21.03) for minutes in range(0, 400, 2)]
    before = intervals(log, RULES)
    worked = _low_k.cache_info().misses

    after = intervals([*log, at(401, 4.9, air_c=21.03)], RULES)

    assert after[:-1] == before and len(after) == len(log)
    assert _low_k.cache_info().misses == worked + 1


@given(
    tols=st.lists(st.tuples(st.floats(0, 2), st.floats(0, 5), st.floats(0, 2)), min_size=2, max_size=3, unique=True),
    limit=st.floats(1, 5),
)
def test_what_is_kept_never_answers_for_other_tolerances(tols, limit):
    a, b = at(0, 6.0, air_c=17.2), at(45, 5.5, air_c=24.8, rh_pct=44.0)
    first = [intervals([a, b], Rules(limit, 85.0, 120.0, *tol)) for tol in tols]
    again = []
    for tol in tols:
        _low_k.cache_clear()
        again.append(intervals([a, b], Rules(limit, 85.0, 120.0, *tol)))

    assert first == again
    assert all(one[0].margin_low_k <= min(margin_of(a), margin_of(b)) for one in first)


def test_one_reading_has_no_interval_and_no_trend():
    assert states(at(0, 5)) == []
    assert trend([at(0, 5)], RULES) is None


def test_a_straight_fall_meets_the_limit_when_a_foreman_says_it_does():
    """6.0, 5.5, 5.0 K at 0, 30, 60 min: 1 K an hour, 2 K left, 120 min."""
    found = trend([at(0, 6.0), at(30, 5.5), at(60, 5.0)], RULES)

    assert found.slope_k_per_h == pytest.approx(-1.0)
    assert found.minutes_to_limit == pytest.approx(120.0)


def test_the_line_is_the_least_squares_line_of_numpy():
    import numpy as np

    times, margins = [0, 25, 61, 90, 118], [6.1, 5.2, 5.4, 4.4, 4.1]
    slope, level = np.polyfit(times, margins, 1)
    found = trend([at(t, m) for t, m in zip(times, margins)], RULES)

    assert found.slope_k_per_h == pytest.approx(60 * slope)
    assert found.minutes_to_limit == pytest.approx((level + slope * 118 - 3.0) / -slope)


def test_only_the_recent_readings_draw_the_line():
    old = [at(10 * i, 4.0 + i) for i in range(5)]
    recent = [at(100 + 10 * i, 8.0 - 0.5 * i) for i in range(6)]

    assert trend(old + recent, RULES).slope_k_per_h == pytest.approx(-3.0)


def test_a_rising_or_steady_margin_has_no_time_to_the_limit():
    assert trend([at(0, 5), at(60, 6)], RULES).minutes_to_limit is None
    assert trend([at(0, 5), at(60, 5)], RULES).minutes_to_limit is None


def test_a_margin_already_gone_has_zero_minutes():
    assert trend([at(0, 3), at(60, 2)], RULES).minutes_to_limit == 0


@given(st.lists(st.floats(-5, 15), min_size=2, max_size=9), st.floats(0.5, 10))
def test_good_intervals_hold_at_both_ends_and_every_pair_has_one(margins, limit):
    log = [at(30 * i, m) for i, m in enumerate(margins)]
    found = intervals(log, Rules(limit, 85.0, 120.0))

    assert len(found) == len(log) - 1
    for between, a, b in zip(found, margins, margins[1:]):
        if between.state == "good":
            assert min(a, b) >= limit - 1e-9
        if min(a, b) < limit - 1e-9:
            assert between.state == "bad"


@given(st.floats(0.1, 4), st.floats(6, 12))
def test_a_steeper_fall_leaves_less_time(slope_k_per_h, start):
    def left(slope):
        return trend([at(m, start - slope * m / 60) for m in (0, 10, 20, 30)], RULES).minutes_to_limit

    assert left(slope_k_per_h * 1.1) < left(slope_k_per_h)


def test_an_operation_takes_its_worst_interval_and_is_unknown_outside_the_log():
    found = intervals([at(0, 5), at(60, 5), at(120, 1), at(400, 5), at(460, 5)], RULES)

    def during(start, end):
        return state_of(EIGHT + timedelta(minutes=start), EIGHT + timedelta(minutes=end), found)[0]

    assert during(0, 60) == "good"
    assert during(30, 90) == "bad"
    assert during(200, 300) == "unknown"
    assert during(410, 459) == "good"
    assert during(430, 500) == "unknown"
    assert during(-10, 30) == "unknown"
    assert during(30, 30) == "good"


def test_no_trend_is_drawn_across_a_gap_longer_than_allowed():
    day = 24 * 60

    assert trend([at(0, 8), at(day, 7), at(2 * day, 6)], RULES) is None
    after = trend([at(0, 20), at(day, 6), at(day + 60, 5.5)], RULES)
    assert after.readings == 2 and after.slope_k_per_h == pytest.approx(-0.5)


def test_no_trend_is_drawn_through_readings_within_one_minute():
    assert trend([at(0, 5), at(0.9, 4.9)], RULES) is None
    assert trend([at(0, 5), at(1, 4.9)], RULES).readings == 2
