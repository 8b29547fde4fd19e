"""How large is a repair once it is prepared: its bare steel, its footprint, and how near it comes to a keep-out?

>>> from .marked import round_mark
>>> two = repair_shape([round_mark("A", x=0, y=0, d=20), round_mark("B", x=40, y=0, d=20)], feather_mm=10.0)
>>> round(two.bare_mm2, 1), round(20 * 40 + 3.14159265 * 10**2, 1)     # a stadium
(1114.2, 1114.2)
>>> round(two.footprint_mm2, 0), round(40 * 40 + 3.14159265 * 20**2, 0)
(2857.0, 2857.0)
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import shapely
from shapely.geometry import Point, Polygon
from shapely.ops import unary_union

from .marked import Mark

# Segments for a quarter of a rounded corner when a shape is grown. A corner's sector loses
# (π/2/SEGMENTS)²/6 = 0.0025 % of its area at 128; straight edges lose nothing. An outline of more than
# SEGMENTS_UP_TO points gets fewer, down to 64: between its many points the corners are small.
SEGMENTS, SEGMENTS_UP_TO = 128, 400


@dataclass(frozen=True)
class RepairShape:
    """Bare steel and footprint of one repair, mm and mm². ``footprint`` is None when no feather is set.

    ``circle`` is (x, y, radius) of a repair that is one circle: its areas and distances are then exact.
    """

    bare: Polygon
    footprint: Polygon | None
    bare_mm2: float
    footprint_mm2: float | None
    feather_mm: float | None = None
    circle: tuple[float, float, float] | None = None

    def bare_apart_mm(self, other: Any) -> float:
        """Distance from the bare edge to a keep-out shape, 0 when they touch or overlap."""
        return self._apart_mm(self.bare, 0.0, other)

    def footprint_apart_mm(self, other: Any) -> float:
        """Distance from the footprint to a keep-out shape; from the bare edge when no feather is set."""
        return self._apart_mm(self.footprint or self.bare, self.feather_mm or 0.0, other)

    def _apart_mm(self, shape: Polygon, grown_by: float, other: Any) -> float:
        if self.circle:
            x, y, radius = self.circle
            return max(0.0, float(Point(x, y).distance(other)) - radius - grown_by)
        return float(shape.distance(other))


def repair_shape(members: Sequence[Mark], *, feather_mm: float | None) -> RepairShape:
    """One member keeps its own outline; several share their convex hull; the footprint is that, grown by the feather.

    The footprint of one circle is π(r + f)², of anything else the area of the grown polygon (``SEGMENTS``).
    """
    lone = members[0] if len(members) == 1 else None
    bare = lone.shape if lone else unary_union([m.shape for m in members]).convex_hull
    footprint = None if feather_mm is None else grown(bare, feather_mm)
    footprint_mm2 = None if footprint is None else footprint.area
    circle = lone.circle if lone else None
    if circle and feather_mm is not None:
        footprint_mm2 = math.pi * (circle[2] + feather_mm) ** 2
    return RepairShape(bare, footprint, lone.area_mm2 if lone else bare.area, footprint_mm2, feather_mm, circle)


def grown(shape: Polygon, by_mm: float) -> Polygon:
    """A shape grown all round by ``by_mm`` ≥ 0, corners rounded."""
    if by_mm == 0:
        return shape
    points = shapely.get_num_coordinates(shape)
    return shape.buffer(by_mm, quad_segs=max(64, min(SEGMENTS, SEGMENTS * SEGMENTS_UP_TO // points)))


def bare_u_mm2(shape: RepairShape, members: Sequence[Mark], u_mm2: Sequence[float | None]) -> float | None:
    """Standard uncertainty of the bare area; None when one member's was not stated.

    One member: its own. Several: the larger of the plain sum of the members' (they were measured with
    one scale, so their errors go together; JCGM 100:2008, 5.2.2, full correlation) and of the worst
    shift of any member's edge carried around the whole hull.
    """
    stated = [u for u in u_mm2 if u is not None]
    if len(stated) < len(u_mm2):
        return None
    if len(members) == 1:
        return stated[0]
    worst_shift = max(u / mark.shape.length for u, mark in zip(stated, members))
    return float(max(sum(stated), worst_shift * shape.bare.length))


def edge_u_mm(bare: Polygon, u_mm2: float | None) -> float | None:
    """The shift of the whole edge that would explain the area's uncertainty: u_A / perimeter, mm.

    Own estimate: a photo's scale and a person's eye move an outline in or out as a whole.
    """
    return None if u_mm2 is None else u_mm2 / bare.length
