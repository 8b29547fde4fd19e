"""Burn thresholds against a second published list; cooling against a stepped balance."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soundedge.basis.errors import BenchError
from soundedge.hazards.burns import CONTACT_S_MAX, CONTACT_S_MIN, THRESHOLDS_C, cool_minutes, threshold_c

# Times to a serious burn on hot metal, attributed to a burns hospital, quoted on an engineers' mailing list in 1997
# (second hand): [s], [°C]. A serious burn needs more than the threshold, so ours must lie below, and not far below.
SERIOUS = [(300, 49), (90, 52), (30, 55), (10, 57), (5, 60), (3, 63), (1.5, 66), (1, 68)]


@pytest.mark.parametrize("contact_s, serious_c", SERIOUS)
def test_the_threshold_lies_just_below_a_serious_burn(contact_s, serious_c):
    low, _ = threshold_c("bare_metal", contact_s)

    assert serious_c - 5 <= low <= serious_c


@pytest.mark.parametrize("contact_s, low_c", [(1, 65), (60, 51), (600, 48), (28800, 43)])
def test_published_times_give_published_values(contact_s, low_c):
    assert threshold_c("bare_metal", contact_s)[0] == low_c


@pytest.mark.parametrize("surface", sorted(THRESHOLDS_C))
@given(st.floats(CONTACT_S_MIN, CONTACT_S_MAX), st.floats(1.01, 10))
def test_a_longer_touch_burns_at_a_lower_temperature(surface, contact_s, times):
    low, high = threshold_c(surface, contact_s)
    longer = min(contact_s * times, CONTACT_S_MAX)

    assert 43 <= low <= high
    assert threshold_c(surface, longer)[0] <= low + 1e-9
    assert threshold_c(surface, longer)[1] <= high + 1e-9


@given(st.floats(CONTACT_S_MIN, CONTACT_S_MAX))
def test_metal_burns_first_and_plastic_last(contact_s):
    metal, glass, plastic = (threshold_c(s, contact_s)[0] for s in ("bare_metal", "ceramic_glass_stone", "plastic"))

    assert metal <= glass <= plastic


def test_between_two_times_the_middle_of_the_logarithm_is_the_middle_of_the_value():
    assert threshold_c("bare_metal", 2.0)[0] == pytest.approx((65 + 58) / 2)


def test_the_table_covers_every_allowed_time_in_order():
    for points in THRESHOLDS_C.values():
        assert (points[0][0], points[-1][0]) == (CONTACT_S_MIN, CONTACT_S_MAX)
        assert all(a[0] < b[0] and a[1] >= b[1] and a[2] >= b[2] for a, b in pairwise(points))


@pytest.mark.parametrize("surface, contact_s", [("coated_metal", 1), ("bare_metal", 0.4), ("bare_metal", 28801)])
def test_what_is_not_published_is_refused(surface, contact_s):
    with pytest.raises(BenchError):
        threshold_c(surface, contact_s)


def test_cooling_agrees_with_a_balance_stepped_by_the_second():
    t_c, seconds, stored = 250.0, 0, 7850 * 490 * 0.010
    while t_c > 43:
        t_c -= 20 * (t_c - 20) / stored
        seconds += 1
    ours = cool_minutes(250, 43, air_c=20, plate_mm=10, density_kg_m3=7850, heat_capacity_j_kgk=490, h_w_m2k=20)

    assert ours == pytest.approx(seconds / 60, rel=2e-3)
    assert ours == pytest.approx(72, rel=0.04)  # a hand calculation with a slightly smaller heat capacity


def test_cooling_ends():
    plate = {"plate_mm": 10, "density_kg_m3": 7850, "heat_capacity_j_kgk": 490, "h_w_m2k": 20}

    assert cool_minutes(40, 43, air_c=20, **plate) == 0
    assert cool_minutes(250, 43, air_c=43, **plate) is None
    assert cool_minutes(250, 43, air_c=20, **plate) < cool_minutes(250, 43, air_c=20, **plate | {"plate_mm": 20})
