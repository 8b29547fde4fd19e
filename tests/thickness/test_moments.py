"""Means and spreads against data made to be hard."""

import math

import pytest

from soundedge.thickness.moments import mean, sd, two_level

# NIST Statistical Reference Datasets, univariate and one-way; certified values second hand, from the data files that
# scipy and an open R package carry. NumAcc1 to NumAcc4 are constructed and their values exact by construction.
NUMACC2 = [1.2] + [1.1, 1.3] * 500
NUMACC3 = [1000000.2] + [1000000.1, 1000000.3] * 500
NUMACC4 = [10000000.2] + [10000000.1, 10000000.3] * 500
MAVRO = [2 + x * 1e-5 for x in (
    180, 170, 180, 190, 180, 170, 150, 140, 150, 150, 170, 180, 180, 190, 190, 210, 200, 160, 140, 130, 130, 150, 150, 160,
    150, 140, 130, 140, 150, 140, 150, 160, 150, 160, 190, 200, 200, 210, 220, 230, 240, 250, 270, 260, 260, 260, 270, 260,
    250, 240)]
MICHELSO = [299 + x / 100 for x in (
    85, 74, 90, 107, 93, 85, 95, 98, 98, 88, 100, 98, 93, 65, 76, 81, 100, 100, 96, 96, 96, 94, 96, 94, 88, 80, 85, 88, 90, 84,
    83, 79, 81, 88, 88, 83, 80, 79, 76, 80, 88, 88, 88, 86, 72, 72, 62, 86, 97, 95, 88, 91, 85, 87, 84, 84, 85, 84, 84, 84, 89,
    81, 81, 82, 80, 77, 76, 74, 75, 76, 91, 92, 89, 86, 88, 72, 84, 85, 85, 78, 89, 84, 78, 81, 76, 81, 79, 81, 82, 85, 87, 87,
    81, 74, 81, 94, 95, 80, 81, 87)]
SIRSTV = [
    [196.3052, 196.1240, 196.1890, 196.2569, 196.3403], [196.3042, 196.3825, 196.1669, 196.3257, 196.0422],
    [196.1303, 196.2005, 196.2889, 196.0343, 196.1811], [196.2795, 196.1748, 196.1494, 196.1485, 195.9885],
    [196.2119, 196.1051, 196.1850, 196.0052, 196.2090]]
ATMWTAG = [
    [107.868 + x * 1e-7 for x in row] for row in (
        (1568, 1465, 1572, 1785, 1446, 1903, 1526, 1494, 1616, 1587, 1519, 1486, 1419, 1569, 1508, 1672, 1385, 1518, 1662, 1424,
         1360, 1333, 1610, 1477),
        (1079, 1344, 1513, 1197, 1604, 1385, 1642, 1365, 1151, 1082, 1517, 1448, 1198, 1482, 1334, 1609, 1101, 1512, 1469, 1360,
         1254, 1261, 1450, 1368))]


def small(offset):
    """SmLs01 (offset 0), SmLs04 (1e6), SmLs07 (1e12): nine treatments of 21, built as their files describe."""
    return [[offset + c] + [offset + c - 0.1, offset + c + 0.1] * 10 for c in (1.4, 1.3, 1.5, 1.3, 1.5, 1.3, 1.5, 1.3, 1.5)]


@pytest.mark.parametrize("data, centre, spread, rel", [
    ([10000001, 10000003, 10000002], 10000002, 1, 1e-15),
    (NUMACC2, 1.2, 0.1, 1e-13),
    (NUMACC3, 1000000.2, 0.1, 1e-8),   # 0.1 beside a million is stored to 1e-10 only
    (NUMACC4, 10000000.2, 0.1, 1e-7),
    (MAVRO, 2.001856, 4.29123454003053e-4, 1e-11),
    (MICHELSO, 299.8524, 0.0790105478190518, 1e-11),
])
def test_it_agrees_with_the_certified_univariate_values(data, centre, spread, rel):
    assert mean(data) == pytest.approx(centre, rel=1e-14)
    assert sd(data) == pytest.approx(spread, rel=rel)


def test_the_naive_sum_of_squares_would_fail_numacc4():
    """The planted fault: Σx² − n·x̄² gives 0.18 instead of 0.1."""
    n, m = len(NUMACC4), sum(NUMACC4) / len(NUMACC4)
    naive = math.sqrt(abs(sum(x * x for x in NUMACC4) - n * m * m) / (n - 1))

    assert abs(naive - 0.1) > 0.01 and abs(sd(NUMACC4) - 0.1) < 1e-8


@pytest.mark.parametrize("groups, between, within, f, rel", [
    (SIRSTV, 5.11462616e-2, 2.16636560e-1, 1.18046237440255, 1e-9),
    (ATMWTAG, 3.63834187500000e-9, 1.04951729166667e-8, 15.9467335677930, 1e-7),
    (small(0.0), 1.68, 1.80, 21.0, 1e-12),
    (small(1e6), 1.68, 1.80, 21.0, 1e-8),
    (small(1e12), 1.68, 1.80, 21.0, 2e-2),     # at 1e12 a double holds 0.0001: the data themselves are rounded
])
def test_it_agrees_with_the_certified_one_way_tables(groups, between, within, f, rel):
    found = two_level(groups)

    assert found.between_ss == pytest.approx(between, rel=rel)
    assert found.within_ss == pytest.approx(within, rel=rel)
    assert found.f == pytest.approx(f, rel=rel)


def test_the_mean_of_spots_follows_the_gum_example_h5():
    """JCGM 100:2008, H.5, ten days of five voltages: memory; the day means and deviations as printed, in µV.

    s(V̄_j) = 57 µV, u(V̄) = 18 µV, and 13 µV if the days were not kept apart; F = 2.25 of rounded numbers, 2.26 here.
    """
    means = [172, 116, 13, 144, 106, 31, 60, 125, 163, 41]
    spreads = [60, 77, 111, 101, 67, 93, 80, 73, 88, 86]
    # five values with exactly that mean and standard deviation
    shape = [-2, -1, 0, 1, 2]
    scale = math.sqrt(sum(x * x for x in shape) / 4)
    days = [[m + s * x / scale for x in shape] for m, s in zip(means, spreads)]

    found = two_level(days)

    assert found.mean == pytest.approx(97.1)
    assert found.spot_sd == pytest.approx(57.09, abs=0.01)
    assert found.within_sd == pytest.approx(84.89, abs=0.02)
    assert found.u_mean == pytest.approx(18.05, abs=0.01) and found.df == 9
    assert found.f == pytest.approx(2.2615, abs=0.001)


def test_the_gum_thermometer_example():
    """JCGM 100:2008, 4.4.3, twenty temperatures (memory): mean 100.145, s 1.489, s/√20 0.333."""
    t = [96.90, 98.18, 98.25, 98.61, 99.03, 99.49, 99.56, 99.74, 99.89, 100.07, 100.33, 100.42, 100.68, 100.95, 101.11, 101.20,
         101.57, 101.84, 102.36, 102.72]

    found = two_level([t])

    assert (round(found.mean, 3), round(found.within_sd, 3), round(found.u_mean, 3)) == (100.145, 1.489, 0.333)


def test_one_reading_has_no_spread():
    found = two_level([[1200.0]])

    assert sd([1200.0]) is None and found.u_mean is None and found.df == 0 and found.f is None


def test_unequal_spots_are_taken_as_they_are():
    """Against statsmodels' one-way table."""
    statsmodels = pytest.importorskip("statsmodels.stats.oneway")
    groups = [[1200, 1210, 1190], [1100, 1150], [1300, 1280, 1310, 1290]]

    found = two_level(groups)
    other = statsmodels.anova_oneway(groups, use_var="equal")

    assert found.f == pytest.approx(other.statistic, rel=1e-12)
