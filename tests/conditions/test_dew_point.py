"""Dew point against two other formulations and a printed table; direction, ends and the way back."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bench.arrays.dew_points import dew_points_c
from soundedge.conditions.dew_point import (
    dew_point_c,
    frost_point_c,
    margin_k,
    margin_u_k,
    margin_worst_k,
    saturation_hpa,
)

AIR_C = st.floats(-45, 60)
RH_PCT = st.floats(0.5, 100)
GRID = [(t, rh) for t in range(-20, 51, 5) for rh in (20, 35, 50, 65, 80, 90, 99)]

# Vapour pressure of water [kPa] at 0, 5 … 50 °C: the table of an open encyclopedia ("Vapour pressure of water", after
# the CRC handbook), read in a public copy.
TABLE_KPA = {0: 0.6113, 5: 0.8726, 10: 1.2281, 15: 1.7056, 20: 2.3388, 25: 3.1690, 30: 4.2455, 35: 5.6267, 40: 7.3814,
             45: 9.5898, 50: 12.3440}

# Saturation over water [hPa] by Hyland and Wexler, as tabulated on an open page that compares seventeen formulations.
HYLAND_WEXLER_HPA = {0: 6.11213, 10: 12.27995, 15: 17.05448, 20: 23.38804, 30: 42.46030, 40: 73.83460}


@pytest.mark.parametrize("air_c, kpa", TABLE_KPA.items())
def test_saturation_agrees_with_the_printed_table_within_0_4_percent(air_c, kpa):
    assert saturation_hpa(air_c) / 10 == pytest.approx(kpa, rel=0.004)


@pytest.mark.parametrize("air_c, hpa", HYLAND_WEXLER_HPA.items())
def test_saturation_agrees_with_hyland_and_wexler_within_0_4_percent(air_c, hpa):
    assert saturation_hpa(air_c) == pytest.approx(hpa, rel=0.004)


@pytest.mark.parametrize("air_c, rh_pct, dew_c", [(20, 65, 13.2), (25, 80, 21.3), (16, 62, 8.7), (21, 78, 17.0)])
def test_four_worked_values(air_c, rh_pct, dew_c):
    """Worked by hand with the Magnus form to the first decimal."""
    assert round(dew_point_c(air_c, rh_pct), 1) == dew_c


def over_water_hpa_coolprop(temperature_c: float) -> float:
    """Saturation of pure water (IAPWS-95 through CoolProp) above the triple point, where it is defined."""
    from CoolProp.CoolProp import PropsSI

    return PropsSI("P", "T", temperature_c + 273.15, "Q", 0, "Water") / 100


def root(f, low, high):
    """Bisection: our own check does not lean on the formula it checks."""
    for _ in range(45):  # to 3e-14 of the stretch it starts with
        middle = (low + high) / 2
        low, high = (middle, high) if f(middle) < 0 else (low, middle)
    return (low + high) / 2


def test_dew_points_above_zero_agree_with_iapws_water_within_0_05_k():
    """CoolProp (IAPWS-95): the temperature at which pure water has the vapour pressure of the air."""
    worst = 0.0
    for air_c, rh_pct in GRID:
        ours = dew_point_c(air_c, rh_pct)
        if air_c < 0.02 or ours < 0.02:
            continue
        e = rh_pct / 100 * over_water_hpa_coolprop(air_c)
        theirs = root(lambda t, e=e: over_water_hpa_coolprop(t) - e, 0.011, 60)
        worst = max(worst, abs(ours - theirs))

    assert 0 < worst < 0.05


def test_dew_points_above_zero_agree_with_humid_air_of_coolprop_within_0_06_k():
    """CoolProp's moist-air routine (ASHRAE RP-1485), at 101.325 kPa."""
    from CoolProp.CoolProp import HAPropsSI

    for air_c, rh_pct in GRID:
        ours = dew_point_c(air_c, rh_pct)
        if air_c > 0 and ours > 0.05:
            theirs = HAPropsSI("D", "T", air_c + 273.15, "P", 101325, "R", rh_pct / 100) - 273.15
            assert ours == pytest.approx(theirs, abs=0.06), (air_c, rh_pct)


@pytest.mark.release
def test_dew_points_above_zero_agree_with_the_ashrae_formulation_within_0_05_k():
    """psychrolib 2.5, ASHRAE Handbook Fundamentals 2017, chapter 1."""
    import psychrolib

    psychrolib.SetUnitSystem(psychrolib.SI)
    for air_c, rh_pct in GRID:
        ours = dew_point_c(air_c, rh_pct)
        if air_c > 0 and ours > 0.05:
            theirs = psychrolib.GetTDewPointFromRelHum(air_c, rh_pct / 100)
            assert ours == pytest.approx(theirs, abs=0.05), (air_c, rh_pct)


def murphy_koop_water_pa(temperature_c: float) -> float:
    """Vapour pressure over supercooled water, 123 to 332 K: Murphy and Koop, Q. J. R. Meteorol. Soc. 131 (2005) 1539,
    equation 10, as printed on an open formula page (metformel)."""
    t = temperature_c + 273.15
    return math.exp(
        54.842763 - 6763.22 / t - 4.21 * math.log(t) + 0.000367 * t
        + math.tanh(0.0415 * (t - 218.8)) * (53.878 - 1331.22 / t - 9.44523 * math.log(t) + 0.014025 * t)
    )


def test_below_zero_the_dew_point_is_over_supercooled_water():
    """psychrolib and CoolProp give the frost point there; Murphy and Koop is over water, and agrees within 0.06 K for
    air from −20 to 50 °C and dew points down to −38 °C."""
    worst = 0.0
    for air_c, rh_pct in GRID:
        e = rh_pct / 100 * murphy_koop_water_pa(air_c)
        theirs = root(lambda t, e=e: murphy_koop_water_pa(t) - e, -70, 60)
        worst = max(worst, abs(dew_point_c(air_c, rh_pct) - theirs))

    assert 0 < worst < 0.06


@pytest.mark.release
def test_the_frost_point_agrees_with_psychrolib_within_0_1_k():
    """psychrolib takes relative humidity against ice below 0 °C air, so its humidity is given as vapour pressure."""
    import psychrolib

    psychrolib.SetUnitSystem(psychrolib.SI)
    seen = 0
    for air_c, rh_pct in GRID:
        ours = frost_point_c(air_c, rh_pct)
        if ours is None:
            continue
        e_pa = rh_pct / 100 * saturation_hpa(air_c) * 100
        if air_c < 1:
            continue  # its inversion never looks above the air temperature; see the ice table below for these
        assert ours == pytest.approx(psychrolib.GetTDewPointFromVapPres(air_c, e_pa), abs=0.1), (air_c, rh_pct)
        seen += 1

    assert seen == 9


def murphy_koop_ice_pa(temperature_c: float) -> float:
    """Vapour pressure over ice, above 110 K: the same paper, equation 7, from memory."""
    t = temperature_c + 273.15
    return math.exp(9.550426 - 5723.265 / t + 3.53068 * math.log(t) - 0.00728332 * t)


def test_the_frost_point_agrees_with_murphy_and_koop_within_0_1_k():
    for air_c, rh_pct in GRID:
        ours = frost_point_c(air_c, rh_pct)
        if ours is not None and ours < 0:
            e = rh_pct / 100 * murphy_koop_water_pa(air_c)
            theirs = root(lambda t, e=e: murphy_koop_ice_pa(t) - e, -80, 5)
            assert ours == pytest.approx(theirs, abs=0.1), (air_c, rh_pct)


def test_there_is_no_frost_point_in_air_with_a_dew_point_above_zero():
    assert frost_point_c(20, 60) is None


@given(AIR_C, RH_PCT)
def test_the_dew_point_is_never_above_the_air_and_never_above_the_frost_point(air_c, rh_pct):
    dew_c = dew_point_c(air_c, rh_pct)

    assert dew_c <= air_c + 1e-9
    frost_c = frost_point_c(air_c, rh_pct)
    assert frost_c is None or frost_c >= dew_c - 1e-9


@given(AIR_C)
def test_full_air_is_at_its_dew_point(air_c):
    assert dew_point_c(air_c, 100) == pytest.approx(air_c, abs=1e-9)


@given(AIR_C, RH_PCT)
def test_the_way_back_gives_the_humidity(air_c, rh_pct):
    back = 100 * saturation_hpa(dew_point_c(air_c, rh_pct)) / saturation_hpa(air_c)

    assert back == pytest.approx(rh_pct, rel=1e-9)


def test_wetter_air_and_warmer_air_have_a_higher_dew_point():
    wetter = [dew_point_c(20.0, rh) for rh in (5, 20, 50, 80, 99)]
    warmer = [dew_point_c(t, 60.0) for t in (-20, 0, 20, 40)]

    assert wetter == sorted(wetter) and warmer == sorted(warmer)


@given(
    st.floats(-40, 55), st.floats(1, 100), st.floats(-40, 80), st.floats(0, 3), st.floats(0, 10), st.floats(0, 3),
    st.floats(-1, 1), st.floats(-1, 1), st.floats(-1, 1),
)
def test_no_reading_inside_the_tolerances_is_worse_than_the_worst_case(
    air, rh, steel, tol_air, tol_rh, tol_steel, at, bt, ct
):
    """The unkind corner is really the corner: any true state the instruments allow has at least that margin."""
    worst = margin_worst_k(air, rh, steel, tol_air_k=tol_air, tol_rh_pct=tol_rh, tol_steel_k=tol_steel)
    true_rh = min(100.0, max(0.01, rh + bt * tol_rh))

    assert margin_k(air + at * tol_air, true_rh, steel + ct * tol_steel) >= worst - 1e-9
    assert worst <= margin_k(air, rh, steel) + 1e-9


def test_humidity_at_its_tolerance_stops_at_100_percent():
    at_worst = margin_worst_k(20, 99.5, 25, tol_air_k=0, tol_rh_pct=3, tol_steel_k=0)

    assert at_worst == pytest.approx(5.0, abs=1e-9)


def test_with_perfect_instruments_the_worst_case_is_the_plain_margin():
    assert margin_worst_k(21.4, 63, 18.9, tol_air_k=0, tol_rh_pct=0, tol_steel_k=0) == margin_k(21.4, 63, 18.9)


def test_the_uncertainty_of_the_margin_agrees_with_the_gum_sheet_done_by_another_library():
    """The library `uncertainties` propagates the same rectangles through the same formula to first order."""
    import uncertainties as un
    from uncertainties import umath

    third = 3**-0.5
    air, rh, steel = un.ufloat(21.4, 0.5 * third), un.ufloat(63, 2 * third), un.ufloat(18.9, 0.5 * third)
    gamma = umath.log(rh / 100) + 17.62 * air / (243.12 + air)
    theirs = (steel - 243.12 * gamma / (17.62 - gamma)).s
    ours = margin_u_k(21.4, 63, tol_air_k=0.5, tol_rh_pct=2, tol_steel_k=0.5)

    assert ours == pytest.approx(theirs, rel=1e-3)


def test_the_array_form_gives_the_same_numbers():
    one_by_one = [dew_point_c(t, rh) for t, rh in GRID]

    assert dew_points_c([t for t, _ in GRID], [rh for _, rh in GRID]) == pytest.approx(one_by_one, abs=1e-12)


@pytest.mark.parametrize("rh_pct", [1.0, 1.5, 2.0, 2.5, 3.0, 10.0, 60.0, 99.0])
def test_the_uncertainty_in_the_corners_of_humidity_is_that_of_a_simulation(rh_pct):
    """JCGM 101, 200 000 draws, every value within ± 2 % of humidity, ± 0.5 K of air and of steel equally likely."""
    draw = np.random.default_rng(11)
    pct = draw.uniform(max(rh_pct - 2.0, 0.0), min(rh_pct + 2.0, 100.0), 200_000)
    air, steel = 20.0 + draw.uniform(-0.5, 0.5, 200_000), draw.uniform(-0.5, 0.5, 200_000)
    gamma = np.log(np.maximum(pct, 1e-12) / 100.0) + 17.62 * air / (243.12 + air)
    margins = steel - 243.12 * gamma / (17.62 - gamma)

    assert margin_u_k(20.0, rh_pct, tol_air_k=0.5, tol_rh_pct=2.0, tol_steel_k=0.5) == pytest.approx(margins.std(), rel=0.03)
