"""Vapour, richness and airing, against sums done by hand and a mixing simulation."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soundedge.hazards.solvents import solvent, solvents
from soundedge.hazards.vapour import (
    heavier_than_air,
    lel_pct,
    minutes_to,
    molar_volume_l,
    saturation_ppm,
    vapour_l,
    vapour_ppm,
)

ACETONE = solvent("acetone")
ML = st.floats(0.01, 100)
SPACE_L = st.floats(10, 1e5)


def test_a_millilitre_of_acetone_makes_a_third_of_a_litre_of_vapour():
    """By hand: 0.791 g / 58.08 g/mol · 24.055 l/mol = 0.3276 l at 20 °C."""
    assert vapour_l(ACETONE, 1, 20) == pytest.approx(0.791 / 58.08 * 24.055, rel=1e-4)


def test_the_molar_volume_agrees_with_coolprop_nitrogen():
    """A real gas near the ideal: nitrogen at 20 °C, 101.325 kPa, CoolProp."""
    from CoolProp.CoolProp import PropsSI

    assert molar_volume_l(20) == pytest.approx(1000 / PropsSI("Dmolar", "T", 293.15, "P", 101325, "Nitrogen"), rel=1e-3)


@pytest.mark.parametrize("ml_per_m3, share_pct", [(7.63, 10.0), (76.3, 100.0), (10.0, 13.1)])
def test_millilitres_in_a_cubic_metre(ml_per_m3, share_pct):
    """Worked by hand with a lower limit of 2.5 %: 7.6 ml/m³ is 10 %, 76 ml/m³ all of it, 10 ml/m³ 13 %."""
    ppm = vapour_ppm(ACETONE, ml=ml_per_m3, space_l=1000, air_c=20)

    assert lel_pct(ACETONE, ppm) == pytest.approx(share_pct, rel=0.005)


def test_ten_millilitres_in_a_fifty_litre_nozzle_are_inside_the_flammable_range():
    ppm = vapour_ppm(ACETONE, ml=10, space_l=50, air_c=20)

    assert ppm / 1e4 == pytest.approx(6.55, abs=0.02)
    assert ACETONE.value("lel_pct") < ppm / 1e4 < ACETONE.value("uel_pct")


@given(ML, SPACE_L, st.floats(-20, 45), st.sampled_from(sorted(solvents())))
def test_twice_the_liquid_or_half_the_space_is_twice_as_rich(ml, space_l, air_c, key):
    def ppm(ml, space_l):
        return vapour_ppm(solvent(key), ml=ml, space_l=space_l, air_c=air_c)

    if ppm(2 * ml, space_l) < 1e6:
        assert ppm(2 * ml, space_l) == pytest.approx(2 * ppm(ml, space_l))
        assert ppm(ml, space_l / 2) == pytest.approx(2 * ppm(ml, space_l))
    assert 0 < ppm(ml, space_l) <= 1e6


def test_airing_times_done_by_hand():
    """3277 → 250 ppm at 6 air changes an hour: 26 min well mixed, 77 min with K = 3, 129 min with K = 5."""
    times = [minutes_to(3277, 250, air_changes_per_h=6, mixing_factor=k) for k in (1, 3, 5)]

    assert [round(t) for t in times] == [26, 77, 129]


def test_the_airing_time_agrees_with_a_space_emptied_step_by_step():
    """Explicit mass balance, one second a step: dC/dt = −(n/K)·C."""
    c, seconds = 24000.0, 0
    while c > 2500:
        c -= c * (8 / 3) / 3600
        seconds += 1

    assert minutes_to(24000, 2500, air_changes_per_h=8, mixing_factor=3) == pytest.approx(seconds / 60, rel=2e-3)


def test_no_time_when_nothing_needs_to_fall_or_no_air_is_changed():
    assert minutes_to(2000, 2500, air_changes_per_h=6, mixing_factor=3) is None
    assert minutes_to(9000, 2500, air_changes_per_h=0, mixing_factor=3) is None


@given(st.floats(2600, 1e6), st.floats(0.5, 100), st.floats(1, 10))
def test_more_air_and_better_mixing_are_quicker_and_the_way_back_is_the_start(ppm, n, k):
    t = minutes_to(ppm, 2500, air_changes_per_h=n, mixing_factor=k)

    assert minutes_to(ppm, 2500, air_changes_per_h=2 * n, mixing_factor=k) == pytest.approx(t / 2)
    assert minutes_to(ppm, 2500, air_changes_per_h=n, mixing_factor=2 * k) == pytest.approx(2 * t)
    assert 2500 * math.exp(t / 60 * n / k) == pytest.approx(ppm, rel=1e-9)


@pytest.mark.parametrize("key", sorted(solvents()))
def test_every_vapour_is_heavier_than_air_and_warm_air_holds_more(key):
    one = solvent(key)

    assert heavier_than_air(one) > 1.5
    assert saturation_ppm(one, 5) < saturation_ppm(one, 20) < saturation_ppm(one, 40) <= 1e6


def test_acetone_vapour_is_twice_as_heavy_as_air():
    """Vapour density 2.0: National Toxicology Program record, second hand."""
    assert heavier_than_air(ACETONE) == pytest.approx(2.0, abs=0.02)
