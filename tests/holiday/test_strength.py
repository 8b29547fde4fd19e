"""What sound film stands: power law between points, never up beyond them, area and residual film."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soundedge.basis.materials import materials
from soundedge.holiday.strength import Strength, area_factor

ECTFE = Strength.of([(25.4, 80.0), (3000.0, 14.5)])


def test_ectfe_between_two_published_points():
    """80 kV/mm at 1 mil and 14.5 kV/mm at 3 mm (two coaters' pages, second hand): exponent 0.358, 25.3 kV/mm."""
    assert ECTFE.exponent_beyond() == pytest.approx(0.358, abs=0.0005)
    assert ECTFE.at(635) == pytest.approx(25.3, abs=0.1)
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


def test_a_thick_sheet_figure_is_not_scaled_up_for_thinner_film():
    assert Strength.of([(3180, 10.2)]).at(635) == 10.2
    assert Strength.of([(3180, 10.2)]).breakdown_v(635) == pytest.approx(6477)


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
def test_thicker_film_never_stands_less_and_strength_is_never_above_the_nearest_point(given_points, a, b):
    try:
        strength = Strength.of(given_points)
    except ValueError:
        return
    thin, thick = sorted((a, b))
    assert strength.breakdown_v(thick) >= strength.breakdown_v(thin) * (1 - 1e-9)
    top = max(kv for _, kv in given_points)
    assert strength.at(a) <= top * (1 + 1e-9)
    first, last = strength.points[0], strength.points[-1]
    assert a > first[0] or strength.at(a) == first[1]
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
            assert 0 <= strength.exponent_beyond() < 0.7, key
    assert math.isclose(float(materials()["pvdf"].held("dielectric_strength_kv_mm").at.split()[0]), 3175)
