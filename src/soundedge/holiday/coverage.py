"""Where did the electrode go, and which places did it leave out?

>>> square = [(0.0, 0.0), (100.0, 0.0), (100.0, 100.0), (0.0, 100.0)]
>>> seen = covered(square, [([(0.0, 25.0), (100.0, 25.0)], 50.0)])
>>> seen.pct, [(round(x), round(y), round(a)) for x, y, a in seen.left_out]
(50.0, [(50, 75, 5000)])
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

Point = tuple[float, float]
LEFT_OUT_MAX = 20


@dataclass(frozen=True)
class Covered:
    """Share of the zone under the electrode, %; the places left out as (x, y, mm²), largest first."""

    pct: float
    left_out: tuple[tuple[float, float, float], ...]


def simple(outline: Sequence[Point]) -> bool:
    """Whether an outline does not cross itself."""
    from shapely.geometry import Polygon

    return bool(Polygon(outline).is_valid)


def inside(outline: Sequence[Point], x: float, y: float) -> bool:
    """Whether a place lies in the outline or on it, within 1 mm."""
    from shapely.geometry import Point as Place
    from shapely.geometry import Polygon

    return bool(Polygon(outline).distance(Place(x, y)) <= 1.0)


def covered(outline: Sequence[Point], tracks: Sequence[tuple[Sequence[Point], float]]) -> Covered:
    """The area map of one zone.

    Parameters
    ----------
    outline : points of a simple outline, mm
    tracks : list of (points, width)
        Each track is the middle of the electrode as it was drawn along, mm; width is its contact width
        across the travel, mm. The ends are square: nothing is counted before the first or after the last point.
        Corners are round.

    Returns
    -------
    Covered
        Specks under 1 mm² that arithmetic leaves along joints are not listed.
    """
    import numpy as np
    import shapely

    zone = shapely.Polygon(outline)
    strips = []
    for points, width in tracks:
        way = np.asarray(points, dtype=float)
        strokes = shapely.linestrings(np.stack([way[:-1], way[1:]], axis=1))
        # stroke by stroke: one long line that crosses itself takes minutes to widen, its pieces take moments
        strips.append(shapely.buffer(strokes, width / 2.0, cap_style="flat"))
        strips.append(shapely.buffer(shapely.points(way[1:-1]), width / 2.0, quad_segs=16))
    left: Any = shapely.difference(zone, shapely.union_all(np.concatenate(strips))) if strips else zone
    parts = [part for part in getattr(left, "geoms", [left]) if part.area >= 1.0]
    parts.sort(key=lambda part: -part.area)
    places = []
    for part in parts[:LEFT_OUT_MAX]:
        middle = part.representative_point()
        places.append((float(middle.x), float(middle.y), float(part.area)))
    missing = sum(part.area for part in parts)
    return Covered(100.0 * (1.0 - missing / zone.area) if missing else 100.0, tuple(places))
