"""Budgets against the guide's examples."""

import math

import pytest

from soundedge.basis.finding import conformance_probability
from soundedge.basis.question import answer
from soundedge.thickness.ask import FORMS
from soundedge.thickness.chances import student_quantile
from soundedge.thickness.risk import risks
from soundedge.thickness.uncertainty import Term, budget, gauge_u_um, resolution_u_um


def test_the_end_gauge_of_the_guide():
    """JCGM 100:2008, H.1: u_c = 32 nm, ν_eff = 16 (16.752), t99 = 2.92, U99 = 93 nm; inputs second hand, through an
    open package's example. Terms in nm, rounded as printed, with their degrees of freedom."""
    found = budget([Term("standard", 25, 18), Term("repeated", 5.8, 24), Term("random comparator", 3.9, 5),
                    Term("systematic comparator", 6.7, 8), Term("expansion difference", 2.9, 50),
                    Term("temperature difference", 16.6, 2)])

    assert found.u == pytest.approx(31.666, abs=0.001)   # it prints 32; unrounded inputs give 31.664
    assert math.floor(found.df) == 16
    assert round(student_quantile(0.995, 16), 2) == 2.92
    assert round(round(found.u) * round(student_quantile(0.995, 16), 2)) == 93   # of the rounded figures, as printed


def test_it_agrees_with_another_uncertainty_calculator():
    gtc = pytest.importorskip("GTC")
    parts = [(9.238, math.inf), (6.928, 2), (2.53, 9), (6.0, 8), (3.464, math.inf)]

    total = sum(gtc.ureal(0, u, df) for u, df in parts)
    found = budget([Term(str(i), u, df) for i, (u, df) in enumerate(parts)])

    assert found.u == pytest.approx(gtc.uncertainty(total), rel=1e-12)
    assert found.df == pytest.approx(gtc.dof(total), rel=1e-12)


def test_a_thick_film_budget_by_hand():
    """d = 1500 µm: u_c 14.536, ν_eff 33.9, k95 2.03 (own figures, computed independently with another program)."""
    found = budget([Term("gauge", gauge_u_um(1500, 1, 1)), Term("shim", 3.75), Term("readings", 12 / math.sqrt(3), 2),
                    Term("base metal", 8 / math.sqrt(10), 9), Term("operator", 6, 8), Term("temperature", 3.5 / math.sqrt(3)),
                    Term("curvature", 6 / math.sqrt(3)), Term("edge", 4 / math.sqrt(3)), Term("display", resolution_u_um(1))])

    assert found.u == pytest.approx(14.536, abs=5e-4)
    assert found.df == pytest.approx(33.86, abs=0.01)
    assert found.k95 == pytest.approx(2.0345, abs=5e-4)   # at 33, cut down as the guide says


@pytest.mark.parametrize("value, u, limit, sense, p", [
    (-5.47, 0.05, -5.40, "at_most", 0.919243),      # JCGM 106:2012, 7.3.3, example 1, breakdown voltage (memory)
    (509.7, 8.6, 490.0, "at_least", 0.989010),      # example 2, burst pressure (memory)
    (510.0, 6.0, 500.0, "at_least", 0.952210),
])
def test_conformance_probability_agrees_with_the_examples(value, u, limit, sense, p):
    assert conformance_probability(value, u, limit, sense) == pytest.approx(p, abs=1e-6)


def test_the_motor_oil_of_the_guide():
    """JCGM 106:2012, 7.4: 13.6 ± 1.8 between 12.5 and 16.3 has 0.66 (inputs second hand)."""
    inside = (conformance_probability(13.6, 1.8, 12.5, "at_least")
              + conformance_probability(13.6, 1.8, 16.3, "at_most") - 1)

    assert inside == pytest.approx(0.662630, abs=1e-6)


@pytest.mark.parametrize("guard, consumer, producer", [
    (0.02, 0.009878, 0.069027),    # JCGM 106:2012, 9.5, resistors: printed 1 % and 7 % (inputs second hand)
    (0.00, 0.018942, 0.037208),
    (0.04, 0.004334, 0.114657),
])
def test_global_risks_agree_with_the_resistors_of_the_guide(guard, consumer, producer):
    found = risks(mean=1500, sd=0.12, u=0.04, low=1499.8, high=1500.2, accept_low=1499.8 + guard, accept_high=1500.2 - guard)

    assert found.consumer == pytest.approx(consumer, abs=1e-6)
    assert found.producer == pytest.approx(producer, abs=1e-6)


@pytest.mark.parametrize("in_tolerance, pfa_pct", [
    (0.60, 4.838603), (0.80, 2.855830), (0.90, 1.599953), (0.95, 0.871009), (0.99, 0.199917),
])
def test_false_accept_agrees_with_a_published_table(in_tolerance, pfa_pct):
    """Table of a recommended practice for a 4:1 ratio, simple acceptance (second hand, as an open program's tests keep it):
    limits ±1, process spread from the in-tolerance share, u a quarter of it."""
    from soundedge.thickness.chances import normal_quantile

    sd = 1 / normal_quantile((1 + in_tolerance) / 2)
    found = risks(mean=0, sd=sd, u=sd / 4, low=-1, high=1)

    assert 100 * found.consumer == pytest.approx(pfa_pct, abs=1e-4)


def test_risks_agree_with_a_double_integral():
    from scipy import integrate, stats

    def inner(f):
        return stats.norm.pdf(f, 1100, 60) * stats.norm.sf(1000, f, 20)

    other, _ = integrate.quad(inner, 600, 1000, epsabs=1e-12)

    assert risks(mean=1100, sd=60, u=20, low=1000).consumer == pytest.approx(other, abs=1e-10)


def test_a_guard_band_trades_one_risk_for_the_other():
    rows = [risks(mean=1100, sd=60, u=20, low=1000, accept_low=1000 + g) for g in (-20, 0, 20, 40)]

    assert [r.consumer for r in rows] == sorted((r.consumer for r in rows), reverse=True)
    assert [r.producer for r in rows] == sorted(r.producer for r in rows)


def test_a_shared_term_does_not_average_down():
    """The mean of a million readings is no better than the gauge."""
    few = budget([Term("scatter", 20 / math.sqrt(3)), Term("gauge", 17.3, shared=True)])
    many = budget([Term("scatter", 20 / math.sqrt(1e6)), Term("gauge", 17.3, shared=True)])

    assert many.u < few.u and many.u >= 17.3


def on_the_shim(**check):
    """A film of 1030 µm against 1000, with a gauge of 3 % that showed 1029.9 on the shim of 1000: within its tolerance."""
    return answer(FORMS, {
        "spots": [{"id": str(i), "readings_um": [1030, 1030, 1030]} for i in range(5)], "limits": {"min_um": 1000},
        "gauge": {"tol_pct": 1, "check": {"reference_um": 1000, "reading_um": 1029.9}} | check,
        "rules": ["every_reading"], "decision": {"rule": "guarded"}})


def test_the_error_a_check_found_is_not_dropped():
    """ASTM D7091 (memory): errors of gauge and standard are combined, √(2² + 3²) = 3.6 %, or the gauge is adjusted."""
    blind, known = on_the_shim(check=None), on_the_shim()

    assert blind.verdict == "conforms" and known.verdict == "indeterminate"
    u = 1030 * math.hypot(1 / math.sqrt(3), 2.99) / 100
    assert known.findings[0].u == pytest.approx(u, rel=1e-9)
    assert known.findings[0].p_conforms == pytest.approx(0.5 * math.erfc(-30 / u / math.sqrt(2)), abs=1e-9)
    assert any("+3 %" in said and "added to the uncertainty" in said for said in known.cautions)
    shared = {line.name: line.shared for line in known.budget}
    assert shared["known error of the gauge"]


def test_or_it_is_taken_off_every_reading():
    found = on_the_shim(known_error="correct")

    assert found.min_um == pytest.approx(1030 / 1.0299) and "known error of the gauge" not in {b.name for b in found.budget}
    assert found.findings[0].p_conforms < 0.6


def test_the_shim_has_its_own_uncertainty():
    gauge = {"tol_pct": 2 * math.sqrt(3), "check": {"reference_um": 1000, "reading_um": 1000, "u_reference_um": 30}}

    found = on_the_shim(**gauge)

    assert found.findings[0].u == pytest.approx(1030 * 0.0360555, rel=1e-6)   # √(2² + 3²) %


def test_a_reading_in_the_gauges_range_stays_in_it_when_its_error_is_taken_off():
    found = on_the_shim(known_error="correct", range_min_um=1025, range_max_um=2000)

    assert not [note for note in found.sanity if note.check == "gauge_range"]
