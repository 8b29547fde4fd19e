"""Layers, volumes and powder against closed forms."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import Point, Polygon

from soundedge.basis.errors import Contradiction, OutOfRange
from soundedge.buildup.section import disc, disc_volumes, grown, layers, oval, powder, volumes

from ..tries import tries


@pytest.mark.parametrize(
    "depth, over, most, count", [(900, 150, 300, 4), (900, 0, 300, 3), (900, 0.1, 300, 4), (50, 0, 300, 1), (900, 150, 1050, 1)]
)
def test_the_layers_are_the_fewest_that_keep_the_limit(depth, over, most, count):
    plan = layers(depth_um=depth, target_um=depth, overbuild_um=over, layer_max_um=most)

    assert plan.count == count
    assert plan.count * plan.layer_um == pytest.approx(depth + over)
    assert plan.layer_um <= most + 1e-9


def test_a_thousandth_of_rounding_does_not_cost_a_layer():
    assert layers(depth_um=0.1 * 3 * 1000, target_um=300, overbuild_um=0, layer_max_um=100).count == 3


def test_the_film_is_sanded_flush_and_never_below_the_target():
    """Parent of 1000 µm, target 900: flush takes the overbuild off, the target would allow 100 µm more."""
    lower = layers(depth_um=1000, target_um=900, overbuild_um=150, layer_max_um=300)
    higher = layers(depth_um=800, target_um=900, overbuild_um=150, layer_max_um=300)

    assert (lower.removal_um, lower.removal_most_um) == (150, 250)
    assert (higher.removal_um, higher.removal_most_um) == (50, 50)


def test_a_build_that_does_not_reach_the_target_is_refused_with_what_would():
    with pytest.raises(Contradiction, match=r"build 750 µm.*at least 300 µm"):
        layers(depth_um=600, target_um=900, overbuild_um=150, layer_max_um=300)


def test_a_thousand_layers_are_refused():
    with pytest.raises(OutOfRange, match="at most 200"):
        layers(depth_um=9000, target_um=9000, overbuild_um=0, layer_max_um=20)


@given(st.floats(1, 300), st.floats(0, 100), st.floats(20, 5000))
@tries()
def test_fill_and_taper_of_a_circle_are_a_cone_frustum(d, feather, depth):
    """V = π·h/3·(R² + R·r + r²) (elementary geometry): the closed form, and the general one on the drawn circle.

    The drawn circle has the exact area; its perimeter is 0.0025 % long, which the taper sees.
    """
    r, big, h = d / 2, d / 2 + feather, depth / 1000
    frustum = math.pi * h / 3 * (big**2 + big * r + r**2)
    exact = disc_volumes(d, depth_um=depth, feather_mm=feather, overbuild_um=0)
    drawn = volumes(disc(d), depth_um=depth, feather_mm=feather, overbuild_um=0)

    assert exact.fused_mm3 == pytest.approx(frustum, rel=1e-12)
    assert drawn.fused_mm3 == pytest.approx(frustum, rel=5e-5)
    assert drawn.footprint_mm2 == pytest.approx(exact.footprint_mm2, rel=5e-5)


def test_the_overbuild_lies_over_the_whole_footprint():
    v = disc_volumes(30, depth_um=900, feather_mm=15, overbuild_um=150)

    assert v.overbuild_mm3 == pytest.approx(math.pi * 30**2 * 0.15)
    assert v.fill_mm3 == pytest.approx(math.pi * 15**2 * 0.9)


def test_the_taper_around_a_square_is_four_wedges_and_one_cone():
    """50 × 50, feather 10, depth 1 mm: four wedges of ½·50·10·1 and the four quarters of a cone π·10²·1/3."""
    v = volumes(Polygon([(0, 0), (50, 0), (50, 50), (0, 50)]), depth_um=1000, feather_mm=10, overbuild_um=0)

    assert v.taper_mm3 == pytest.approx(4 * 250 + math.pi * 100 / 3, rel=1e-12)


def test_the_taper_around_an_ellipse_follows_steiner():
    """Perimeter of the ellipse 62 × 31 by the complete elliptic integral, as SciPy has it."""
    from scipy.special import ellipe

    a, b, f = 31.0, 15.5, 12.0
    perimeter = 4 * a * ellipe(1 - (b / a) ** 2)
    v = volumes(oval(2 * a, 2 * b, 30.0), depth_um=900, feather_mm=f, overbuild_um=0)

    assert v.bare_mm2 == pytest.approx(math.pi * a * b, rel=1e-9)
    assert v.taper_mm3 == pytest.approx(0.9 * (perimeter * f / 2 + math.pi * f * f / 3), rel=1e-4)


def test_the_taper_of_a_ring_is_the_outer_cone_and_the_inner_one():
    """Annulus 60/40 mm across, feather 8: outside the frustum ring, inside h·(2πr·f/2 − π·f²/3).

    Integrated by distance, for it is not convex. Tolerance 1e-4: the drawn circles have 256 corners.
    """
    ring = Polygon(disc(60).exterior, [disc(40).exterior])
    f, h = 8.0, 0.9
    outside = h * (2 * math.pi * 30 * f / 2 + math.pi * f * f / 3)
    inside = h * (2 * math.pi * 20 * f / 2 - math.pi * f * f / 3)

    assert volumes(ring, depth_um=900, feather_mm=f, overbuild_um=0).taper_mm3 == pytest.approx(outside + inside, rel=1e-4)


def test_the_taper_of_an_angle_agrees_with_a_count_of_grid_points():
    """An L of 60 × 60 with arms of 20, feather 10, against the mean height over a 0.25 mm grid."""
    shape = Polygon([(0, 0), (60, 0), (60, 20), (20, 20), (20, 60), (0, 60)])
    import shapely

    step = 0.25
    x, y = np.meshgrid(np.arange(-10.875, 71, step), np.arange(-10.875, 71, step))
    away = shapely.distance(shapely.points(x.ravel(), y.ravel()), shape)
    counted = np.clip(1 - away[away > 0] / 10.0, 0, None).sum() * step * step * 0.9

    got = volumes(shape, depth_um=900, feather_mm=10, overbuild_um=0).taper_mm3

    assert got == pytest.approx(counted, rel=1e-3)


def test_without_a_feather_there_is_no_taper():
    v = volumes(disc(30), depth_um=900, feather_mm=0, overbuild_um=100)

    assert v.taper_mm3 == 0 and v.footprint_mm2 == v.bare_mm2


def test_the_powder_is_the_film_and_what_is_lost_on_the_way():
    """1000 mm³ at 1680 kg/m³ is 1.68 g; of 2.1 g weighed out a fifth is lost and 1.68 g stay."""
    p = powder(1000.0, 250.0, density_kg_m3=1680, packing=0.5, loss_fraction=0.2)

    assert p.fused_g == pytest.approx(1.68)
    assert p.powder_g == pytest.approx(2.1)
    assert p.powder_g * (1 - 0.2) == pytest.approx(p.fused_g)
    assert p.loose_ml == pytest.approx(2.1 / 1.68 / 0.5)
    assert p.loose_layer_um == 500.0


@given(st.floats(0, 0.9), st.floats(0, 0.9))
def test_more_loss_never_needs_less_powder(a, b):
    low, high = sorted((a, b))

    assert (powder(1.0, 1.0, density_kg_m3=1000, packing=0.5, loss_fraction=low).powder_g
            <= powder(1.0, 1.0, density_kg_m3=1000, packing=0.5, loss_fraction=high).powder_g)


def test_a_grown_shape_holds_every_point_within_the_distance():
    shape = Polygon([(0, 0), (60, 0), (60, 20), (20, 20), (20, 60), (0, 60)])
    edge = grown(shape, 10.0).exterior

    away = [Point(p).distance(shape) for p in edge.coords]

    assert min(away) > 9.99 and max(away) < 10.0001
