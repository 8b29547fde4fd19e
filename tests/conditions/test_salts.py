"""Soluble salts against a published row, and the five-times mistake."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soundedge.conditions.salts import check_stated, salts


@pytest.mark.parametrize("species, mg_m2", [("sodium_chloride", 36.0), ("mixed_salts", 30.0), ("chloride", 21.6)])
def test_six_microsiemens_is_what_the_applicators_sheet_prints(species, mg_m2):
    """A lining applicator's soluble-salts sheet, second hand: 6 µS/cm, 15 ml, 1250 mm²."""
    assert salts(6, 15, 1250, species).mg_m2 == pytest.approx(mg_m2)


def test_iso_8502_9_in_its_own_units():
    """5 kg/(m²·S) · 15e-6 m³ · 6e-4 S/m / 1.25e-3 m² = 3.6e-5 kg/m² (constant from memory)."""
    assert salts(6, 15, 1250).mg_m2 == pytest.approx(5 * 15e-6 * 6e-4 / 1.25e-3 * 1e6)


def test_a_fifth_of_the_water_gives_a_fifth_of_the_factor():
    assert salts(6, 3, 1250).factor == pytest.approx(salts(6, 15, 1250).factor / 5)


@given(st.floats(0.5, 500))
def test_the_five_times_mistake_is_named_both_ways(rise):
    low = check_stated(salts(rise, 3, 1250).mg_m2, rise, 15, 1250)
    high = check_stated(salts(rise, 15, 1250).mg_m2, rise, 3, 1250)

    assert "3 ml" in low and "five times too low" in low
    assert "15 ml" in high and "five times too high" in high


@given(st.floats(0.5, 500), st.floats(0.91, 1.09))
def test_a_result_that_follows_is_not_complained_about(rise, slip):
    assert check_stated(slip * salts(rise, 15, 1250).mg_m2, rise, 15, 1250) is None


def test_other_slips_are_named_too():
    assert "chloride" in check_stated(21.6, 6, 15, 1250)
    assert "µg/cm²" in check_stated(3.6, 6, 15, 1250)
    assert "Check the reading" in check_stated(99, 6, 15, 1250)
