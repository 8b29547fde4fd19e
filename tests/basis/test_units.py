"""Is a typed quantity turned into the house's own number once, and rightly?"""

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from soundedge.basis.errors import BenchError, Unreadable
from soundedge.basis.unit_table import UNITS, to_unit
from soundedge.basis.units import quantity

_PINT = pint.UnitRegistry()
# Our spelling → pint's. In pint "mil" is an angle, so the thousandth of an inch is "thou" there.
_PINT_NAME = {"mil": "thou", "C": "degC", "F": "degF", "K": "kelvin", "l": "liter", "in": "inch", "ft": "foot",
              "floz": "fluid_ounce", "gal": "gallon", "oz": "ounce", "mm2": "mm**2", "cm2": "cm**2", "in2": "inch**2",
              "m3": "m**3", "ft3": "foot**3", "ft/s": "foot/second", "inHg": "inHg"}
_HOUSE = {"temperature_c": "degC", "length_mm": "mm", "film_um": "micrometer", "area_mm2": "mm**2", "volume_l": "liter",
          "volume_ml": "ml", "voltage_v": "V", "pressure_kpa": "kPa", "altitude_m": "m", "time_s": "s",
          "time_min": "min", "power_w": "W", "speed_m_s": "m/s", "mass_g": "g"}


@pytest.mark.parametrize("kind, unit", [(kind, unit) for kind in _HOUSE for unit in UNITS[kind]])
def test_every_unit_agrees_with_an_independent_library(kind, unit):
    """pint holds the exact definitions of NIST SP 811; inHg is rounded there in the sixth digit."""
    expected = _PINT.Quantity(7.25, _PINT_NAME.get(unit, unit)).to(_HOUSE[kind]).magnitude

    assert quantity(f"7.25{unit}", kind, what="It") == pytest.approx(expected, rel=1e-5 if unit == "inHg" else 1e-12)


def test_five_fahrenheit_above_the_dew_point_is_a_difference():
    assert quantity("5F", "difference_k", what="Margin") == pytest.approx(2.7778, abs=1e-4)
    assert quantity("5F", "temperature_c", what="Air") == pytest.approx(-15.0)


@pytest.mark.parametrize("text", ["20,5C", " 20.5 °C ", "20.5c", "+20.5C"])
def test_a_person_may_write_it_their_way(text):
    assert quantity(text, "temperature_c", what="Air") == pytest.approx(20.5)


@pytest.mark.parametrize("text", ["70", "6o", "12 stone", "", "nanC", "infC", "1e999C", "70FF", "--3C", "1 2C"])
def test_what_cannot_be_read_is_refused_by_name(text):
    with pytest.raises(Unreadable, match="Air"):
        quantity(text, "temperature_c", what="Air")


@given(st.text(max_size=30), st.sampled_from(sorted(UNITS)))
def test_no_text_makes_it_fall_over(text, kind):
    try:
        quantity(text, kind, what="It")
    except BenchError as fault:
        assert fault.message.startswith("It")


@given(st.floats(-1e6, 1e6), st.sampled_from([(k, u) for k in UNITS for u in UNITS[k] if u]))
def test_there_and_back(value, where):
    kind, unit = where
    inside = quantity(f"{value!r}{unit}", kind, what="It")

    assert to_unit(inside, kind, unit) == pytest.approx(value, rel=1e-9, abs=1e-9)


def test_hundreds_of_thousands_of_blanks_are_answered_and_do_not_hang():
    with pytest.raises(Unreadable):
        quantity("1 m" + " " * 300_000 + "y", "film_um", what="The film")
