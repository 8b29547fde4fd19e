"""Plans, extremes and sanity."""

import math
import random

import pytest

from soundedge.basis.errors import BenchError
from soundedge.basis.question import answer
from soundedge.basis.shape import Circle
from soundedge.thickness.ask import FORMS
from soundedge.thickness.extreme import gumbel_of_minima
from soundedge.thickness.plan import (
    grid_points,
    hit_chance,
    inside,
    random_points_for,
    repair_plan,
    search_spots,
    spacing_for,
)
from soundedge.thickness.proof import readings_for_tolerance, readings_to_show
from soundedge.thickness.sanity import all_in_unit, disagreeing, look

SQUARE = [(0.0, 0.0), (50.8, 0.0), (50.8, 50.8), (0.0, 50.8)]


@pytest.mark.parametrize("pattern", ["square", "triangular"])
@pytest.mark.parametrize("ratio", [0.2, 0.5, 0.56, 0.65, 0.72])
def test_the_chance_to_hit_agrees_with_throwing_discs(pattern, ratio):
    """Against 40 000 discs thrown at a grid of spacing 1; three standard errors of the count."""
    dice, hits, n = random.Random(7), 0, 40_000
    rise = 1.0 if pattern == "square" else math.sqrt(3) / 2
    for _ in range(n):
        x, y = dice.random(), dice.random() * 2 * rise
        for row in range(-1, 4):
            shift = 0.5 if pattern == "triangular" and row % 2 else 0.0
            if any((x - c - shift) ** 2 + (y - row * rise) ** 2 <= ratio**2 for c in range(-2, 3)):
                hits += 1
                break
    p = hit_chance(ratio, pattern)

    assert hits / n == pytest.approx(p, abs=3 * math.sqrt(max(p * (1 - p), 1e-4) / n) + 1e-9)


def test_a_tenth_missed_needs_the_radius_of_gilberts_example():
    """Gilbert (1987), example 10.1: miss 0.1, L/G = 0.56, so G = 180 cm for L = 100 cm (memory)."""
    assert round(100 / spacing_for(200, miss=0.10) * 1, 2) == 0.56
    assert round(spacing_for(200, miss=0.10), -1) == 180


@pytest.mark.parametrize("miss, pattern, ratio", [(0.2, "square", 0.5053), (0.05, "square", 0.5991), (0.01, "square", 0.6578),
                                                  (0.10, "triangular", 0.4981), (0.05, "triangular", 0.5176)])
def test_spacing_and_chance_undo_each_other(miss, pattern, ratio):
    d = 20.0
    g = spacing_for(d, miss=miss, pattern=pattern)

    assert hit_chance(d / 2 / g, pattern) == pytest.approx(1 - miss, abs=1e-9)
    assert d / 2 / g == pytest.approx(ratio, abs=5e-5)


@pytest.mark.parametrize("d, n", [(5, 393), (10, 97), (20, 24)])
def test_random_readings_on_a_small_repair(d, n):
    """50.8 mm square, miss 5 %: computed independently with another program."""
    assert random_points_for(d, 50.8**2, miss=0.05) == n


def test_how_many_good_readings_show_how_little():
    """Without a thin reading: 90/95 29, 95/95 59, 99/95 299, 90/90 22 (standard nonparametric sample sizes)."""
    assert [readings_to_show(a, c) for a, c in ((0.1, 0.95), (0.05, 0.95), (0.01, 0.95), (0.1, 0.9))] == [29, 59, 299, 22]


def test_more_readings_lift_the_limit_just_over_the_minimum():
    from soundedge.thickness.chances import tolerance_factor
    from soundedge.thickness.moments import mean, sd

    values = [1100.0, 1180, 1240, 1150, 1210]
    n = readings_for_tolerance(values, 1040)

    reach = (mean(values) - 1040) / sd(values)
    assert tolerance_factor(n) <= reach < tolerance_factor(n - 1)
    assert readings_for_tolerance(values, 1150) is None


@pytest.mark.parametrize("pattern", ["square", "triangular"])
def test_the_grid_lies_inside_and_leaves_no_wide_gap(pattern):
    outline = Circle(d=120).outline(128)
    points = grid_points(outline, 17.0, pattern)

    assert all(inside(outline, x, y) for x, y in points)
    dice = random.Random(3)
    for _ in range(500):
        r, a = 40 * math.sqrt(dice.random()), 2 * math.pi * dice.random()
        x, y = r * math.cos(a), r * math.sin(a)
        assert min(math.dist((x, y), p) for p in points) <= 17 / math.sqrt(2) + 1e-9


def test_an_outline_smaller_than_the_grid_still_gets_one_reading():
    u_shape = [(0, 0), (10, 0), (10, 10), (9, 10), (9, 1), (1, 1), (1, 10), (0, 10)]
    points = grid_points([(float(x), float(y)) for x, y in u_shape], 100.0)

    assert len(points) == 1 and inside([(float(x), float(y)) for x, y in u_shape], *points[0])


def test_a_small_repair_has_three_rings():
    rings = {ring.where: ring for ring in repair_plan(5, 5, 30, 15)}

    assert [len(rings[w].points) for w in ("repair", "overlap", "parent")] == [6, 8, 4]
    assert all(math.dist((5, 5), p) < 15 for p in rings["repair"].points)
    assert all(15 < math.dist((5, 5), p) < 30 for p in rings["overlap"].points)
    assert all(math.dist((5, 5), p) > 30 for p in rings["parent"].points)


def test_the_search_about_a_bad_spot_goes_eight_ways():
    spots = search_spots(0, 0)

    assert len(spots) == 8 and all(math.hypot(x, y) == pytest.approx(1500) for x, y, _ in spots)


def test_the_extreme_value_fit_agrees_with_scipy():
    from scipy import stats

    minima = [470, 455, 462, 448, 466, 459, 451, 472, 444, 463]
    law = gumbel_of_minima(minima)
    location, scale = stats.gumbel_l.fit(minima)

    assert (law.location, law.scale) == (pytest.approx(location, rel=1e-5), pytest.approx(scale, rel=1e-3))
    assert law.quantile(0.01) == pytest.approx(427.980, abs=1e-3)
    assert law.of_blocks(100).quantile(0.5) < law.quantile(0.5)   # more places, a thinner thinnest
    assert law.of_blocks(10).of_blocks(10).location == pytest.approx(law.of_blocks(100).location)


def test_too_few_blocks_are_refused():
    with pytest.raises(BenchError, match="at least 5"):
        gumbel_of_minima([470, 455, 462, 448])
    with pytest.raises(BenchError, match="alike"):
        gumbel_of_minima([470] * 6)


def checks(*spots, **more):
    return [note.check for note in look([(str(i), s) for i, s in enumerate(spots, 1)], **more)]


def test_a_stuck_display_and_rounding_by_hand_are_seen():
    assert "repeats" in checks([1200.0] * 5)
    assert "repeats" not in checks([1200.0] * 4)
    by_hand = [1000.0 + 10 * (7 * i % 30) for i in range(40)]
    assert "terminal_digit" in checks(by_hand)
    dice = random.Random(1)
    assert "terminal_digit" not in checks([float(dice.randint(1000, 1300)) for _ in range(60)])


def test_a_far_reading_is_named_and_a_steady_film_is_not():
    assert checks([1200.0, 1210, 1195, 1205, 1420]) == ["outlier"]
    assert checks([1200.0, 1210, 1195, 1205, 1215]) == []
    assert "outlier" in checks([1200.0, 1200, 1200, 1200, 1420])   # more than half alike


def test_readings_a_gauge_is_not_made_for():
    assert "gauge_range" in checks([1600.0], gauge_max_um=1500)
    assert "negative" in checks([-3.0])
    assert "edge" in checks([1200.0], edge_mm={"1": 10.0})
    assert "edge" not in checks([1200.0], edge_mm={"1": 25.0})


def test_the_three_reading_rule():
    """ASTM B499 (1996): two readings may differ by 5 % of the mean or 2 µm (rule second hand, numbers constructed)."""
    assert disagreeing([("1", [100.0, 102, 104])], 5) == []
    assert len(disagreeing([("1", [100.0, 102, 107])], 5)) == 1
    assert len(disagreeing([("1", [20.0, 21, 22.5])], 5)) == 1


def test_a_whole_set_in_another_unit_is_recognised():
    assert all_in_unit([43.3, 44.0], 1000) == "mil" and all_in_unit([1.1, 1.2], 1000) == "mm"
    assert all_in_unit([1100.0, 1200.0], 1000) is None and all_in_unit([10.0], 1000) is None


def test_the_plan_question_lists_where_to_read():
    found = answer(FORMS, {"thin_spot_d_mm": 20, "outline_mm": [list(p) for p in SQUARE]})
    assert found.spacing_mm == pytest.approx(16.69, abs=0.005) and len(found.points) == found.grid_points == 16
    ring = answer(FORMS, {"thin_spot_d_mm": 10, "repair": {"d": 30}})
    assert {p.where for p in ring.points} == {"repair", "overlap", "parent"}
    with pytest.raises(BenchError, match="either"):
        answer(FORMS, {"thin_spot_d_mm": 10})
