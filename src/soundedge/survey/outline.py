"""How large, how long and how wide is an outlined place?

>>> square = [(0.0, 0.0), (25.4, 0.0), (25.4, 25.4), (0.0, 25.4)]
>>> m = measured(square)
>>> round(m.area_mm2, 6), round(m.perimeter_mm, 6), round(m.length_mm, 3), round(m.width_mm, 3)
(645.16, 101.6, 35.921, 35.921)
>>> hole = [(5.0, 5.0), (15.0, 5.0), (15.0, 15.0), (5.0, 15.0)]
>>> round(measured(square, [hole]).area_mm2, 6)
545.16
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

Points = Sequence[tuple[float, float]]

SMOOTH_TURN_DEG = 50.0  # a sharper turn at a tap is a true corner of the damage, not a curve cut short


@dataclass(frozen=True)
class Shape:
    """Measures of one outlined place, mm and mm². ``length_mm``: the longest distance across;
    ``width_mm``: the extent square to it; ``perimeter_mm``: with the edges of holes; ``cut_mm2``: how much a smooth
    edge through the taps would enclose beyond the straight lines between them (negative for hollows)."""

    area_mm2: float
    perimeter_mm: float
    length_mm: float
    width_mm: float
    centroid_mm: tuple[float, float]
    cut_mm2: float
    tap_lever_mm2: float


def measured(outline: Points, holes: Sequence[Points] = ()) -> Shape:
    """Measures of an outline with holes; the outline does not cross itself and holds its holes.

    Area by the shoelace sum, never by counting pixels. ``tap_lever_mm2`` is √Σ(½|p₊ − p₋|)²: an error of one
    millimetre across the edge at every tap, independent of each other, moves the area by that much.
    """
    rings = [outline, *holes]
    area = _signed(outline) - sum(_signed(hole) for hole in holes)
    moment_x = moment_y = 0.0
    x0, y0 = outline[0]
    for ring, sign in zip(rings, (1.0, *(-1.0 for _ in holes))):
        turn = sign * math.copysign(1.0, _twice(ring))
        for (xa, ya), (xb, yb) in _sides(ring):
            cross = (xa - x0) * (yb - y0) - (xb - x0) * (ya - y0)
            moment_x += turn * cross * (xa + xb - 2 * x0)
            moment_y += turn * cross * (ya + yb - 2 * y0)
    centroid = (x0 + moment_x / (6 * area), y0 + moment_y / (6 * area))
    length, width = _across(outline)
    return Shape(
        area_mm2=area,
        perimeter_mm=sum(math.dist(a, b) for ring in rings for a, b in _sides(ring)),
        length_mm=length,
        width_mm=width,
        centroid_mm=centroid,
        cut_mm2=_cut(outline) - sum(_cut(hole) for hole in holes),
        tap_lever_mm2=tap_lever_mm2(rings),
    )


def tap_lever_mm2(rings: Sequence[Points]) -> float:
    """√Σ(½|p₊ − p₋|)² over the taps of all rings, mm² for each mm across the edge; see ``measured``."""
    return math.sqrt(sum(_lever2(ring) for ring in rings))


def curve_through(taps: Points, step_mm: float = 0.5) -> list[tuple[float, float]]:
    """A smooth closed curve through taps (centripetal Catmull–Rom), as points about ``step_mm`` apart."""
    n = len(taps)
    out: list[tuple[float, float]] = []
    for i in range(n):
        p = [taps[(i + k) % n] for k in (-1, 0, 1, 2)]
        t = [0.0]
        for a, b in pairwise(p):
            t.append(t[-1] + max(math.dist(a, b), 1e-9) ** 0.5)
        pieces = max(1, math.ceil(math.dist(p[1], p[2]) / step_mm))
        for k in range(pieces):
            out.append(_catmull_rom(p, t, t[1] + (t[2] - t[1]) * k / pieces))
    return out


def _catmull_rom(p: Sequence[tuple[float, float]], t: Sequence[float], at: float) -> tuple[float, float]:
    def mix(a: tuple[float, float], b: tuple[float, float], ta: float, tb: float) -> tuple[float, float]:
        w = (at - ta) / (tb - ta)
        return a[0] + (b[0] - a[0]) * w, a[1] + (b[1] - a[1]) * w

    a1, a2, a3 = (mix(p[i], p[i + 1], t[i], t[i + 1]) for i in range(3))
    return mix(mix(a1, a2, t[0], t[2]), mix(a2, a3, t[1], t[3]), t[1], t[2])


def path_length_mm(path: Points) -> float:
    """Length of an open line."""
    return sum(math.dist(a, b) for a, b in pairwise(path))


def _sides(ring: Points) -> Iterable[tuple[tuple[float, float], tuple[float, float]]]:
    return zip(ring, (*ring[1:], ring[0]))


def _twice(ring: Points) -> float:
    x0, y0 = ring[0]
    return float(sum((xa - x0) * (yb - y0) - (xb - x0) * (ya - y0) for (xa, ya), (xb, yb) in _sides(ring)))


def _signed(ring: Points) -> float:
    return abs(_twice(ring)) / 2


def _across(outline: Points) -> tuple[float, float]:
    """Longest distance between two points, and the extent square to it."""
    import numpy as np

    points = np.asarray(outline, float)
    if len(points) > 60:
        from scipy.spatial import ConvexHull

        points = points[ConvexHull(points).vertices]
    far2, pair = -1.0, (0, 0)
    for start in range(0, len(points), 256):  # a few rows of the table at a time: it is square
        rows = ((points[start : start + 256, None] - points[None]) ** 2).sum(axis=2)
        i, j = np.unravel_index(int(rows.argmax()), rows.shape)
        if rows[i, j] > far2:
            far2, pair = float(rows[i, j]), (start + int(i), int(j))
    gap = points[pair[0]] - points[pair[1]]
    length = float(np.hypot(*gap))
    direction = gap / length
    square = points @ np.array([-direction[1], direction[0]])
    return length, float(square.max() - square.min())


def _turns(ring: Points) -> list[float]:
    """Turning angle at every point, positive to the inner side."""
    way = math.copysign(1.0, _twice(ring))
    n = len(ring)
    out = []
    for i in range(n):
        (xa, ya), (xb, yb), (xc, yc) = ring[i - 1], ring[i], ring[(i + 1) % n]
        u, v = (xb - xa, yb - ya), (xc - xb, yc - yb)
        out.append(way * math.atan2(u[0] * v[1] - u[1] * v[0], u[0] * v[0] + u[1] * v[1]))
    return out


def _cut(ring: Points) -> float:
    """Sum of the slices between chords and a smooth edge: c²·θ/12 for a chord c over which the edge turns by θ."""
    turns = _turns(ring)
    sharp = math.radians(SMOOTH_TURN_DEG)
    total = 0.0
    for i, (a, b) in enumerate(_sides(ring)):
        before, after = turns[i], turns[(i + 1) % len(ring)]
        smooth = [turn for turn in (before, after) if abs(turn) <= sharp]
        total += math.dist(a, b) ** 2 * sum(smooth) / 2 / 12
    return total


def _lever2(ring: Points) -> float:
    n = len(ring)
    return sum((0.5 * math.dist(ring[i - 1], ring[(i + 1) % n])) ** 2 for i in range(n))
