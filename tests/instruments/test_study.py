"""Studies, charts and capability against published examples."""

import math

import pytest

from soundedge.basis.errors import BenchError
from soundedge.basis.question import answer
from soundedge.instruments.ask import FORMS
from soundedge.instruments.capability import capability
from soundedge.instruments.control import D2, D3, averages_and_ranges, individuals
from soundedge.instruments.study import crossed_study, range_study

# The classic study of the measurement systems manual: 10 parts, 3 operators, 3 trials. Data from memory; every sum of
# squares agrees with the printed table, so the data are the right ones.
CLASSIC = """
A 0.29 -0.56 1.34 0.47 -0.80 0.02 0.59 -0.31 2.26 -1.36
A 0.41 -0.68 1.17 0.50 -0.92 -0.11 0.75 -0.20 1.99 -1.25
A 0.64 -0.58 1.27 0.64 -0.84 -0.21 0.66 -0.17 2.01 -1.31
B 0.08 -0.47 1.19 0.01 -0.56 -0.20 0.47 -0.63 1.80 -1.68
B 0.25 -1.22 0.94 1.03 -1.20 0.22 0.55 0.08 2.12 -1.62
B 0.07 -0.68 1.34 0.20 -1.28 0.06 0.83 -0.34 2.19 -1.50
C 0.04 -1.38 0.88 0.14 -1.46 -0.29 0.02 -0.46 1.77 -1.49
C -0.11 -1.13 1.09 0.20 -1.07 -0.67 0.01 -0.56 1.45 -1.77
C -0.15 -0.96 0.67 0.11 -1.45 -0.49 0.21 -0.49 1.87 -2.16
"""
ROWS = [(str(part), line.split()[0], float(value)) for line in CLASSIC.strip().split("\n")
        for part, value in enumerate(line.split()[1:], 1)]

# Montgomery, piston rings, 25 samples of 5: 74.000 mm + µm (second hand, data file of an open package).
RINGS = [[74 + int(v) * 1e-3 for v in sample.split()] for sample in (
    "30 2 19 -8 8|-5 -8 1 11 4|-12 24 21 5 2|2 -4 -7 15 9|-8 7 15 -11 14|9 -6 -3 -15 -7|-5 6 -6 0 5|-15 3 -7 15 -12|8 -5 9 5 4|"
    "-2 0 -10 7 -5|-6 -2 -6 -5 -10|4 0 7 0 -4|-17 2 -2 -3 12|6 -33 -6 0 -16|12 14 -2 -1 7|0 -16 5 -2 -4|-6 12 -14 5 7|"
    "6 10 18 3 0|-16 2 3 5 -3|0 10 13 20 3|-12 1 9 5 -4|4 -1 -10 6 9|10 -11 -10 9 14|15 8 -7 0 10|-18 -16 -5 17 13").split("|")]


def test_the_classic_study_by_variance():
    """Printed (memory): EV 0.199933, AV 0.226838, GRR 0.302373, PV 1.042327, TV 1.085300, ndc 4."""
    found = crossed_study(ROWS)

    assert found.pooled
    assert [found.repeatability, found.reproducibility, found.grr, found.part, found.total] == pytest.approx(
        [0.199933, 0.226838, 0.302372, 1.042327, 1.085300], abs=1e-6)
    assert found.ndc == 4
    ss = {line.source: line.ss for line in found.anova}
    assert ss == pytest.approx({"operator": 3.167262, "part": 88.361934, "operator_by_part": 0.358982,
                                "repeatability": 2.758933, "total": 94.647112}, abs=1e-6)
    against_error = {line.source: line.f_vs_error for line in found.anova}
    assert (against_error["operator"], against_error["part"], against_error["operator_by_part"]) == pytest.approx(
        (34.44, 213.52, 0.434), abs=5e-3)
    assert {line.source: line.f for line in found.anova}["part"] == pytest.approx(245.614, abs=1e-3)


def test_the_classic_study_by_ranges():
    """Printed from rounded factors (memory): 0.20188, 0.22963, 0.30575, 1.10456, 1.14610, ndc 5; so 5e-4."""
    found = range_study(ROWS)

    assert [found.repeatability, found.reproducibility, found.grr, found.part, found.total] == pytest.approx(
        [0.20188, 0.22963, 0.30575, 1.10456, 1.14610], abs=5e-4)
    assert found.ndc == 5


def test_the_table_of_variance_agrees_with_statsmodels():
    pd = pytest.importorskip("pandas")
    smf = pytest.importorskip("statsmodels.formula.api")
    from statsmodels.stats.anova import anova_lm

    frame = pd.DataFrame(ROWS, columns=["part", "operator", "value"])
    other = anova_lm(smf.ols("value ~ C(operator) * C(part)", frame).fit())
    ours = {line.source: line.ss for line in crossed_study(ROWS).anova}

    for name, theirs in (("operator", "C(operator)"), ("part", "C(part)"), ("operator_by_part", "C(operator):C(part)"),
                         ("repeatability", "Residual")):
        assert ours[name] == pytest.approx(other["sum_sq"][theirs], rel=1e-9)


def test_an_interaction_that_is_there_is_kept_apart():
    """Montgomery & Runger, supplement, example S14-1 (second hand): sums of squares 26.333, 24.333, 35.667, 45.000 with
    2, 3, 6, 12 freedoms give variances 3.75, 1.10, 0.36, 0.90. A study with exactly those sums is built here."""
    import numpy as np

    dice = np.random.default_rng(5)

    def scaled(x, ss):
        return x * math.sqrt(ss / (x**2).sum())

    o = dice.normal(size=(3, 1, 1))
    o = scaled(np.broadcast_to(o - o.mean(), (3, 4, 2)).copy(), 26.333)
    m = dice.normal(size=(1, 4, 1))
    m = scaled(np.broadcast_to(m - m.mean(), (3, 4, 2)).copy(), 24.333)
    om = dice.normal(size=(3, 4, 1))
    om = om - om.mean(0, keepdims=True) - om.mean(1, keepdims=True) + om.mean()
    om = scaled(np.broadcast_to(om, (3, 4, 2)).copy(), 35.667)
    e = dice.normal(size=(3, 4, 2))
    e = scaled(e - e.mean(2, keepdims=True), 45.0)
    y = 50 + o + m + om + e
    found = crossed_study([(str(j), str(i), y[i, j, k]) for i in range(3) for j in range(4) for k in range(2)])

    assert not found.pooled     # p = 0.234 is not above 0.25
    f = {line.source: line.f for line in found.anova}
    assert (f["operator"], f["part"], f["operator_by_part"]) == pytest.approx((2.21, 1.36, 1.59), abs=0.01)
    variances = (found.repeatability**2, found.interaction**2, found.part**2, found.reproducibility**2 - found.interaction**2)
    assert variances == pytest.approx((3.75, 1.0973, 0.3611, 0.9027), abs=1e-3)


def test_a_large_offset_costs_no_digits():
    near, far = crossed_study(ROWS), crossed_study([(p, o, v + 1e6) for p, o, v in ROWS])

    assert far.grr == pytest.approx(near.grr, rel=1e-8) and far.ndc == near.ndc


def test_an_unbalanced_study_is_refused_with_the_missing_pair():
    with pytest.raises(BenchError, match="'C' measured part '10' 2 times"):
        crossed_study(ROWS[:-1])
    with pytest.raises(BenchError, match="at least 2"):
        crossed_study([r for r in ROWS if r[1] == "A"])
    with pytest.raises(BenchError, match="trials"):
        crossed_study([("1", "A", 1.0), ("1", "B", 1.0), ("2", "A", 2.0), ("2", "B", 2.0)])


def test_the_study_question_gives_both_methods():
    rows = [{"part": p, "operator": o, "trial": 1 + i // 10 % 3, "value": v} for i, (p, o, v) in enumerate(ROWS)]
    found = answer(FORMS, {"study": rows, "tolerance": 8})

    assert found.grr == pytest.approx(0.302372, abs=1e-6) and found.by_range.ndc == 5 and found.ndc == 4
    assert found.grr_pct == pytest.approx(27.9, abs=0.05) and found.verdict == "does_not_conform"
    assert found.grr_of_tolerance_pct == pytest.approx(100 * 6 * 0.302372 / 8, abs=1e-3)
    with pytest.raises(BenchError, match="stands twice"):
        answer(FORMS, {"study": rows + rows[:1]})


def test_the_piston_rings():
    """Montgomery (second hand, printed by an open package): x̿ 74.00118, R̄ 0.02276, 73.98805 to 74.01431, R 0.04812533."""
    averages, ranges = averages_and_ranges(RINGS)

    assert averages.centre == pytest.approx(74.00118, abs=5e-6) and ranges.centre == pytest.approx(0.02276, abs=1e-9)
    assert (averages.low, averages.high) == (pytest.approx(73.98805, abs=5e-6), pytest.approx(74.0143, abs=5e-5))
    assert averages.sigma == pytest.approx(0.009785039, rel=5e-5)   # printed with d2 rounded to 2.326
    assert ranges.low == 0 and ranges.high == pytest.approx(0.04812533, rel=5e-5)
    assert not any(s.rule == "beyond_limits" for s in averages.signals + ranges.signals)


def test_the_capability_of_the_piston_rings():
    """Spec 73.95 to 74.05: Cp 1.703 (1.491, 1.915), Cpk 1.663 (1.448, 1.878), Cpm to 74.00 1.69 (second hand)."""
    found = answer(FORMS, {"capability": RINGS, "low": 73.95, "high": 74.05, "target": 74.0})

    assert (found.cp, found.cpl, found.cpu, found.cpk) == pytest.approx((1.703, 1.743, 1.663, 1.663), abs=5e-4)
    assert found.cp_limits == pytest.approx([1.491, 1.915], abs=5e-4)
    assert found.cpk_limits == pytest.approx([1.448, 1.878], abs=6e-4)
    assert found.cpm == pytest.approx(1.69, abs=5e-3) and found.verdict == "conforms"
    narrow = answer(FORMS, {"capability": RINGS, "low": 73.99, "high": 74.01})
    assert (narrow.cp, narrow.cpk) == pytest.approx((0.341, 0.301), abs=5e-4)
    assert narrow.cpk_limits == pytest.approx([0.231, 0.370], abs=6e-4)
    assert (round(narrow.below_pct), round(narrow.above_pct)) == (13, 18)


def test_the_handbook_capability_example():
    """NIST e-Handbook 6.1.6: limits 8 and 20, mean 16, s 2 (memory)."""
    found = capability(mean=16, sigma=2, n=30, low=8, high=20)

    assert (found.cp, found.cpl, found.cpu, found.cpk) == pytest.approx((1, 4 / 3, 2 / 3, 2 / 3))


def test_with_a_minimum_only_the_bound_is_exact():
    """n = 30, Cpl 1.33: 1.0216 by the noncentral t (computed independently with another program)."""
    from scipy import stats

    found = capability(mean=1.33 * 3, sigma=1, n=30, low=0)

    assert found.one_sided_lower == pytest.approx(1.0216, abs=5e-5)
    back = stats.nct.cdf(3 * 1.33 * math.sqrt(30), 29, 3 * found.one_sided_lower * math.sqrt(30))
    assert back == pytest.approx(0.95, abs=1e-6)


def test_the_handbook_chart_of_single_values():
    """NIST e-Handbook 6.3.2.2: 50.81, 55.8041, 45.8159 with d2 rounded to 1.128 (memory), so 5e-3."""
    found = individuals([49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1])

    assert found.centre == pytest.approx(50.81)
    assert (found.low, found.high) == (pytest.approx(45.8159, abs=5e-3), pytest.approx(55.8041, abs=5e-3))


@pytest.mark.parametrize("n", [2, 3, 5, 10, 25])
def test_the_factors_follow_from_the_range_of_normal_values(n):
    """d2 = E(range), d3 = its deviation, integrated from the distribution of extremes."""
    from scipy import integrate, special

    def tail(x):
        return 1 - special.ndtr(x) ** n - (1 - special.ndtr(x)) ** n

    mean, _ = integrate.quad(tail, -8, 8)

    def joint(y, x):  # y < x
        return 1 - special.ndtr(x) ** n - (1 - special.ndtr(y)) ** n + (special.ndtr(x) - special.ndtr(y)) ** n

    square, _ = integrate.dblquad(joint, -8, 8, -8, lambda x: x, epsabs=1e-9)
    assert D2[n - 2] == pytest.approx(mean, abs=1e-6)
    assert D3[n - 2] == pytest.approx(math.sqrt(2 * square - mean**2), abs=2e-6)


def test_the_zone_rules_speak_and_a_steady_chart_does_not():
    base = [50, 51, 49, 50.5, 49.5] * 4
    assert individuals(base).signals == ()
    assert "beyond_limits" in {s.rule for s in individuals([*base, 60]).signals}
    assert "eight_in_a_row" in {s.rule for s in individuals([*base, *[50.6] * 8]).signals}


def test_the_chart_question():
    found = answer(FORMS, {"chart": [50, 51, 49, 50, 60, 50.5]})
    pair = answer(FORMS, {"chart": RINGS})

    assert [c.kind for c in pair.charts] == ["averages", "ranges"] and "20 points" in found.cautions[0]
    with pytest.raises(BenchError, match="different sizes"):
        answer(FORMS, {"chart": [[1, 2], [1, 2, 3]]})
    with pytest.raises(BenchError, match="at least 3"):
        answer(FORMS, {"chart": [1]})
    with pytest.raises(BenchError, match="Subgroup 2"):
        answer(FORMS, {"chart": [[1, 2], ["a", 3]]})
    with pytest.raises(BenchError, match="Point 2"):
        answer(FORMS, {"capability": [1, None], "low": 0})


# NIST, silicon wafer thickness (Dataplot, lib/data/CCXBAR.DAT, public domain; first hand): 20 days of 5.
WAFERS = """
24.5 22.4 23.7 23.5 23.8 23.6 23.8 22.5 22.5 23.0 25.0 22.6 23.7 22.7 22.9 24.3 22.6 23.2 23.3 23.2 23.8 24.9 23.6 22.5 24.8
24.4 22.8 22.6 22.9 23.1 23.7 22.9 23.3 23.2 23.9 23.4 23.7 23.5 23.4 23.3 24.9 23.9 23.1 24.5 23.7 23.0 23.8 22.5 23.6 23.4
24.8 24.0 24.1 23.9 23.9 24.4 23.7 23.2 23.0 23.8 24.9 24.0 22.2 23.2 22.3 24.3 23.6 22.4 23.2 23.2 23.4 23.7 24.0 22.5 24.0
25.3 24.9 23.1 22.6 23.7 24.1 23.6 23.8 24.0 23.3 25.9 25.4 22.4 24.3 24.3 26.4 24.4 22.1 26.4 23.2 27.8 22.7 25.0 25.9 25.4
"""


def test_the_institutes_wafers_are_out_of_control_on_the_twentieth_day_alone():
    """By hand with the printed factors A2 0.577 and D4 2.114, three figures, so 1e-3 and 2e-3."""
    values = [float(word) for word in WAFERS.split()]
    averages, ranges = averages_and_ranges([values[i:i + 5] for i in range(0, 100, 5)])

    assert (averages.centre, ranges.centre) == (pytest.approx(23.726, abs=1e-9), pytest.approx(2.05, abs=1e-9))
    assert (averages.low, averages.high) == (pytest.approx(23.726 - 0.577 * 2.05, abs=1e-3),
                                             pytest.approx(23.726 + 0.577 * 2.05, abs=1e-3))
    assert ranges.high == pytest.approx(2.114 * 2.05, abs=2e-3)
    assert [i + 1 for i, v in enumerate(averages.points) if not averages.low <= v <= averages.high] == [20]
