"""Did water settle on the steel? Against a simulated night, worked out by another formulation of moist air."""

import math
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soundedge.basis.question import answer
from soundedge.conditions.ask import FORMS
from soundedge.conditions.condensed import condensed
from soundedge.conditions.dew_point import dew_point_c
from soundedge.conditions.log import Reading, Rules

from .test_dew_point import murphy_koop_water_pa, root

EIGHT = datetime(2031, 5, 4, 8, tzinfo=UTC)
PLAIN = Rules(dew_margin_k=3.0, rh_pct_max=85.0, gap_min_max=120.0)
METERS = Rules(3.0, 85.0, 120.0, tol_air_k=0.5, tol_rh_pct=2.0, tol_steel_k=0.5)


def when(minutes):
    return EIGHT + timedelta(minutes=minutes)


def at(minutes, margin, *, air_c=20.0, rh_pct=60.0):
    """A reading with exactly this margin."""
    return Reading(when(minutes), air_c, rh_pct, dew_point_c(air_c, rh_pct) + margin)


def state(*log, start=0, end=120, rules=PLAIN):
    return condensed(log, when(start), when(end), rules).state


def over_water(air_c, rh_pct):
    """The dew point by that formula."""
    vapour = rh_pct / 100 * murphy_koop_water_pa(air_c)
    return root(lambda t: murphy_koop_water_pa(t) - vapour, -70, 60)


def night(n, coldest_k):
    """A plate of steel in a hall that cools and turns damp over ten hours: a reading every ten minutes.

    The steel follows the air with a lag; ``coldest_k`` moves it up and down as a whole.
    """
    log, steel = [], 18.0
    for k in range(n):
        air_c = 16 + 4 * math.cos(2 * math.pi * k / n)
        rh_pct = 66 + 16 * math.sin(math.pi * k / n) ** 2
        steel += (air_c - steel) / 6
        log.append(Reading(when(10 * k), air_c, rh_pct, steel + coldest_k))
    return log


@pytest.mark.parametrize("coldest_k", [-6.0, -4.5, -3.5, -2.5, -1.5, 0.0, 2.0])
def test_a_simulated_night_is_wet_when_another_formulation_of_moist_air_says_so(coldest_k):
    """Murphy and Koop 2005 over water; that formula and ours part by less than 0.06 K (test_dew_point)."""
    log = night(60, coldest_k)
    lowest = min(r.steel_c - over_water(r.air_c, r.rh_pct) for r in log)
    assert abs(lowest) > 0.1  # else the two might part

    found = condensed(log, log[0].at, log[-1].at, PLAIN)

    assert found.state == ("yes" if lowest <= 0 else "no")
    assert found.margin_k == pytest.approx(lowest, abs=0.06)


def test_a_dry_reading_after_a_wet_one_does_not_dry_the_steel():
    assert state(at(0, 5), at(60, -0.4), at(120, 6)) == "yes"
    assert state(at(0, 5), at(60, 0), at(120, 6)) == "yes"
    assert state(at(0, 5), at(60, 0.1), at(120, 6)) == "no"


def test_what_was_before_the_stretch_and_comes_after_it_is_not_in_it():
    log = at(-60, -1), at(30, 8), at(60, 8), at(120, -4)

    assert state(*log, start=10, end=65) == "no"
    assert state(*log, start=-50, end=65) == "yes"
    assert state(*log, start=10, end=100) == "yes"


def test_the_line_between_two_dry_readings_may_be_wet():
    """Air that warms while it dries holds more water half-way than at either end."""
    a, b = at(0, 0.4, air_c=8, rh_pct=84), at(60, 0.4, air_c=30, rh_pct=22)

    assert state(a, b, end=60) == "yes"


def test_it_is_unknown_with_every_meter_at_its_tolerance_or_when_nobody_read():
    assert state(at(0, 5), at(60, 1), at(120, 5), rules=METERS) == "unknown"
    assert state(at(0, 5), at(60, 3.4), at(120, 5), rules=METERS) == "no"
    assert state(at(0, 5), at(121, 5), end=121) == "unknown"
    assert state(at(0, 5), end=121) == "unknown"
    assert state(at(0, 5), end=120) == "no"
    assert state(at(10, 5)) == "unknown" and state() == "unknown"


def test_the_time_without_a_reading_is_told():
    found = condensed([at(0, 6), at(155, 5.8)], when(0), when(160), PLAIN)

    assert [(one.start, one.end, one.minutes) for one in found.unread] == [(when(0), when(155), 155)]


MARGIN = st.floats(-3, 12)
LOGS = st.lists(st.tuples(st.integers(1, 600), MARGIN, st.floats(5, 30), st.floats(30, 95)), min_size=1, max_size=12,
                unique_by=lambda row: row[0]).map(
                    lambda rows: [at(m, k, air_c=air, rh_pct=rh) for m, k, air, rh in sorted(rows)])


@given(log=LOGS, wet=st.floats(-3, 0), minute=st.integers(1, 600))
def test_a_wet_reading_more_makes_it_wet_whatever_else_was_read(log, wet, minute):
    others = [reading for reading in log if reading.at != when(minute)]
    more = sorted([*others, at(minute, wet - 1e-9)], key=lambda reading: reading.at)

    assert condensed(more, when(0), when(600), METERS).state == "yes"


def test_a_reading_at_the_very_end_counts_though_there_is_one_after_it():
    assert state(at(60, -0.1), end=60) == state(at(60, -0.1), at(61, 4), end=60) == "yes"


@given(log=LOGS, later=st.floats(0.1, 12))
def test_a_dry_reading_at_the_end_never_heals(log, later):
    before = condensed(log, when(0), when(600), METERS)
    after = condensed([*log, at(601, later)], when(0), when(600), METERS)

    assert after.state == "yes" or before.state != "yes"


@given(steps=st.lists(st.tuples(st.integers(1, 120), st.floats(2.5, 12)), min_size=1, max_size=12))
def test_a_log_that_is_dry_at_every_reading_and_between_is_never_wet(steps):
    log, minute = [at(0, 6)], 0
    for minutes, margin in steps:
        minute += minutes
        log.append(at(minute, margin))  # one air: the line between two margins stays between them

    assert condensed(log, when(0), when(minute), METERS).state == "no"


def test_the_room_says_it_of_an_operation():
    rows = [{"at": r.at.isoformat(), "air_c": r.air_c, "rh_pct": r.rh_pct, "steel_c": r.steel_c}
            for r in (at(0, 5), at(60, -0.4), at(120, 6))]
    found = answer(FORMS, {"series": rows, "operations": [
        {"name": "from preparation on", "start": rows[0]["at"], "end": rows[2]["at"]}]})

    assert found.operations[0].condensed == "yes"
    assert found.operations[0].margin_low_k == pytest.approx(-0.4)
