"""Every place of the footprint is covered, every placement has a neighbour, and the work goes inwards."""

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import Point, Polygon
from shapely.ops import unary_union

from soundedge.basis.errors import OutOfRange
from soundedge.buildup.placements import PLACEMENTS_MAX, place
from soundedge.buildup.section import disc, grown

from ..tries import tries


def blob(seed, points=30, size=30.0):
    draw = np.random.default_rng(seed)
    turn = 2 * math.pi * np.arange(points) / points
    reach = size * (1 + 0.8 * sum(draw.normal() * np.cos(m * turn + draw.uniform(0, 6)) / m for m in range(1, 5)))
    reach = np.clip(reach, 4, 2.5 * size)
    return Polygon(np.column_stack([reach * np.cos(turn), reach * np.sin(turn)]))


def coarse_cover(placed):
    """The placements as coarse inscribed 32-gons: smaller than the real circles, so a stricter check."""
    return unary_union([Point(s.x, s.y).buffer(placed.r_mm, quad_segs=8) for s in placed.spots])


def nearest(placed):
    xy = np.array([(s.x, s.y) for s in placed.spots])
    apart = np.hypot(xy[:, None, 0] - xy[None, :, 0], xy[:, None, 1] - xy[None, :, 1])
    np.fill_diagonal(apart, np.inf)
    return apart.min(axis=1)


FOOTPRINTS = {
    "one placement is enough": disc(5),
    "the usual spot": disc(60),
    "a ring": Polygon(disc(120).exterior, [disc(90).exterior]),
    "an angle": grown(Polygon([(0, 0), (80, 0), (80, 5), (5, 5), (5, 80), (0, 80)]), 6),
    "sharp corners": Polygon([(0, 0), (50, 0), (50, 50), (0, 50)]),
    "a star": Polygon([((40 if i % 2 else 12) * math.cos(i * math.pi / 5),
                        (40 if i % 2 else 12) * math.sin(i * math.pi / 5)) for i in range(10)]),
    "a scratch": Polygon([(0, 0), (150, 0), (150, 0.4), (0, 0.4)]),
    "two pools and a bridge": unary_union([disc(40), disc(40, 60), Polygon([(0, -1), (60, -1), (60, 1), (0, 1)])]),
}


@pytest.mark.parametrize("d, overlap", [(12, 0.2), (12, 0.0), (8, 0.5), (25, 0.75)])
@pytest.mark.parametrize("name", FOOTPRINTS)
def test_the_whole_footprint_is_covered(name, d, overlap):
    footprint = FOOTPRINTS[name]
    placed = place(footprint, d_mm=d, overlap=overlap)

    assert footprint.difference(coarse_cover(placed)).area == pytest.approx(0.0, abs=1e-9)
    assert placed.coverage_pct == pytest.approx(100.0, abs=1e-9)
    if len(placed.spots) > 1:
        assert nearest(placed).max() <= d * (1 - overlap) + 1e-6


@given(st.integers(0, 10**6), st.floats(0, 20), st.floats(6, 30), st.floats(0, 0.6))
@tries(30)
def test_random_blobs_are_covered_too(seed, feather, d, overlap):
    bare = blob(seed)
    footprint = grown(bare, feather)
    try:
        placed = place(footprint, d_mm=d, overlap=overlap)
    except OutOfRange as refused:
        assert "placements" in refused.message
        return

    assert footprint.difference(coarse_cover(placed)).area == pytest.approx(0.0, abs=1e-9)
    assert placed.coverage_pct == pytest.approx(100.0, abs=1e-9)
    assert len(placed.spots) == 1 or nearest(placed).max() < d  # circles that truly overlap
    assert all(footprint.covers(Point(s.x, s.y)) or footprint.distance(Point(s.x, s.y)) < d / 2 for s in placed.spots)


@pytest.mark.parametrize("name", FOOTPRINTS)
def test_the_work_goes_from_the_outside_inwards(name):
    footprint = FOOTPRINTS[name]
    placed = place(footprint, d_mm=12, overlap=0.2)
    rings = [s.ring for s in placed.spots]
    deep = {r: np.mean([footprint.boundary.distance(Point(s.x, s.y)) for s in placed.spots if s.ring == r])
            for r in set(rings)}

    assert rings == sorted(rings) and rings[0] == 0
    assert [deep[r] for r in sorted(deep)] == sorted(deep.values())


def test_on_a_disc_every_ring_lies_wholly_inside_the_one_before():
    placed = place(disc(60), d_mm=12, overlap=0.2)
    out = {}
    for s in placed.spots:
        out.setdefault(s.ring, []).append(math.hypot(s.x, s.y))
    bands = [(min(v), max(v)) for _, v in sorted(out.items())]

    assert all(inner[1] < outer[0] for outer, inner in pairwise(bands))


def test_covering_costs_no_more_than_twice_the_best_possible():
    """The thinnest covering of the plane by circles has density 2π/√27 = 1.2092 (Kershner 1939, from memory).

    Overlap asked for: none. A footprint of 200 mm is wide enough for its edge to weigh little.
    """
    placed = place(disc(200), d_mm=12, overlap=0.0)
    density = len(placed.spots) * math.pi * 36 / (math.pi * 100**2)

    assert 1.2092 <= density < 2 * 1.2092


def test_too_many_placements_are_refused_with_the_number():
    with pytest.raises(OutOfRange, match=rf"needs about \d+ placements.*at most {PLACEMENTS_MAX}"):
        place(disc(2000), d_mm=5, overlap=0.2)


def test_the_check_itself_can_fail():
    """Planted fault: without the innermost placements the middle is bare, and the same check sees it."""
    footprint = disc(60)
    placed = place(footprint, d_mm=12, overlap=0.2)
    kept = unary_union([Point(s.x, s.y).buffer(6) for s in placed.spots if s.ring < 2])

    assert footprint.difference(kept).area > 50
