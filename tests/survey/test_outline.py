"""Area, perimeter, length and width of an outline, against shapely and by hand."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.affinity import rotate
from shapely.geometry import Polygon

from soundedge.survey.outline import curve_through, measured

from . import render

AWAY = np.array([11.0, -40.0])
SQUARE = [(0.0, 0.0), (25.4, 0.0), (25.4, 25.4), (0.0, 25.4)]


@pytest.mark.parametrize("seed", range(5))
def test_it_agrees_with_shapely(seed):
    """Outside check: shapely (GEOS) on the same polygon with a hole."""
    blob = [tuple(p) for p in render.blob(500, seed)[::7] + AWAY]
    hole = [tuple(p) for p in render.blob(40, seed + 50)[::9] + AWAY]
    other = Polygon(blob, [hole])
    far = max(((a, b) for a in blob for b in blob), key=lambda pair: math.dist(*pair))
    level = rotate(other, -math.degrees(math.atan2(far[1][1] - far[0][1], far[1][0] - far[0][0])), origin=(0, 0))

    mine = measured(blob, [hole])

    assert mine.area_mm2 == pytest.approx(other.area, rel=1e-12)
    assert mine.perimeter_mm == pytest.approx(other.length, rel=1e-12)
    assert mine.centroid_mm == pytest.approx((other.centroid.x, other.centroid.y), abs=1e-9)
    assert mine.length_mm == pytest.approx(max(math.dist(a, b) for a in blob for b in blob), rel=1e-12)
    assert mine.width_mm == pytest.approx(level.bounds[3] - level.bounds[1], rel=1e-9)


@given(st.integers(0, 10_000), st.floats(-3000, 3000), st.floats(-3000, 3000), st.floats(0, 360))
def test_place_turn_and_way_round_change_nothing(seed, dx, dy, turn_deg):
    blob = render.blob(300, seed)[::24]
    c, s = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))
    moved = blob @ np.array([[c, -s], [s, c]]) + (dx, dy)
    one, other = measured([tuple(p) for p in blob]), measured([tuple(p) for p in moved[::-1]])

    for key in ("area_mm2", "perimeter_mm", "length_mm", "cut_mm2", "tap_lever_mm2"):
        assert getattr(one, key) == pytest.approx(getattr(other, key), rel=1e-6)


def test_a_hole_is_taken_off_and_adds_its_edge():
    """Annulus by hand: 645.16 − 100 mm², 101.6 + 40 mm."""
    hole = [(5.0, 5.0), (15.0, 5.0), (15.0, 15.0), (5.0, 15.0)]
    shape = measured(SQUARE, [hole])

    assert shape.area_mm2 == pytest.approx(545.16, rel=1e-12)
    assert shape.perimeter_mm == pytest.approx(141.6, rel=1e-12)


@pytest.mark.parametrize("taps", [10, 12, 16, 24])
def test_what_straight_lines_cut_off_a_circle_is_foreseen(taps):
    """Regular n-gon in a circle of 400 mm²: the missing slices, by hand πr² − ½nr² sin(2π/n)."""
    r = math.sqrt(400 / math.pi)
    ring = [(r * math.cos(2 * math.pi * i / taps), r * math.sin(2 * math.pi * i / taps)) for i in range(taps)]
    missing = 400 - measured(ring).area_mm2

    assert measured(ring).cut_mm2 == pytest.approx(missing, rel=0.05)
    assert measured(curve_through(ring, 0.2)).area_mm2 == pytest.approx(400, rel=0.01)


def test_true_corners_are_not_taken_for_a_cut_curve():
    assert measured(SQUARE).cut_mm2 == 0.0


def test_one_tap_moved_moves_the_area_by_half_its_neighbours_distance():
    ring = [(math.cos(a) * 10, math.sin(a) * 10) for a in np.linspace(0, 2 * math.pi, 12, endpoint=False)]
    lever = []
    for i in range(12):
        moved = list(ring)
        moved[i] = (ring[i][0] * 1.001, ring[i][1] * 1.001)
        lever.append((measured(moved).area_mm2 - measured(ring).area_mm2) / 0.01)

    assert measured(ring).tap_lever_mm2 == pytest.approx(math.hypot(*lever), rel=0.01)


def test_the_longest_way_across_is_found_among_thousands_of_points_in_good_time():
    """By hand: an ellipse of 40 × 20 mm, turned; 5 000 points lie on its hull, and their table of distances is not built."""
    import tracemalloc

    t = 2 * np.pi * np.arange(5000) / 5000
    x, y = 20 * np.cos(t), 10 * np.sin(t)
    c, s = math.cos(0.7), math.sin(0.7)
    ring = [(float(a), float(b)) for a, b in zip(c * x - s * y, s * x + c * y)]
    measured(ring)

    tracemalloc.start()
    shape = measured(ring)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()

    assert shape.length_mm == pytest.approx(40, rel=1e-9) and shape.width_mm == pytest.approx(20, rel=1e-6)
    assert peak < 60e6  # 5 000 × 5 000 distances would be 200 MB for each table
