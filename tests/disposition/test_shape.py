"""Areas, footprints and distances against closed forms and a sum done by hand."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import Polygon

from soundedge.basis.shape import area_mm2
from soundedge.disposition.marked import gap_mm, greatest_dimension_mm, outlined_mark, oval_mark, round_mark
from soundedge.disposition.shape import bare_u_mm2, repair_shape

from ..tries import tries


def blob(seed, points=24, size=20.0, at=(0.0, 0.0)):
    """A star-shaped outline that does not cross itself."""
    draw = np.random.default_rng(seed)
    turn = np.sort(draw.uniform(0, 2 * math.pi, points))
    reach = size * draw.uniform(0.4, 1.0, points)
    return [(at[0] + r * math.cos(t), at[1] + r * math.sin(t)) for r, t in zip(reach, turn)]


@pytest.mark.parametrize("d", [1.0, 30.0, 400.0])
def test_a_circle_has_its_closed_form_area_and_footprint(d):
    shape = repair_shape([round_mark("A", x=3, y=-7, d=d)], feather_mm=15.0)

    assert shape.bare_mm2 == pytest.approx(math.pi * d * d / 4, rel=1e-12)
    assert shape.footprint_mm2 == pytest.approx(math.pi * (d / 2 + 15) ** 2, rel=1e-12)


def test_the_drawn_circle_says_the_same_within_its_stated_error():
    """The polygon behind the circle: area exact by construction, footprint within 0.005 %."""
    shape = repair_shape([round_mark("A", x=0, y=0, d=30)], feather_mm=15.0)

    assert shape.bare.area == pytest.approx(math.pi * 225, rel=1e-12)
    assert shape.footprint.area == pytest.approx(math.pi * 900, rel=5e-5)


@pytest.mark.parametrize("a, b, angle", [(62, 31, 0), (62, 31, 37), (10, 9.9, 80), (80, 2, 15)])
def test_an_ellipse_has_its_closed_form_area_and_steiner_footprint(a, b, angle):
    """Perimeter by Ramanujan's second formula (1914, from memory); footprint A + P·f + π·f² (Steiner).

    Tolerance 2e-4: the perimeter formula is off by 1e-4 of itself for the flattest (40:1).
    """
    h = ((a - b) / (a + b)) ** 2
    perimeter = math.pi / 2 * (a + b) * (1 + 3 * h / (10 + math.sqrt(4 - 3 * h)))
    shape = repair_shape([oval_mark("A", x=1, y=2, a=a, b=b, angle_deg=angle)], feather_mm=12.0)

    assert shape.bare_mm2 == pytest.approx(math.pi * a * b / 4, rel=1e-12)
    assert shape.footprint_mm2 == pytest.approx(math.pi * a * b / 4 + perimeter * 12 + math.pi * 144, rel=2e-4)


@given(st.integers(0, 10**6), st.integers(3, 40))
@tries(60)
def test_an_outline_has_the_area_of_the_shoelace_sum(seed, points):
    outline = blob(seed, points)
    polygon = Polygon(outline)
    if polygon.is_valid and polygon.area > 1e-3:
        assert outlined_mark("A", outline, "x").area_mm2 == pytest.approx(area_mm2(outline), rel=1e-9)


def test_the_footprint_of_a_square_is_its_four_strips_and_one_circle():
    """50 × 50 grown by 10: 2500 + 4·50·10 + π·100. The rounded corners lose 0.0025 % of the circle."""
    square = outlined_mark("A", [(0, 0), (50, 0), (50, 50), (0, 50)], "x")

    footprint = repair_shape([square], feather_mm=10.0).footprint_mm2

    assert footprint == pytest.approx(2500 + 2000 + 100 * math.pi, abs=100 * math.pi * 2.6e-5)


@pytest.mark.parametrize("r1, r2, apart", [(10, 10, 40), (15, 4, 30), (20, 5, 21)])
def test_two_circles_share_the_hull_of_a_belt_around_two_pulleys(r1, r2, apart):
    """Hull of two circles in closed form: two sectors and two right trapezia (elementary geometry).

    Area = ½·r1²·(2π − 2φ) + ½·r2²·2φ + (r1 + r2)·√(c² − (r1 − r2)²), with cos φ = (r1 − r2)/c.
    """
    phi = math.acos((r1 - r2) / apart)
    exact = r1**2 * (math.pi - phi) + r2**2 * phi + (r1 + r2) * math.sqrt(apart**2 - (r1 - r2) ** 2)
    two = [round_mark("A", x=0, y=0, d=2 * r1), round_mark("B", x=apart, y=0, d=2 * r2)]

    assert repair_shape(two, feather_mm=None).bare_mm2 == pytest.approx(exact, rel=1e-4)


def test_the_hull_of_a_known_point_set_is_the_known_one():
    """A square with points inside it: its hull is the square. Two squares far apart: a hexagon, 1·1 at (0,0) and
    (9,9): area 1 + 2·9 ... counted by the shoelace of the six outer corners."""
    one = outlined_mark("A", [(0, 0), (1, 0), (1, 1), (0, 1)], "x")
    other = outlined_mark("B", [(9, 9), (10, 9), (10, 10), (9, 10)], "x")
    hexagon = [(0, 0), (1, 0), (10, 9), (10, 10), (9, 10), (0, 1)]

    assert repair_shape([one, other], feather_mm=None).bare_mm2 == pytest.approx(area_mm2(hexagon), rel=1e-12)


def test_the_greatest_dimension_is_between_the_two_farthest_corners():
    assert greatest_dimension_mm(Polygon([(0, 0), (30, 0), (30, 40), (0, 40)])) == pytest.approx(50.0)
    for seed in range(10):
        outline = np.array(blob(seed))
        by_hand = max(math.dist(p, q) for p in outline for q in outline)
        assert greatest_dimension_mm(Polygon(outline)) == pytest.approx(by_hand, rel=1e-12)


def test_the_gap_of_two_circles_is_exact_and_zero_when_they_overlap():
    a, b = round_mark("A", x=0, y=0, d=30), round_mark("B", x=60, y=0, d=30)

    assert gap_mm(a, b) == 30.0
    assert gap_mm(a, round_mark("C", x=20, y=0, d=30)) == 0.0


def test_the_uncertainty_of_a_hull_is_never_smaller_than_its_members_together():
    two = [round_mark("A", x=0, y=0, d=20), round_mark("B", x=30, y=0, d=20)]
    shape = repair_shape(two, feather_mm=5.0)

    assert bare_u_mm2(shape, two, [6.0, 8.0]) >= 14.0
    assert bare_u_mm2(shape, two, [6.0, None]) is None
    assert bare_u_mm2(repair_shape(two[:1], feather_mm=5.0), two[:1], [6.0]) == 6.0


@given(st.integers(0, 10**6), st.floats(-180, 180), st.floats(-500, 500), st.floats(-500, 500))
@tries(40)
def test_turning_and_moving_a_shape_changes_nothing(seed, angle, dx, dy):
    outline = blob(seed)
    polygon = Polygon(outline)
    if not polygon.is_valid or polygon.area < 1:
        return
    c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    moved = [(dx + x * c - y * s, dy + x * s + y * c) for x, y in outline]
    first = repair_shape([outlined_mark("A", outline, "x")], feather_mm=8.0)
    second = repair_shape([outlined_mark("A", moved[::-1], "x")], feather_mm=8.0)

    assert second.bare_mm2 == pytest.approx(first.bare_mm2, rel=1e-9)
    assert second.footprint_mm2 == pytest.approx(first.footprint_mm2, rel=1e-4)
