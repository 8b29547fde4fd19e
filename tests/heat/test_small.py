"""Rules, jet, infrared, sintering, dose: each against a published number or one computed elsewhere."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soundedge.basis.errors import Contradiction, OutOfRange
from soundedge.heat.case import Case
from soundedge.heat.estimate import estimate
from soundedge.heat.infrared import band_radiance_w_m2sr, reading_c, true_c, true_range_c
from soundedge.heat.jet import (
    EFFICIENCY,
    air_conductivity_w_mk,
    air_viscosity_pa_s,
    balance,
    jet,
    martin_local_nu,
    martin_mean_nu,
    martin_warnings,
    stagnation_nu,
)
from soundedge.heat.melt import dose_factor, dose_s
from soundedge.heat.rules import gloss_bond_c, highest_useful_air_c, surface_flux_w_m2


def test_martin_means_and_local_values():
    """Martin (1977), formula as printed in two open texts; numbers computed elsewhere."""
    assert martin_mean_nu(5000, 0.70, 4, 3) == pytest.approx(34.187553, rel=1e-7)
    assert martin_mean_nu(20000, 0.70, 6, 5) == pytest.approx(55.828856, rel=1e-7)
    assert martin_local_nu(5000, 0.70, 4, 3) == pytest.approx(25.769189, rel=1e-7)
    assert martin_local_nu(20000, 0.70, 6, 5) == pytest.approx(35.787728, rel=1e-7)


def test_martin_outside_its_range_warns():
    """An open toolkit's exercise: Re 1536, H/D 5, r/D 2.5, Pr 0.683, k 0.0439, D 1 mm."""
    re = 0.6329 * 70 * 1e-3 / 288.4e-7
    nu = martin_mean_nu(re, 0.683, 5, 2.5)

    assert re == pytest.approx(1536, abs=1)
    assert nu == pytest.approx(17.65084, abs=1e-4)
    assert nu * 0.0439 / 1e-3 == pytest.approx(774.872, abs=0.01)
    assert martin_warnings(re, 5, 2.5) == ("Re 1536 < 2000, outside validity of Martin (1977): 2 000 to 400 000.",)
    assert martin_warnings(5000, 4, 3) == ()


def test_local_martin_is_the_derivative_of_the_mean():
    s, d = 3.7, 1e-5
    grown = ((s + d) ** 2 * martin_mean_nu(9000, 0.7, 5, s + d) - (s - d) ** 2 * martin_mean_nu(9000, 0.7, 5, s - d)) / (2 * d)

    assert martin_local_nu(9000, 0.7, 5, s) == pytest.approx(grown / (2 * s), rel=1e-6)


@pytest.mark.parametrize(("power", "air", "gram", "cold", "hot"), [
    (2000, 300, 6.65, 331, 648), (2000, 400, 4.85, 242, 555), (2000, 500, 3.80, 189, 500), (2000, 600, 3.11, 155, 462),
    (1500, 500, 2.85, 142, 375)])
def test_a_gun_blows_what_its_power_can_heat(power, air, gram, cold, hot):
    blow = balance(power_w=power, air_c=air)

    assert 1000 * blow.flow_kg_s == pytest.approx(gram, rel=0.01)
    assert blow.cold_l_min == pytest.approx(cold, rel=0.01)
    assert blow.hot_l_min == pytest.approx(hot, rel=0.01)


def test_air_properties_against_coolprop():
    from CoolProp.CoolProp import PropsSI

    from soundedge.heat import jet as air

    for c in (20, 150, 300, 450, 600):
        t = c + 273.15
        assert air.air_cp_j_kgk(c) == pytest.approx(PropsSI("C", "T", t, "P", 101325, "Air"), rel=0.005)
        assert air.air_viscosity_pa_s(c) == pytest.approx(PropsSI("V", "T", t, "P", 101325, "Air"), rel=0.04)
        assert air.air_conductivity_w_mk(c) == pytest.approx(PropsSI("L", "T", t, "P", 101325, "Air"), rel=0.04)
        assert air.air_density_kg_m3(c) == pytest.approx(PropsSI("D", "T", t, "P", 101325, "Air"), rel=0.002)


def test_an_impossible_label_is_refused_with_its_balance():
    with pytest.raises(Contradiction, match=r"carry 6\d{3} W .* give 1900 W"):
        balance(power_w=2000, air_c=600, flow_l_min=500, flow_at="cold")
    assert balance(power_w=2000, air_c=600, flow_l_min=500).hot_l_min == pytest.approx(500)  # possible as hot air
    with pytest.raises(OutOfRange, match="a gun heats"):
        balance(power_w=2000, air_c=40, ambient_c=45)


def test_the_jet_of_a_bare_outlet(laminar_middle):
    """34 mm outlet, 500 °C, 85 mm away, against a separate implementation: h and air within 3 %."""
    blow = jet(power_w=2000, air_c=500, outlet_mm=34, distance_mm=85)

    assert [blow.h_w_m2k(r) for r in (0, 20, 50, 100, 150)] == pytest.approx([61, 60, 54, 38, 24], rel=0.04)
    assert [blow.air_c(r) for r in (0, 50, 100, 150)] == pytest.approx([500, 443, 332, 237], abs=1)
    assert blow.speed_m_s == pytest.approx(9.2, abs=0.1)
    assert any("r/D = 2.5" in w for w in blow.warnings)


# Baughn and Shimizu (1989), Re 23 000, two diameters away, as read off in Behnia et al. (1997), figure 3: second hand
MEASURED = ((0.0, 145), (0.5, 130), (1.0, 105), (3.0, 95), (5.0, 60))


def test_the_jet_is_that_of_a_measured_one():
    """Air of 20 °C that heats a plate by 25 K, 40 mm pipe: single published values of Nu. The middle, on which everything
    hangs, within 4 %; the way out within 35 %: the hollow at 1.5 and the second peak at 2 diameters are smoothed away, and
    beyond them Martin's correlation, which the model follows, lies a third below this jet."""
    flow = 23_000 * 3.14159 * 0.04 * air_viscosity_pa_s(45.0) / 4
    blow = jet(power_w=flow * 1007.5 * 50.0 / EFFICIENCY, air_c=70.0, outlet_mm=40, distance_mm=80, ambient_c=20.0)
    nu = blow.h_w_m2k(0.0) * 0.04 / air_conductivity_w_mk(70.0)

    assert blow.reynolds == pytest.approx(23_000, rel=0.06)
    assert nu == pytest.approx(145, rel=0.04)
    for reach, measured in MEASURED:
        assert blow.h_w_m2k(40.0 * reach) / blow.h_w_m2k(0.0) == pytest.approx(measured / 145, rel=0.35)
    assert stagnation_nu(23_000, 0.71) == 145


def test_below_every_reviewed_measurement_it_says_so_and_is_less_sure():
    """Jambunathan et al. (1992) reviewed Re 5 000 to 124 000 (first hand, abstract); a second correlation of measured jets,
    Lytle and Webb (1994), Nu = 0.726·Re^0.53·(H/D)^-0.191 (from memory), lies within the doubt at both ends."""
    gun = jet(power_w=2000, air_c=500, outlet_mm=34, distance_mm=60)
    strong = jet(power_w=3000, air_c=400, outlet_mm=20, distance_mm=60)

    assert 4_400 < gun.reynolds < 5_000 and any("no reviewed measurement" in w for w in gun.warnings)
    assert strong.reynolds > 5_000 and not any("no reviewed measurement" in w for w in strong.warnings)
    assert gun.doubt > strong.doubt >= 0.3
    for re, height in ((gun.reynolds, 60 / 34), (23_000, 2.0)):
        other = 0.726 * re**0.53 * height**-0.191
        assert abs(math.log(stagnation_nu(re, 0.7) / other)) < strong.doubt


def test_a_reducer_is_stronger_and_narrower():
    wide, narrow = (jet(power_w=2000, air_c=400, outlet_mm=d, distance_mm=2.5 * d) for d in (34, 14))

    assert narrow.h_w_m2k(0) > 3.5 * wide.h_w_m2k(0)
    assert narrow.air_c(60) < wide.air_c(60)
    with pytest.raises(OutOfRange, match="no gun blows"):
        jet(power_w=10000, air_c=500, outlet_mm=5, distance_mm=20)


@given(st.floats(200, 4000), st.floats(100, 700), st.floats(10, 80), st.floats(5, 400))
def test_the_jet_falls_outwards_and_stays_positive(power, air, outlet, distance):
    try:
        blow = jet(power_w=power, air_c=air, outlet_mm=outlet, distance_mm=distance)
    except OutOfRange:
        return
    values = [blow.h_w_m2k(r) for r in (0, 5, 20, 60, 150, 400)]

    assert values == sorted(values, reverse=True)
    assert values[-1] > 0


def test_the_gloss_rule():
    given_ = {"h_w_m2k": 60, "air_c": 500, "emissivity": 0.9, "surroundings_c": 20}

    assert surface_flux_w_m2(**given_, surface_c=176) == pytest.approx(17739.97, abs=0.01)
    assert gloss_bond_c(**given_, melt_c=176, thickness_mm=0.8, k_w_mk=0.2) == pytest.approx(105.040, abs=0.001)
    assert gloss_bond_c(**given_, melt_c=260, thickness_mm=0.8, k_w_mk=0.2) == pytest.approx(217.386, abs=0.001)


@pytest.mark.parametrize(("h", "air"), [(50, 682), (75, 541), (100, 471), (150, 401), (230, 352)])
def test_the_highest_useful_air(h, air):
    got = highest_useful_air_c(surface_limit_c=260, bond_needed_c=185, thickness_mm=0.8, k_w_mk=0.185, h_w_m2k=h,
                               emissivity=0.91, surroundings_c=20)

    assert got == pytest.approx(air, abs=3)


@pytest.mark.parametrize("film_mm", [0.6, 0.8, 1.0])
@pytest.mark.parametrize("plate_mm", [6.0, 20.0])
def test_the_gloss_rule_agrees_with_the_march(film_mm, plate_mm):
    told = estimate(Case(material="carbon_steel", plate_mm=plate_mm, polymer="pvdf", film_mm=film_mm, power_w=2000,
                         gun_c=500), patience_s=1000, preheat=False, cool=False)

    assert told.gloss_bond_c == pytest.approx(told.gloss_rule_c, abs=5)


READINGS = {100: (31.1, 41.2, 50.6, 67.5, 89.9, 96.7), 175: (45.3, 66.4, 84.8, 116.6, 157.0, 169.1),
            200: (50.6, 75.3, 96.6, 133.3, 179.4, 193.3), 260: (63.8, 97.2, 125.4, 173.2, 233.1, 251.2)}


@pytest.mark.parametrize("true", READINGS)
def test_what_an_instrument_set_to_0_95_shows(true):
    """Planck over 8 to 14 µm, surroundings 20 °C, computed elsewhere to 0.1 K."""
    for e, shown in zip((0.1, 0.2, 0.3, 0.5, 0.8, 0.9), READINGS[true]):
        got = reading_c(true_c=true, emissivity_set=0.95, emissivity_true=e, surroundings_c=20)
        assert got == pytest.approx(shown, abs=0.06)


def test_band_radiance():
    for c, radiance in ((20, 49.3729), (100, 136.778), (175, 261.564), (200, 311.429), (260, 445.807)):
        assert band_radiance_w_m2sr(c) == pytest.approx(radiance, rel=4e-6)


def test_band_radiance_of_all_wavelengths_is_stefan_boltzmann():
    assert math.pi * band_radiance_w_m2sr(200, (0.5, 100)) == pytest.approx(5.670374e-8 * 473.15**4, rel=3e-3)


def test_a_reading_corrected():
    assert reading_c(true_c=175, emissivity_set=0.95, emissivity_true=0.2, surroundings_c=20) == pytest.approx(66.36, abs=0.01)
    assert true_c(reading_c=100, emissivity_set=0.95, emissivity_true=0.3, surroundings_c=20) == pytest.approx(207.04, abs=0.01)
    low, high = true_range_c(reading_c=66.4, emissivity_set=0.95, emissivity_low=0.1, emissivity_high=0.6, surroundings_c=20)
    assert low < 100 < 250 < high


@given(st.floats(0, 400), st.floats(0.1, 1), st.floats(0.1, 1), st.floats(-20, 60))
def test_infrared_there_and_back(true, e_true, e_set, around):
    try:
        shown = reading_c(true_c=true, emissivity_set=e_set, emissivity_true=e_true, surroundings_c=around)
        back = true_c(reading_c=shown, emissivity_set=e_set, emissivity_true=e_true, surroundings_c=around)
    except OutOfRange:
        return
    assert back == pytest.approx(true, abs=1e-4)


@pytest.mark.parametrize(("c", "factor"), [(230, 0.217), (250, 1), (260, 2.05), (280, 8.02), (300, 28.5), (320, 92.8)])
def test_dose_factors(c, factor):
    assert dose_factor(c, energy_j_mol=167e3, reference_c=250) == pytest.approx(factor, rel=0.01)


def test_dose_of_a_steady_hour_is_an_hour():
    assert dose_s([0, 1800, 3600], [250, 250, 250], energy_j_mol=167e3, reference_c=250) == pytest.approx(3600)
