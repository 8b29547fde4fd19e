"""What sound film stands: power law between points, the published law beyond them, area and residual film."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soundedge.basis.materials import materials
from soundedge.holiday.strength import COATING_KV_MM, FILM_TO_UM, LAW_LEAST, LAW_MOST, Strength, area_factor, lining_points

ECTFE = Strength.of([(25.4, 80.0), (3000.0, 14.5)])


def test_ectfe_between_two_published_points():
    """80 kV/mm at 1 mil and 14.5 kV/mm at 3 mm (two coaters' pages, second hand): exponent 0.358, 25.3 kV/mm. The plate
    alone, carried up with the law's careful end, gives the same."""
    assert math.log(80 / 14.5) / math.log(3000 / 25.4) == pytest.approx(0.358, abs=0.0005)
    assert ECTFE.at(635) == pytest.approx(25.3, abs=0.1)
    assert Strength.of([(3000, 14.5)]).at(635) == pytest.approx(25.3, abs=0.1)
    assert 15_900 < ECTFE.breakdown_v(635) < 16_150


def test_it_goes_through_its_points():
    assert ECTFE.at(25.4) == 80.0
    assert ECTFE.at(3000) == 14.5
    three = Strength.of([(1000, 20), (100, 40), (300, 30)])
    assert [three.at(t) for t in (100, 300, 1000)] == pytest.approx([40, 30, 20])


def test_thin_film_figures_are_never_multiplied_by_lining_thickness():
    """80 kV/mm × 635 µm = 50.8 kV is nonsense; 260 kV/mm of FEP film would be 165 kV."""
    assert Strength.of([(25.4, 80.0)]).breakdown_v(635) < 0.25 * 50_800
    assert Strength.of([(25.4, 260.0)]).breakdown_v(635) < 0.25 * 165_000


# Strengths of one polymer at two thicknesses (µm, kV/mm) as published, second hand; the plates of ETFE, PFA and PVDF from
# memory. Makers' handbooks and sheets by ASTM D149; a film supplier's page; two coaters' pages.
PAIRS = {
    "FEP film": [(25.4, 260), (254, 79), 0.517], "FEP": [(254, 79), (3180, 21), 0.524],
    "PFA": [(250, 80), (3200, 20), 0.544], "ETFE": [(250, 59), (3200, 16), 0.512],
    "PVDF": [(1000, 20), (3175, 10.2), 0.583], "ECTFE": [(25.4, 80), (3000, 14.5), 0.358],
}


@pytest.mark.parametrize("name", PAIRS)
def test_every_published_pair_lies_in_the_range_of_the_law(name):
    (t1, e1), (t2, e2), exponent = PAIRS[name]

    assert math.log(e1 / e2) / math.log(t2 / t1) == pytest.approx(exponent, abs=0.001)
    assert LAW_LEAST - 0.003 < exponent < LAW_MOST
    # from the plate alone, the law's careful end never makes more of the film than was measured on it
    carried = Strength.of([(t2, e2)])
    assert carried.at(t1) <= e1 * 1.01


def test_a_plates_figure_is_carried_to_film_by_the_laws_careful_end_and_never_above_film():
    """PVDF 10.2 kV/mm at 3.18 mm: 10.2·(3180/635)^0.36 = 18.2 at 635 µm; film of it bore 20 at 1 mm (maker's sheet)."""
    plate = Strength.of([(3180, 10.2)])

    assert plate.at(635) == pytest.approx(18.2, abs=0.05) and plate.most_at(635) == pytest.approx(30, abs=0.05)
    assert Strength.of([(3180, 10.2)], cap_kv_mm=16).at(635) == 16
    assert Strength.of([(3180, 10.2)], cap_kv_mm=5).at(635) == 10.2
    assert plate.by_law(635) and not plate.by_law(3180)


def test_pvdf_with_its_makers_film_gives_6_35_kv_at_635_um():
    """20 kV/mm at 1 mm is film itself and is not scaled up: 12.70 kV, half of it 6.35 kV (3.24 kV from the plate flat)."""
    pvdf = Strength.of([(1000, 20), (3175, 10.2)])

    assert pvdf.at(635) == 20 and 0.5 * pvdf.breakdown_v(635) == pytest.approx(6350)
    assert not pvdf.by_law(635) and not pvdf.by_law(1500) and pvdf.by_law(4000)
    assert pvdf.at(1500) == pytest.approx(20 * 1.5**-0.583, rel=1e-3)
    # a lone value at 1 mm, brought down to a plate, does not exceed what a plate bore
    assert Strength.of([(1000, 20)]).at(3175) <= 10.2


def test_film_of_25_um_is_carried_to_no_lining():
    assert lining_points([(25.4, 260), (254, 79), (3180, 21)]) == [(254, 79), (3180, 21)]
    assert lining_points([(25.4, 80)]) == []


def test_between_film_and_plate_far_apart_the_law_holds_the_line_down():
    """FEP handbook, 79 at 0.254 mm and 21 at 3.18 mm: the line says 48.9 at 635 µm, the plate with 0.36 says 37.5."""
    fep = Strength.of([(254, 79), (3180, 21)])

    assert fep.most_at(635) == pytest.approx(48.9, rel=0.005)
    assert fep.at(635) == pytest.approx(21 * (3180 / 635) ** 0.36)
    assert 0.5 * fep.breakdown_v(635) < 14_000
    assert fep.at(254.0001) == pytest.approx(79, rel=1e-4) and fep.at(3180) == 21


def test_the_printed_manual_example_of_2_mm_pvc():
    """A hardware manual (second hand): 2 mm PVC at 8.4 kV/mm stands 16.8 kV; 1250√mil asks for 11.18 kV: 67 %."""
    from soundedge.holiday.rules import rule

    stands = Strength.of([(2000, 8.4)]).breakdown_v(2000)
    metric = rule("sp0274_um").voltage_v(2000)

    assert stands == pytest.approx(16_800)
    assert metric == pytest.approx(11_180, abs=1)
    assert round(100 * metric / stands) == 67


points = st.lists(
    st.tuples(st.floats(10, 10_000), st.floats(1, 300)), min_size=1, max_size=5, unique_by=lambda p: round(p[0], 3)
)


@given(points, st.floats(5, 20_000), st.floats(5, 20_000))
def test_thicker_film_never_stands_less_and_strength_is_never_above_the_points_or_the_cap(given_points, a, b):
    try:
        strength = Strength.of(given_points)
    except ValueError:
        return
    thin, thick = sorted((a, b))
    assert strength.breakdown_v(thick) >= strength.breakdown_v(thin) * (1 - 1e-9)
    top = max(kv for _, kv in given_points)
    first, last = strength.points[0], strength.points[-1]
    assert strength.at(a) <= max(top, COATING_KV_MM) * (1 + 1e-9)
    assert a > first[0] or first[0] > FILM_TO_UM or strength.at(a) == first[1]
    assert strength.at(a) <= strength.most_at(a) * (1 + 1e-9)
    assert a < last[0] or strength.at(a) <= last[1] * (1 + 1e-12)


def test_points_that_cannot_both_be_true_are_refused():
    with pytest.raises(ValueError, match="twice"):
        Strength.of([(500, 20), (500, 21)])
    with pytest.raises(ValueError, match="thicker film break at the lower"):
        Strength.of([(100, 80), (200, 10)])
    with pytest.raises(ValueError, match="at least one"):
        Strength.of([])


def test_how_thin_a_blind_holes_film_must_be_to_be_found_at_2_kv():
    """PVDF 10.2 kV/mm flat: 196 µm; with exponent 0.5 from 3180 µm: 12 µm."""
    least, most = Strength.of([(3180, 10.2)]).residual_um(2000)

    assert most == pytest.approx(196, abs=1)
    assert least == pytest.approx(12, abs=0.5)


@given(st.floats(100, 40_000))
def test_the_residual_film_breaks_at_that_voltage(volts):
    _, most = ECTFE.residual_um(volts)

    assert ECTFE.breakdown_v(most) == pytest.approx(volts, rel=1e-6)


@pytest.mark.parametrize("beta, factors", [(10, (0.68, 0.54, 0.43)), (8, (0.61, 0.46, 0.35))])
def test_a_larger_area_holds_a_weaker_spot(beta, factors):
    """From a 2-inch electrode to 0.1, 1 and 10 m², Weibull weakest link, worked apart."""
    assert [area_factor(a, beta) for a in (0.1, 1, 10)] == pytest.approx(factors, abs=0.006)
    assert area_factor(1e-4, beta) == 1.0


def test_the_weakest_link_is_what_a_simulated_lining_does():
    """The median of the least of n Weibull strengths falls as n^(−1/β): drawn by numpy, seed fixed."""
    import numpy as np

    draw = np.random.default_rng(3)
    n, beta = 50, 8.0
    least = draw.weibull(beta, (20_000, n)).min(axis=1)
    one = draw.weibull(beta, 20_000)

    assert np.median(least) / np.median(one) == pytest.approx(n ** (-1 / beta), rel=0.02)


def test_every_held_polymer_value_gives_its_thickness_and_obeys_the_law():
    for key, one in materials().items():
        held = [one.values[k] for k in ("dielectric_strength_kv_mm", "dielectric_strength_thin_kv_mm") if k in one.values]
        if held:
            strength = Strength.of((float(v.at.split()[0]), v.value) for v in held)
            assert 5 < strength.at(800) < 60, key
    assert math.isclose(float(materials()["pvdf"].held("dielectric_strength_kv_mm").at.split()[0]), 3175)
