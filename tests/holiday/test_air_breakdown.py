"""Breakdown of air against published gap tables, the standard atmosphere and an independent streamer solution."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soundedge.holiday.air import air_density, humidity_factor, moist_factor, pressure_at_kpa, water_g_m3
from soundedge.holiday.gap import AirGap, paschen_townsend, second_opinion_v, streamer_gap_v, uniform_gap_v
from soundedge.holiday.tip import tip_gap_v

from ..tries import tries

# Standard sphere gap, 20 °C, 101.3 kPa, peak kV, mean of 5 to 25 cm spheres: gap mm, kV, accuracy class ±3 %.
# Second hand: a public copy of the table. The first two rows.
SPHERES_LARGE = [(10.0, 31.4), (5.0, 16.9)]
# IEC 60052:2002, 20 °C, 101.3 kPa, peak kV, single points quoted second hand: gap mm, kV; 12.5 cm and 6.25 cm spheres.
SPHERES_12 = [(5, 16.8), (6, 19.9), (8, 26.0), (10, 31.7), (15, 45.5), (20, 59.0)]
SPHERES_6 = [(4, 14.2), (5, 17.2), (6, 20.2), (8, 26.2), (10, 31.9), (15, 45.5)]
# The older table of 25 cm spheres, second hand: a public copy.
SPHERES_25 = [(5, 16.9), (10, 31.2), (10, 31.4)]
# T. W. Dakin et al., ELECTRA 32, table C2: measured breakdown of air in a uniform field, bar·mm, kV; single points
# quoted second hand, read off a curve to some 5 %.
ELECTRA = [(0.5, 2.7), (1.0, 4.5), (1.5, 6.0), (2.0, 7.5), (3.0, 11.2), (5.0, 16.8), (10.0, 31.7)]
STILL = AirGap(density=1.0, densest=1.0, moist=1.0)
# IEC 60052, 2 cm spheres: from memory, and two independent models follow it within 2 %.
SPHERES_2_CM = [(0.5, 2.8), (1.0, 4.7), (1.5, 6.4), (2.0, 8.0), (2.5, 9.6), (3.0, 11.2)]


@pytest.mark.parametrize("gap_mm, kv", SPHERES_LARGE)
def test_it_agrees_with_the_large_sphere_gap(gap_mm, kv):
    """Within 4 %: the table's own class is 3 %, and this fit is known to read 3 % low."""
    assert uniform_gap_v(1000 * gap_mm, 1.0) / 1000 == pytest.approx(kv, rel=0.04)
    assert second_opinion_v(1000 * gap_mm, 1.0) / 1000 == pytest.approx(kv, rel=0.02)


@pytest.mark.parametrize("gap_mm, kv", SPHERES_2_CM)
def test_it_reads_up_to_8_percent_low_on_small_spheres_and_the_other_two_within_2(gap_mm, kv):
    low = uniform_gap_v(1000 * gap_mm, 1.0) / 1000 / kv

    assert 0.915 < low < 0.955
    assert second_opinion_v(1000 * gap_mm, 1.0) / 1000 == pytest.approx(kv, rel=0.022)
    assert streamer_gap_v(1000 * gap_mm, 1.0) / 1000 == pytest.approx(kv, rel=0.015)


def test_one_millimetre_lies_between_the_manual_and_peek():
    """Peek's 60 Hz peak 4.95 kV above, an instrument manual's 'about 4.5 kV' within 4 %."""
    assert 4.3 < uniform_gap_v(1000, 1.0) / 1000 < 4.95


# 24.22·δd + 6.08·√(δd), worked apart with 16 digits: µm, kV
WORKED = [(25, 0.365), (127, 0.993), (254, 1.584), (508, 2.601), (635, 3.070), (762, 3.524), (1270, 5.243), (2500, 9.095)]


@pytest.mark.parametrize("gap_um, kv", WORKED)
def test_the_formula_is_worked_right(gap_um, kv):
    assert uniform_gap_v(gap_um, 1.0) / 1000 == pytest.approx(kv, abs=0.0006)


@pytest.mark.parametrize("gap_mm, kv", [*SPHERES_12, *SPHERES_6, *SPHERES_25, *SPHERES_LARGE, *SPHERES_2_CM])
def test_the_surest_voltage_lies_above_every_sphere_gap_and_within_three_classes_of_it(gap_mm, kv):
    """IEC 60052 at 0.5 to 20 mm. A table says what sparks within ±3 %, so what surely sparks lies at it or above."""
    surest = STILL.surest_v(1000 * gap_mm) / 1000

    assert kv <= surest <= 1.09 * kv
    assert STILL.lowest_v(1000 * gap_mm) / 1000 < kv


@pytest.mark.parametrize("pd, kv", ELECTRA)
def test_the_models_enclose_the_measured_compilation(pd, kv):
    """ELECTRA 32, C2: the lowest model lies below every point, the surest voltage above."""
    gap_um = 1000 * pd / 1.01325

    assert 0.93 * kv < STILL.lowest_v(gap_um) / 1000 < kv < STILL.surest_v(gap_um) / 1000 < 1.12 * kv


# F. W. Peek, Dielectric Phenomena in High-Voltage Engineering, sphere gaps: by what factor thin air lowers the
# voltage, relative density, 6.25 and 12.5 cm spheres. From memory; his tests (Trans. AIEE 1914, abstract read) went to
# densities equal to 18 000 ft.
PEEK = [(0.95, 0.956, 0.955), (0.90, 0.910, 0.908), (0.80, 0.821, 0.816), (0.70, 0.732, 0.724), (0.60, 0.640, 0.630),
        (0.50, 0.547, 0.535)]


@pytest.mark.parametrize("density, small, large", PEEK)
def test_thin_air_lowers_the_voltage_as_peek_measured_it(density, small, large):
    """Over 10 mm, where his spheres are nearly a uniform field, within 1 % of the smaller; a short gap falls less."""
    thin = AirGap(density, density, 1.0)
    factor = thin.surest_v(10_000) / STILL.surest_v(10_000)

    assert factor == pytest.approx(small, rel=0.01)
    assert large * 0.99 < factor < thin.surest_v(635) / STILL.surest_v(635) < 1


def test_2_kv_surely_bridges_less_than_a_third_of_a_millimetre():
    """2 kV over 25 mil: the lowest model jumps 354 µm of it, the surest 290 (worked apart, streamer form and 3 %)."""
    assert STILL.bridged_um(2000) == pytest.approx(290, abs=1)
    assert uniform_gap_v(354, 1.0) == pytest.approx(2000, abs=3)
    assert STILL.lowest_v(635) > tip_gap_v(635, 1.0, 30) > 2000      # not even by the sharpest tip of IEC 60664-1, 30 µm


@given(st.floats(60, 20_000), st.floats(0.4, 1.3), st.floats(1, 1.03))
def test_voltage_and_gap_go_there_and_back(gap_um, density, more):
    air = AirGap(density, density * more, more)

    assert air.bridged_um(air.surest_v(gap_um)) == pytest.approx(gap_um, rel=1e-9)
    assert air.lowest_v(gap_um) < air.surest_v(gap_um) / 1.03


def test_humidity_that_nobody_read_is_taken_as_saturated_air_and_dry_air_is_not_credited():
    """20 °C holds 17.3 g/m³ at most, 1 + 0.002·(17.3 − 8.5); above 3 % the factor is outside its range."""
    assert moist_factor(20, None, 1.0) == pytest.approx(1.0176, abs=0.0005)
    assert moist_factor(20, 10, 1.0) == 1.0
    assert moist_factor(50, None, 1.0) == 1.03


@given(st.floats(60, 20_000), st.floats(1e-3, 0.5), st.floats(0.4, 1.2), st.floats(1e-3, 0.1))
def test_more_gap_and_more_air_need_more_voltage(gap_um, more, density, denser):
    for rule in (uniform_gap_v, second_opinion_v, streamer_gap_v):
        assert rule(gap_um * (1 + more), density) > rule(gap_um, density)
        assert rule(gap_um, density + denser) > rule(gap_um, density)


@given(st.floats(60, 20_000), st.floats(0.4, 1.3))
def test_only_the_product_of_density_and_gap_counts(gap_um, density):
    """Paschen's law, exact in every form here."""
    for rule in (uniform_gap_v, second_opinion_v, streamer_gap_v):
        assert rule(gap_um, density) == pytest.approx(rule(gap_um * density, 1.0), rel=1e-12)


def alpha_per_mm(e_kv_mm, p_bar):
    """Effective ionisation of air, per mm (Petcharaks 1995, from memory; its two branches join within 0.5 %)."""
    reduced = e_kv_mm / p_bar
    if reduced <= 2.165 + math.sqrt(0.2873):
        return 0.0
    if reduced <= 7.94:
        return p_bar * 1.6053 * ((reduced - 2.165) ** 2 - 0.2873)
    return p_bar * (16.78 * reduced - 80.0)


def streamer_by_quadrature_v(gap_um, density, field):
    """Least voltage with ∫α dx = 9.15, by adaptive quadrature and a bracketing root: another road altogether."""
    from scipy.integrate import quad
    from scipy.optimize import brentq

    d, p = gap_um / 1000, 1.01325 * density

    def short(kv):
        # the growth is concentrated near the tip: tell the quadrature where
        grown, _ = quad(lambda x: alpha_per_mm(field(kv, x, d), p), 0, d, points=[d / 100, d / 10, d / 3], limit=400)
        return grown - 9.15

    return 1000 * brentq(short, 0.05, 60, xtol=1e-7)


@pytest.mark.parametrize("gap_um", [100, 254, 635, 1000, 2000, 5000])
@pytest.mark.parametrize("density", [0.8345, 1.0, 1.07])
def test_the_streamer_form_agrees_with_quadrature(gap_um, density):
    by_quadrature = streamer_by_quadrature_v(gap_um, density, lambda kv, x, d: kv / d)

    assert streamer_gap_v(gap_um, density) == pytest.approx(by_quadrature, rel=1e-5)


@pytest.mark.parametrize("gap_um", [508, 635, 1000, 2000])
@pytest.mark.parametrize("tip_um", [25, 50, 100, 200])
def test_the_tip_estimate_agrees_with_quadrature_and_stays_under_the_smooth_electrode(gap_um, tip_um):
    def field(kv, x, d):
        r = tip_um / 1000
        return 2 * kv / (math.log(4 * d / r) * (r + 2 * x - x * x / d))

    by_quadrature = streamer_by_quadrature_v(gap_um, 1.0, field)

    assert tip_gap_v(gap_um, 1.0, tip_um) == pytest.approx(min(by_quadrature, streamer_gap_v(gap_um, 1.0)), rel=3e-4)
    assert tip_gap_v(gap_um, 1.0, tip_um) <= streamer_gap_v(gap_um, 1.0)


def test_the_streamer_solution_stands_within_10_percent_above_the_window_floor():
    """The independent solution and the floor are two models; at lining thickness they differ by 5 to 9 %."""
    for gap_um in (500, 635, 880, 1270, 2000):
        assert 1.03 < streamer_gap_v(gap_um, 1.0) / uniform_gap_v(gap_um, 1.0) < 1.10


@pytest.mark.parametrize("altitude_m", [-300, 0, 300, 1000, 1500, 2000, 3000, 5000])
def test_the_pressure_is_that_of_the_standard_atmosphere(altitude_m):
    """ambiance, an independent implementation of the ICAO atmosphere."""
    from ambiance import Atmosphere

    assert pressure_at_kpa(altitude_m) == pytest.approx(float(Atmosphere(altitude_m).pressure[0]) / 1000, rel=1e-5)


def test_density_and_voltage_at_1500_m():
    density = air_density(20, 84.56)

    assert density == pytest.approx(0.8345, abs=0.0005)
    assert uniform_gap_v(635, density) == pytest.approx(2683, abs=2)


def test_the_water_in_the_air_agrees_with_psychrolib():
    """Absolute humidity within 0.5 % of psychrolib (ASHRAE formulation) from 5 to 40 °C."""
    import psychrolib

    psychrolib.SetUnitSystem(psychrolib.SI)
    for air_c in (5.0, 20.0, 40.0):
        vapour_pa = psychrolib.GetVapPresFromRelHum(air_c, 0.6)
        g_m3 = 1000 * vapour_pa / (461.5 * (273.15 + air_c))
        assert water_g_m3(air_c, 60) == pytest.approx(g_m3, rel=0.005)


def test_humidity_moves_the_voltage_by_3_percent_at_most():
    """IEC 60052: 2 g/m³ 0.987, 15 g/m³ 1.013, 25 g/m³ 1.033."""
    assert [round(humidity_factor(h, 1.0), 3) for h in (2, 15, 25)] == [0.987, 1.013, 1.033]


def test_the_textbook_paschen_form_is_marked_as_outside_its_fit():
    volts, inside = paschen_townsend(1000, 760)
    assert volts == pytest.approx(5035, abs=2) and not inside
    assert paschen_townsend(50, 760)[1]
    # its own minimum, 305 V at 0.836 Torr·cm, is not the measured 327 V
    least = min(paschen_townsend(gap, 760)[0] for gap in [5 + i * 0.05 for i in range(300)])
    assert least == pytest.approx(305, abs=1)
    assert paschen_townsend(1, 760)[0] == math.inf


@tries(60)
@given(st.floats(300, 3000), st.floats(0.6, 1.2), st.floats(10, 250))
def test_a_sharper_tip_never_needs_more(gap_um, density, tip_um):
    assert tip_gap_v(gap_um, density, tip_um) <= tip_gap_v(gap_um, density, 1.3 * tip_um) * (1 + 1e-6)
