"""What exactly was marked on the part: one defect as a shape with an area, a greatest dimension, and gaps to others.

>>> a = round_mark("A", x=0, y=0, d=30.0)
>>> b = round_mark("B", x=50, y=0, d=10.0)
>>> round(a.area_mm2, 6), a.greatest_mm, gap_mm(a, b)
(706.858347, 30.0, 30.0)
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from shapely import get_num_coordinates
from shapely.geometry import Polygon

from ..basis.errors import OutOfRange, Unreadable
from ..basis.sentences import say

# Points on a drawn circle or ellipse. The polygon is stretched so that its area is the exact one;
# its corners then stand 0.005 % of the radius outside the true curve (0.0008 mm at 15 mm).
CURVE_POINTS = 256
TANGLE_MAX = 12_000
_STRETCH = math.sqrt((2 * math.pi / CURVE_POINTS) / math.sin(2 * math.pi / CURVE_POINTS))


@dataclass(frozen=True)
class Mark:
    """One defect's shape on the part, mm. ``circle`` is (x, y, radius) when it was given as one."""

    id: str
    shape: Polygon
    area_mm2: float
    greatest_mm: float
    circle: tuple[float, float, float] | None = None


def round_mark(name: str, *, x: float, y: float, d: float) -> Mark:
    """A circle of diameter ``d``, mm."""
    return Mark(name, curve(x, y, d, d, 0.0), math.pi * d * d / 4, d, (x, y, d / 2))


def oval_mark(name: str, *, x: float, y: float, a: float, b: float, angle_deg: float) -> Mark:
    """An ellipse of full axes ``a`` and ``b``, mm; area π·a·b/4."""
    return Mark(name, curve(x, y, a, b, angle_deg), math.pi * a * b / 4, max(a, b))


def outlined_mark(name: str, outline: Sequence[tuple[float, float]], field: str) -> Mark:
    """A defect drawn by hand.

    Raises
    ------
    Unreadable
        The outline crosses or touches itself: it does not say which side is inside.
    """
    shape = simple_polygon(outline, what=say("disposition.outline_of_defect", defect=name), field=field)
    return Mark(name, shape, shape.area, greatest_dimension_mm(shape))


Points = Sequence[tuple[float, float]]


def simple_polygon(outline: Points, *, what: str, field: str, holes: Sequence[Points] = ()) -> Polygon:
    """A polygon that does not cross itself, or Unreadable with the place where it does."""
    from shapely import is_valid_reason

    shape = Polygon(outline, holes)
    if not shape.is_valid:
        reason = is_valid_reason(shape)
        place = reason.partition("[")[2].rstrip("]").split()
        near = say("basis.near", x=float(place[0]), y=float(place[1])) if len(place) >= 2 else ""
        raise Unreadable(field, say("disposition.outline_crosses_itself", what=what, near=near))
    return shape


def curve(x: float, y: float, a: float, b: float, angle_deg: float) -> Polygon:
    """An ellipse as a polygon of exactly its area; full axes, mm."""
    t = 2 * math.pi * np.arange(CURVE_POINTS) / CURVE_POINTS
    u, v = a / 2 * _STRETCH * np.cos(t), b / 2 * _STRETCH * np.sin(t)
    c, s = math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))
    return Polygon(np.column_stack([x + u * c - v * s, y + u * s + v * c]))


def greatest_dimension_mm(shape: Polygon) -> float:
    """The longest distance between two points of a shape: between two corners of its convex hull."""
    hull = shape.convex_hull
    points = np.asarray(hull.exterior.coords if hasattr(hull, "exterior") else hull.coords)[:, :2]
    longest = 0.0
    for start in range(0, len(points), 512):  # in slices, so that 5 000 corners need little memory
        part = points[start:start + 512]
        apart = (part[:, None, 0] - points[None, :, 0]) ** 2 + (part[:, None, 1] - points[None, :, 1]) ** 2
        longest = max(longest, float(apart.max()))
    return math.sqrt(longest)


def gap_mm(one: Mark, other: Mark) -> float:
    """Distance from edge to edge, 0 when they overlap; exact between two circles."""
    if one.circle and other.circle:
        (xa, ya, ra), (xb, yb, rb) = one.circle, other.circle
        return max(0.0, math.hypot(xa - xb, ya - yb) - ra - rb)
    return float(one.shape.distance(other.shape))


def refuse_tangle(shape: Any, reach_mm: float, *, what: str, field: str) -> None:
    """Refuse an outline that runs to and fro so densely that growing it would take minutes.

    The measure is its number of points times how often its edge, widened by ``reach_mm``, would cover its own
    surroundings. A smooth outline of 5 000 points scores some thousands; nobody marks one above ``TANGLE_MAX``.
    """
    around = shape.convex_hull
    room = around.area + around.length * reach_mm + 1.0
    score = get_num_coordinates(shape) * max(1.0, shape.length * reach_mm / room)
    if score > TANGLE_MAX:
        raise OutOfRange(
            field,
            say("basis.outline_too_ragged", what=what, n=get_num_coordinates(shape), length_mm=shape.length,
                area_mm2=shape.area),
        )
