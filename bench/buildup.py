"""How many placements and how long to cover a spot, against a plain square grid; and the taper, against a grid of points?

    python bench/buildup.py

Peers in the same run: a square lattice with the same overlap (the usual first idea), trimmed to the
placements that touch the footprint, checked with shapely; and the taper's volume as a sum over a fine
grid of points with shapely's distance.
"""

from __future__ import annotations

import math
import time

import numpy as np
import shapely
from shapely.geometry import Point, Polygon
from table import row

from soundedge.basis.remembered import forget
from soundedge.buildup.placements import place
from soundedge.buildup.section import grown, volumes

D_MM, OVERLAP, FEATHER_MM, DEPTH_UM = 12.0, 0.2, 15.0, 900.0


def spot() -> Polygon:
    """An outline of 90 points, not convex, about 60 mm across."""
    turn = 2 * math.pi * np.arange(90) / 90
    reach = 25 * (1 + 0.3 * np.cos(2 * turn) + 0.15 * np.sin(5 * turn))
    return Polygon(np.column_stack([reach * np.cos(turn), reach * np.sin(turn)]))


def lattice(footprint: Polygon) -> tuple[int, float]:
    """Number of placements on a square lattice, and the share of the footprint it covers, %."""
    step = D_MM * (1 - OVERLAP)
    west, south, east, north = footprint.bounds
    xs, ys = np.arange(west, east + step, step), np.arange(south, north + step, step)
    discs = [Point(x, y).buffer(D_MM / 2) for x in xs for y in ys]
    kept = [d for d in discs if d.intersects(footprint)]
    left = footprint.difference(shapely.union_all(kept)).area
    return len(kept), 100 * (1 - left / footprint.area)


def counted(bare: Polygon, step: float) -> float:
    """The taper as a sum over grid points, mm³: film over the whole footprint, less the part over bare steel."""
    west, south, east, north = bare.buffer(FEATHER_MM).bounds
    x, y = np.meshgrid(np.arange(west, east, step) + step / 2, np.arange(south, north, step) + step / 2)
    away = shapely.distance(shapely.points(x.ravel(), y.ravel()), bare)
    film = np.clip(1 - away / FEATHER_MM, 0, None).sum() * step * step
    return float(film - bare.area) * DEPTH_UM / 1000


def main() -> None:
    """Print numbers, times and ratios."""
    bare = spot()
    footprint = grown(bare, FEATHER_MM)
    ours, t_ours = _timed(lambda: place(footprint, d_mm=D_MM, overlap=OVERLAP))
    (n, cover), t_grid = _timed(lambda: lattice(footprint))
    print(f"placements: ours {len(ours.spots)}, {ours.coverage_pct:.6f} % covered, {1000 * t_ours:.0f} ms; square lattice "
          f"{n}, {cover:.2f} % covered, {1000 * t_grid:.0f} ms")
    row("placements over a spot, how many", len(ours.spots), n, "a square lattice", "places",
        left_out=f"the lattice covers {cover:.2f} %, ours {ours.coverage_pct:.4f} %, and takes {t_ours / t_grid:.1f} as long")
    volume, t_volume = _timed(
        lambda: volumes(bare, depth_um=DEPTH_UM, feather_mm=FEATHER_MM, overbuild_um=0).taper_mm3
    )
    for step in (1.0, 0.25):
        sum_, t_sum = _timed(lambda step=step: counted(bare, step))
        print(f"taper: ours {volume:.3f} mm³ in {1000 * t_volume:.1f} ms; shapely grid of {step} mm {sum_:.3f} mm³ "
              f"({100 * (sum_ / volume - 1):+.4f} %) in {1000 * t_sum:.1f} ms")
    row("taper's volume", t_volume, t_sum, "shapely, distance over a 0.25 mm grid", at_least=1.0,
        left_out="the peer's error shrinks with its grid; ours is exact")


def _timed(work):
    best, out = math.inf, None
    for _ in range(3):
        forget()
        start = time.perf_counter()
        out = work()
        best = min(best, time.perf_counter() - start)
    return out, best


if __name__ == "__main__":
    main()
