"""The probability that every place conforms, against simulation and against products done by hand."""

import math

import numpy as np
import pytest
from scipy import stats

from soundedge.basis.question import answer
from soundedge.thickness.ask import FORMS
from soundedge.thickness.joint import Counted, Figure, all_together, alone, each_alone


def simulated(value, own, shared, low, high, *, limit=-math.inf, may=0, tries=40_000, seed=7):
    """JCGM 101:2008: draw the shared error once for each film, each reading's own error for each reading, and count."""
    dice = np.random.default_rng(seed)
    hit, block = 0, max(1, 2_000_000 // len(value))
    for begun in range(0, tries, block):
        size = min(block, tries - begun)
        true = value + np.multiply.outer(dice.normal(size=size), shared) + own * dice.normal(size=(size, len(value)))
        hit += int((((true >= low) & (true <= high)).all(axis=1) & ((true < limit).sum(axis=1) <= may)).sum())
    return hit / tries


def films(n, seed=3):
    return np.random.default_rng(seed).normal(1045, 14, n)


def both_ways(n, own, tol, low, high, tries):
    value = films(n)
    shared = tol / 100 * value / math.sqrt(3)
    ours = all_together([Figure(float(v), own, shared_u=float(s), low=low, high=high) for v, s in zip(value, shared)])
    return ours, simulated(value, own, shared, low, high, tries=tries)


@pytest.mark.parametrize("n, own, tol, low, high", [
    (3, 20, 3, 1000, 1110), (30, 6, 1, 1000, math.inf), (30, 6, 3, 1000, 1100), (500, 6, 1, 990, 1120), (30, 0, 2, 1000, 1090)])
def test_all_places_together_agree_with_a_simulation(n, own, tol, low, high):
    ours, drawn = both_ways(n, own, tol, low, high, 40_000)

    assert ours == pytest.approx(drawn, abs=4 * math.sqrt(max(ours * (1 - ours), 1e-4) / 40_000))


@pytest.mark.release
@pytest.mark.parametrize("n", [3, 10, 50, 200])
@pytest.mark.parametrize("own, tol, low, high", [(12, 2, 1000, 1100), (1, 3, 1000, math.inf), (6, 0.2, 1005, 1085)])
def test_all_places_together_agree_with_a_long_simulation(n, own, tol, low, high):
    ours, drawn = both_ways(n, own, tol, low, high, 1_000_000)

    assert ours == pytest.approx(drawn, abs=2e-3)   # four standard errors of the simulation


def test_without_a_shared_error_the_probabilities_multiply():
    """Ten spots of three at 1010 µm, u = 6: Φ(10/6) each, its thirtieth power together. Twenty spots of 1010 and 1090
    between 1000 and 1100, u = 5: [Φ(18) − Φ(−2)] to the fortieth."""
    ten = [Figure(1010.0, 6.0, low=1000.0)] * 30
    twenty = [Figure(v, 5.0, low=1000.0, high=1100.0) for v in (1010.0, 1090.0)] * 20

    assert each_alone(ten) == pytest.approx(stats.norm.cdf(10 / 6), abs=1e-9)
    assert all_together(ten) == pytest.approx(stats.norm.cdf(10 / 6) ** 30, abs=1e-6)
    assert all_together(twenty) == pytest.approx((stats.norm.cdf(18) - stats.norm.cdf(-2)) ** 40, abs=1e-6)


def test_with_a_shared_error_alone_the_thinnest_place_decides():
    film = [Figure(v, shared_u=17.0, low=1000.0) for v in (1010.0, 1200.0, 1200.0)]

    assert all_together(film) == each_alone(film) == pytest.approx(stats.norm.cdf(10 / 17), abs=1e-5)


def test_few_readings_are_students():
    """JCGM 101:2008, 6.4.9: a mean of three has a t distribution with two degrees of freedom."""
    spots = [1012.0, 1040.0, 1086.0]
    u = np.std(spots, ddof=1) / math.sqrt(3)
    figure = Figure(float(np.mean(spots)), float(u), 2, low=1000.0)
    dice = np.random.default_rng(5)

    assert alone(figure) == pytest.approx(stats.t.cdf((figure.value - 1000) / u, 2), abs=1e-9)
    # and with a normal error beside it, by simulation
    both = Figure(figure.value, figure.own_u, 2, 18.0, low=1000.0)
    drawn = (both.value + u * dice.standard_t(2, 400_000) + 18 * dice.normal(size=400_000) >= 1000).mean()
    assert alone(both) == pytest.approx(drawn, abs=3e-3)
    few = Figure(1040.0, shared_u=18.0, low=1000.0)
    assert alone(few, 4) == pytest.approx(stats.t.cdf(40 / 18, 4), abs=1e-9)
    assert all_together([few, Figure(1090.0, 3.0, shared_u=18.0, low=1000.0)], (), 4) == pytest.approx(alone(few, 4), abs=1e-4)


@pytest.mark.parametrize("n, own, tol, may", [(10, 20, 2, 1), (60, 10, 2, 11)])
def test_a_share_that_may_lie_below_agrees_with_a_simulation(n, own, tol, may):
    value = films(n)
    shared = tol / 100 * value / math.sqrt(3)
    figures = tuple(Figure(float(v), own, shared_u=float(s), low=980.0, high=1150.0) for v, s in zip(value, shared))

    ours = all_together([], [Counted(figures, 1030.0, may)])

    drawn = simulated(value, own, shared, 980.0, 1150.0, limit=1030.0, may=may)
    assert ours == pytest.approx(drawn, abs=4 * math.sqrt(ours * (1 - ours) / 40_000))
    above = tuple(Figure(-f.value, f.own_u, shared_u=f.shared_u, low=-1150.0, high=-980.0) for f in figures)
    assert all_together([], [Counted(above, -1030.0, may, below=False)]) == pytest.approx(ours, abs=1e-6)


def test_very_many_readings_are_grouped_and_answer_alike():
    value = np.random.default_rng(1).normal(1200, 40, 5000)
    figures = [Figure(float(v), 6.0, shared_u=20.0, low=1030.0, high=1400.0) for v in value]

    apart = math.log(all_together(figures[:2500])) + math.log(all_together(figures[2500:]))
    together = all_together(figures)
    assert 0 < together < math.exp(apart / 2)
    dice = np.random.default_rng(2)
    drawn = np.mean([(value + 20 * dice.normal() + 6 * dice.normal(size=5000) >= 1030).all() for _ in range(4000)])
    assert together == pytest.approx(drawn, abs=0.03)


def ten_spots(**changes):
    return {"spots": [{"id": str(i), "readings_um": [1010, 1010, 1010]} for i in range(10)], "limits": {"min_um": 1000},
            "gauge": {"tol_pct": 0, "repeatability_um": 6}, "rules": ["every_reading"],
            "decision": {"rule": "guarded", "probability": 0.95}} | changes


def test_each_place_and_all_together_stand_side_by_side_and_the_scope_decides():
    whole = answer(FORMS, ten_spots()).by_rule["every_reading"]
    each = answer(FORMS, ten_spots(decision={"rule": "guarded", "probability": 0.95, "scope": "each"})).by_rule["every_reading"]
    plain = answer(FORMS, ten_spots(decision={"rule": "simple"})).by_rule["every_reading"]

    assert (whole.verdict, each.verdict, plain.verdict) == ("indeterminate", "conforms", "conforms")
    for one in (whole, each, plain):
        assert (one.p_each_min, one.p_all) == (pytest.approx(0.9522, abs=1e-4), pytest.approx(0.2302, abs=1e-4))
        assert "95.2 %" in one.because and "23.0 %" in one.because
    assert whole.p_conforms == whole.p_all and each.p_conforms == each.p_each_min
    assert "23.0 %, which decides" in whole.because and "95.2 %, which decides" in each.because
    assert "which decides" not in plain.because


def test_three_spots_under_pa_2_are_students():
    """JCGM 101:2008, 6.4.9; the outside value is scipy's t."""
    found = answer(FORMS, {"spots": [{"id": str(v), "readings_um": [v, v, v]} for v in (1012, 1040, 1086)],
                           "limits": {"min_um": 1000}, "gauge": {"tol_pct": 0}, "rules": ["sspc_pa_2"],
                           "decision": {"rule": "guarded", "probability": 0.95}}).by_rule["sspc_pa_2"]

    u = np.std([1012, 1040, 1086], ddof=1) / math.sqrt(3)
    assert found.p_conforms == pytest.approx(stats.t.cdf(46 / u, 2), abs=1e-4) == pytest.approx(0.917, abs=1e-3)
    assert found.verdict == "indeterminate"


@pytest.mark.parametrize("rule", ["simple", "guarded"])
def test_readings_without_any_uncertainty_have_no_probability(rule):
    found = answer(FORMS, ten_spots(gauge={"tol_pct": 0}, decision={"rule": rule}))
    one = found.by_rule["every_reading"]

    assert (one.p_conforms, one.p_each_min, one.p_all) == (None, None, None)
    assert [(f.u, f.p_conforms) for f in one.findings] == [(None, None)] and "uncertainty is not known" in one.because
    assert one.verdict == {"simple": "conforms", "guarded": "indeterminate"}[rule]
