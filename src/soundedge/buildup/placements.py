"""Where does each placement go, from the outside inwards, so that no place is left uncovered?

A placement is a round patch of hot air or powder. Rings are drawn inside the footprint's edge and set
with placements no further apart than the overlap asks for; whatever the rings leave is filled, and the
result is measured: footprint minus all placements must be nothing.

>>> from .section import disc
>>> placed = place(disc(60.0), d_mm=12.0, overlap=0.2)
>>> placed.coverage_pct, placed.spots[0].ring, placed.spots[-1].ring
(100.0, 0, 3)
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from shapely import STRtree, distance
from shapely import points as shapely_points
from shapely.geometry import Point
from shapely.ops import unary_union

from ..basis.errors import OutOfRange
from ..basis.quantity import shown
from ..basis.remembered import remembered
from ..basis.sentences import say

PLACEMENTS_MAX = 3000
# Planned with a patch this much smaller than the real one, so that a hand a little off still covers.
PLANNED_SHARE = 0.985
# Rings stand this much closer than straight-line geometry allows, for the curve of small rings.
RING_SHARE = 0.97
SLIVER_MM2 = 1e-7


@dataclass(frozen=True)
class Spot:
    """One placement: centre, mm, and the ring it belongs to (0 is the outermost)."""

    x: float
    y: float
    ring: int


@dataclass(frozen=True)
class Placed:
    """Placements in working order; ``coverage_pct`` measured; ``spill_mm`` how far they reach past the footprint."""

    spots: list[Spot]
    r_mm: float
    coverage_pct: float
    spill_mm: float


@remembered(32, key=lambda footprint, *, d_mm, overlap: (footprint.wkb, d_mm, overlap))
def place(footprint: Any, *, d_mm: float, overlap: float) -> Placed:
    """Cover a footprint with round placements, outermost ring first.

    Parameters
    ----------
    footprint : Polygon
        mm; may have holes and need not be convex.
    d_mm : float
        Diameter of one placement, above 0.
    overlap : float
        Two neighbours' centres are at most ``d_mm·(1 − overlap)`` apart; 0 to 0.9.

    Raises
    ------
    OutOfRange
        More than ``PLACEMENTS_MAX`` would be needed.
    """
    r = d_mm / 2 * PLANNED_SHARE
    step = min(d_mm * (1 - overlap), math.sqrt(2.0) * r)  # along a ring
    half = math.sqrt(r * r - step * step / 4)  # what a ring covers to either side
    ring_step = min(2 * half * RING_SHARE, d_mm * (1 - overlap))
    inset = min(half * RING_SHARE, ring_step)
    needed = footprint.area / (step * ring_step) + footprint.length / step / 2
    if needed > PLACEMENTS_MAX:
        raise OutOfRange(
            "placement_d_mm",
            say("buildup.too_many_placements_expected", area_mm2=footprint.area, n=needed, d_mm=d_mm,
                overlap=shown(overlap), most=PLACEMENTS_MAX),
        )
    spots = _rings(footprint, inset, ring_step, step, half)
    spots = _filled(footprint, spots, r, inset, ring_step)
    spots = _linked(spots, d_mm * (1 - overlap))
    if len(spots) > PLACEMENTS_MAX:
        raise OutOfRange("placement_d_mm", say("buildup.too_many_placements", n=len(spots), most=PLACEMENTS_MAX))
    spots = _in_order(spots)
    covered = _union(spots, d_mm / 2)
    left = footprint.difference(covered).area
    return Placed(spots, d_mm / 2, 100.0 * (1.0 - left / footprint.area), _spill_mm(footprint, spots, d_mm / 2))


def _rings(footprint: Any, inset: float, ring_step: float, step: float, half: float) -> list[Spot]:
    spots: list[Spot] = []
    ring = 0
    while True:
        core = footprint.buffer(-(inset + ring * ring_step), quad_segs=16)
        if core.is_empty:
            break
        for part in getattr(core, "geoms", [core]):
            for line in (part.exterior, *part.interiors):
                # the outer side of a band is longer than its middle, at most by a full turn of its half width
                count = max(1, math.ceil((line.length + 2 * math.pi * half) / step))
                for i in range(count):
                    at = line.interpolate(line.length * i / count)
                    spots.append(Spot(at.x, at.y, ring))
        ring += 1
    if not spots:
        at = footprint.centroid if footprint.contains(footprint.centroid) else footprint.representative_point()
        spots.append(Spot(at.x, at.y, 0))
    return spots


def _filled(footprint: Any, spots: list[Spot], r: float, inset: float, ring_step: float) -> list[Spot]:
    """Fill whatever the rings leave, piece by piece, until nothing is left."""
    left = footprint.difference(_union(spots, r))
    edge = footprint.boundary.simplify(r / 250)  # good enough to tell one ring from the next
    while len(spots) <= PLACEMENTS_MAX:
        pieces = [p for p in getattr(left, "geoms", [left]) if p.area > SLIVER_MM2]
        if not pieces:
            break
        added = []
        for piece in pieces:
            at = piece.centroid
            if not footprint.contains(at) or piece.distance(at) > r / 2:
                at = piece.representative_point()
            ring = max(0, round((edge.distance(at) - inset) / ring_step))
            added.append(Spot(at.x, at.y, ring))
        spots = spots + added
        left = left.difference(_union(added, r))
    return spots


def _linked(spots: list[Spot], most_mm: float) -> list[Spot]:
    """Every placement has a neighbour within ``most_mm``; where none is, one is set on the way to the nearest."""
    while 1 < len(spots) <= PLACEMENTS_MAX:
        xy = np.array([(s.x, s.y) for s in spots])
        centres = shapely_points(xy)
        pairs = STRtree(centres).query(centres, predicate="dwithin", distance=most_mm + 1e-9)
        near = np.bincount(pairs[0], minlength=len(spots)) > 1  # each finds itself
        lone = np.flatnonzero(~near)
        if not len(lone):
            break
        for one in lone:
            apart = np.hypot(*(xy - xy[one]).T)
            apart[one] = math.inf
            other = int(apart.argmin())
            share = min(0.5, most_mm * 0.99 / apart[other])
            x, y = xy[one] + share * (xy[other] - xy[one])
            spots = [*spots, Spot(float(x), float(y), spots[one].ring)]
    return spots


def _in_order(spots: list[Spot]) -> list[Spot]:
    """Ring by ring from the outside; within a ring on to the nearest one not yet placed."""
    out: list[Spot] = []
    last = None
    for ring in sorted({s.ring for s in spots}):
        rest = [s for s in spots if s.ring == ring]
        xy = np.array([(s.x, s.y) for s in rest])
        free = np.ones(len(rest), dtype=bool)
        here = xy[0] if last is None else last
        for _ in rest:
            apart = np.where(free, np.hypot(*(xy - here).T), math.inf)
            nearest = int(apart.argmin())
            free[nearest] = False
            here = xy[nearest]
            out.append(rest[nearest])
        last = here
    return out


def _spill_mm(footprint: Any, spots: list[Spot], r_mm: float) -> float:
    """How far the placements reach past the footprint at most, to about 1 % of the radius, mm."""
    tolerance = r_mm / 250
    edge, inside = footprint.boundary.simplify(tolerance), footprint.buffer(-tolerance / 2).simplify(tolerance)
    centres = shapely_points([(s.x, s.y) for s in spots])
    away = np.asarray(distance(centres, edge))
    within = np.asarray(distance(centres, inside)) <= tolerance
    return max(0.0, float((r_mm - np.where(within, away, -away)).max()))


def _union(spots: list[Spot], r: float) -> Any:
    return unary_union([Point(s.x, s.y).buffer(r, quad_segs=16) for s in spots])
