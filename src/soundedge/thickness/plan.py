"""Where and how often must be read?

>>> pa2_counts(500.0), iso_counts(25.0)
(Pa2Counts(areas=7, spots=35, readings=105), Counts(readings=20, repeats=4))
>>> round(hit_chance(0.56), 4), round(spacing_for(20.0, miss=0.05), 2)
(0.9036, 16.69)
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import Literal, NamedTuple

from .rule_book import Counts, rule


class Pa2Counts(NamedTuple):
    """Areas, spots and single readings that SSPC-PA 2 asks for."""

    areas: int
    spots: int
    readings: int


def pa2_counts(area: float, unit: Literal["m2", "ft2"] = "m2") -> Pa2Counts:
    """How many areas, spots and readings SSPC-PA 2 asks for.

    Up to 30 m² (300 ft²) every 10 m² (100 ft²) or part of it; up to 100 m² (1000 ft²) three areas; one more for each
    further 100 m² (1000 ft²) or part. Five spots to an area, three readings to a spot. ``area`` above 0.
    """
    held = rule("sspc_pa_2")
    areas = held.areas(area if unit == "m2" else area / 10)
    spots = areas * held.spots_per_area
    return Pa2Counts(areas, spots, spots * held.readings_per_spot)


def iso_counts(area_m2: float) -> Counts:
    """How many readings ISO 19840 asks for on an inspection area (m², or m of a narrow part), above 0.

    Each size has its own line up to 100; beyond it ten more for each further 100 or part of it, and 20 %
    of the readings may be repeated.
    """
    return rule("iso_19840").counts(area_m2)


def hit_chance(ratio: float, pattern: Literal["square", "triangular"] = "square") -> float:
    """Chance that a round thin spot holds a point of a grid laid down at random.

    Parameters
    ----------
    ratio : float
        Radius of the spot / spacing of the grid, at least 0.
    pattern : "square" or "triangular"

    Returns
    -------
    float
        0 to 1.

    Notes
    -----
    Area of the disc that falls into one cell, over the cell's area: πρ² while discs about the grid points do not
    overlap, less the overlapping lenses until they cover everything. Gilbert (1987), chapter 10 (memory).
    """
    rho = ratio
    lens = rho * rho * math.acos(min(1.0, 0.5 / rho)) - 0.5 * math.sqrt(max(0.0, rho * rho - 0.25)) if rho > 0.5 else 0.0
    if pattern == "square":
        return 1.0 if rho >= math.sqrt(0.5) else math.pi * rho * rho - 4 * lens
    return 1.0 if rho >= 1 / math.sqrt(3) else (math.pi * rho * rho - 6 * lens) * 2 / math.sqrt(3)


def spacing_for(thin_d_mm: float, *, miss: float, pattern: Literal["square", "triangular"] = "square") -> float:
    """The widest grid that misses a round thin spot of diameter ``thin_d_mm`` with a chance of at most ``miss``. [mm]"""
    low, high = 0.0, 0.75
    for _ in range(80):
        middle = (low + high) / 2
        low, high = (middle, high) if hit_chance(middle, pattern) < 1 - miss else (low, middle)
    return thin_d_mm / 2 / high


def random_points_for(thin_d_mm: float, area_mm2: float, *, miss: float) -> int:
    """How many readings at random places miss the spot with a chance of at most ``miss``: ⌈ln β/ln(1 − a)⌉.

    ``a`` is the share of the area the spot takes; at or above 1 one reading does.
    """
    share = math.pi * thin_d_mm**2 / 4 / area_mm2
    return 1 if share >= 1 else math.ceil(math.log(miss) / math.log1p(-share) - 1e-12)


def grid_points(
    outline: Sequence[tuple[float, float]], spacing_mm: float, pattern: Literal["square", "triangular"] = "square"
) -> list[tuple[float, float]]:
    """The points of a grid that lie inside an outline, row by row, centred on the outline's box; at least one.

    Lines are at most ``spacing_mm`` apart (rows √3/2 of it in the triangular pattern, every second one shifted by
    half), and half a step from the box's sides.
    """
    xs, ys = [p[0] for p in outline], [p[1] for p in outline]
    x0, x1, y0, y1 = min(xs), max(xs), min(ys), max(ys)
    rise = spacing_mm if pattern == "square" else spacing_mm * math.sqrt(3) / 2
    rows, columns = max(1, math.ceil((y1 - y0) / rise - 1e-9)), max(1, math.ceil((x1 - x0) / spacing_mm - 1e-9))
    # drawn together a little so that the last line lies as far from the edge as the first
    rise, run = (y1 - y0) / rows, (x1 - x0) / columns
    points = []
    for r in range(rows):
        shift = run / 2 if pattern == "triangular" and r % 2 else 0.0
        for c in range(-1, columns + 1):
            x, y = x0 + (c + 0.5) * run + shift, y0 + (r + 0.5) * rise
            if inside(outline, x, y):
                points.append((x, y))
    return points or [_middle(outline)]


def inside(outline: Sequence[tuple[float, float]], x: float, y: float) -> bool:
    """Whether a point lies inside an outline (even-odd rule)."""
    within = False
    for (xa, ya), (xb, yb) in zip(outline, [*outline[1:], outline[0]]):
        if (ya > y) != (yb > y) and x < (xb - xa) * (y - ya) / (yb - ya) + xa:
            within = not within
    return within


def _middle(outline: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """A point inside an outline: the middle of the longest stretch on a level that cuts it."""
    ys = sorted({p[1] for p in outline})
    best = (0.0, outline[0])
    for low, high in pairwise(ys):
        y = (low + high) / 2
        cuts = sorted(
            (xb - xa) * (y - ya) / (yb - ya) + xa
            for (xa, ya), (xb, yb) in zip(outline, [*outline[1:], outline[0]]) if (ya > y) != (yb > y)
        )
        for left, right in zip(cuts[::2], cuts[1::2]):
            if right - left > best[0]:
                best = (right - left, ((left + right) / 2, y))
    return best[1]


class Ring(NamedTuple):
    """Readings in one ring of a small repair: what it is, how many, and where (x, y, mm)."""

    where: str
    readings: int
    points: list[tuple[float, float]]


def repair_plan(x: float, y: float, bare_d_mm: float, feather_mm: float, parent_mm: float = 15.0) -> list[Ring]:
    """Readings for a repair smaller than one spot: inside it, on the overlap ring, on the parent ring outside.

    Parameters
    ----------
    x, y, bare_d_mm : float [mm]
        Middle and diameter of the place that was bare.
    feather_mm : float [mm]
        Width of the overlap on the old lining, above 0.
    parent_mm : float [mm]
        How far outside the overlap the old lining is read.

    Returns
    -------
    list of Ring
        Six readings on the repair (one in the middle, five at 0.6 of the radius), eight half way over the overlap, where
        new film is thinnest on old, and four on the parent lining. House rule.
    """
    def round_about(count: int, radius: float, turn: float = 0.0) -> list[tuple[float, float]]:
        return [(x + radius * math.cos(2 * math.pi * i / count + turn), y + radius * math.sin(2 * math.pi * i / count + turn))
                for i in range(count)]

    bare = bare_d_mm / 2
    return [
        Ring("repair", 6, [(x, y), *round_about(5, 0.6 * bare, math.pi / 2)]),
        Ring("overlap", 8, round_about(8, bare + feather_mm / 2)),
        Ring("parent", 4, round_about(4, bare + feather_mm + parent_mm, math.pi / 4)),
    ]


def search_spots(x: float, y: float, step_mm: float = 1500.0, directions: int = 8) -> list[tuple[float, float, float]]:
    """Where to read next about a nonconforming spot: (x, y, direction in degrees), one step out each way.

    SSPC-PA 2 walks outwards at 1.5 m (5 ft) in eight equally spaced directions until two spots in a row conform
    against the contract's own limits, without the 80 and 120 % (second hand; eight from memory).
    """
    out = []
    for i in range(directions):
        angle = 2 * math.pi * i / directions
        out.append((x + step_mm * math.cos(angle), y + step_mm * math.sin(angle), math.degrees(angle)))
    return out
