"""Does one comparison say the right word, with the right probability?"""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soundedge.basis.finding import Decision, conformance_probability, judge, shown_to, worst

GUARDED = Decision("guarded", 0.95)
FINITE = st.floats(-1e6, 1e6)


def a_finding(value, limit=3.0, sense="at_least", u=0.0, decision=None, **more):
    return judge("margin", value, limit=limit, sense=sense, u=u, decision=decision or Decision(), source="test",
                 next_move="Warm the steel.", **more)


# JCGM 106:2012, 7.3.2, example 1: a Zener diode with V_z ≤ −5.40 V, best estimate −5.47 V, u = 0.05 V:
# conformance probability Φ((5.47 − 5.40)/0.05) ≈ 0.92. From memory.
def test_the_zener_diode_of_jcgm_106():
    p = conformance_probability(-5.47, 0.05, -5.40, "at_most")

    assert p == pytest.approx(0.92, abs=0.005)


# JCGM 106:2012, 7.3.3, example 2: burst pressure of a container, p ≥ 490 kPa, estimate 509.7 kPa, u = 8.6 kPa:
# Φ((509.7 − 490)/8.6) ≈ 0.99. From memory.
def test_the_burst_pressure_of_jcgm_106():
    p = conformance_probability(509.7, 8.6, 490.0, "at_least")

    assert p == pytest.approx(0.99, abs=0.005)


def test_on_the_limit_the_probability_is_one_half():
    assert conformance_probability(3.0, 0.4, 3.0, "at_least") == pytest.approx(0.5)


def test_on_the_limit_as_written_it_conforms():
    found = a_finding(3.0)

    assert (found.as_written, found.verdict) == ("conforms", "conforms")


def test_a_strict_limit_does_not_conform_to_itself():
    found = a_finding(20.0, limit=20.0, sense="at_most", strict=True)

    assert found.verdict == "does_not_conform"


def test_not_measured_is_not_zero():
    found = a_finding(None)

    assert (found.verdict, found.value, found.as_written) == ("not_measured", None, "not_measured")
    assert "was not measured" in found.because


def test_the_guarded_rule_has_three_words():
    words = [a_finding(value, u=0.4, decision=GUARDED).verdict for value in (2.0, 3.2, 4.0)]

    assert words == ["does_not_conform", "indeterminate", "conforms"]


def test_the_guard_is_said_aloud():
    found = a_finding(3.2, u=0.4, decision=GUARDED)

    assert found.as_written == "conforms"
    assert "69.1 %" in found.because and "95 %" in found.because


def test_guarded_without_uncertainty_cannot_decide():
    found = a_finding(9.0, u=None, decision=GUARDED)

    assert found.verdict == "indeterminate"


@given(value=FINITE, u=st.floats(1e-6, 1e3), limit=FINITE)
def test_the_two_senses_share_the_whole(value, u, limit):
    low = conformance_probability(value, u, limit, "at_least")
    high = conformance_probability(value, u, limit, "at_most")

    assert low + high == pytest.approx(1.0, abs=1e-12)


@given(gap=st.floats(0, 1e3), u1=st.floats(1e-3, 10), u2=st.floats(1e-3, 10))
def test_more_uncertainty_never_makes_it_surer(gap, u1, u2):
    small, large = (conformance_probability(3 + gap, u, 3, "at_least") for u in sorted((u1, u2)))

    assert large <= small


@given(value=FINITE, u=st.floats(0, 1e3), limit=FINITE)
def test_a_guarded_word_is_never_milder_than_the_value_as_written(value, u, limit):
    found = a_finding(value, limit=limit, u=u, decision=GUARDED)

    if found.as_written == "does_not_conform":
        assert found.verdict in ("does_not_conform", "indeterminate")
    else:
        assert found.verdict in ("conforms", "indeterminate")


@given(value=FINITE, limit=FINITE)
def test_a_value_never_looks_equal_to_a_limit_it_differs_from(value, limit):
    text = shown_to(value, limit)

    assert (float(text) == limit) == (value == limit) or math.isclose(value, limit, rel_tol=1e-14)


def test_the_worst_of_several():
    assert worst(["conforms", "not_measured", "indeterminate"]) == "not_measured"
    assert worst(["conforms", "does_not_conform", "not_measured"]) == "does_not_conform"
    assert worst([]) == "not_measured"


def test_a_sentence_prints_units_as_people_write_them_and_the_finding_keeps_the_plain_word():
    film = judge("film", 905.0, limit=1000.0, sense="at_least", unit="um", u=20.0, next_move="", source="example",
                 decision=Decision("guarded", 0.95))
    area = judge("bare_area", None, limit=900.0, sense="at_most", unit="mm2", next_move="", source="example")

    assert film.unit == "um" and area.unit == "mm2"
    assert "905 µm; it must be at least 1000 µm. With standard uncertainty 20 µm" in film.because
    assert "at most 900 mm²." in area.because
