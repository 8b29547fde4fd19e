"""How fast are 200 defects merged and judged, against a plain loop over all pairs with shapely in the same run?

    python bench/disposition.py

The peer does the merging alone, the way shapely is used from the shelf: grow every outline, test every
pair with ``distance`` and ``intersects``, take ``convex_hull`` and grow that. Ours does the merging and
every rule, finding and distance as well.
"""

from __future__ import annotations

import time

import numpy as np
import shapely
from shapely.geometry import Polygon
from table import row

from soundedge.basis.procedure import read_procedure
from soundedge.disposition.judged import Defect, judge_defects
from soundedge.disposition.marked import outlined_mark
from soundedge.disposition.merge import one_repair

DEFECTS, FEATHER_MM, FACTOR = 200, 10.0, 1.0


def outlines() -> list[np.ndarray]:
    """Star-shaped outlines of 60 points on a part of 3 × 3 m."""
    draw = np.random.default_rng(5)
    turn = 2 * np.pi * np.arange(60) / 60
    out = []
    for _ in range(DEFECTS):
        reach = draw.uniform(3, 12) * (1 + 0.2 * np.sin(3 * turn + draw.uniform(0, 6)))
        out.append(draw.uniform(0, 3000, 2) + np.column_stack([reach * np.cos(turn), reach * np.sin(turn)]))
    return out


def plain(shapes: list[Polygon]) -> list[list[int]]:
    """The shelf way: every pair, every time."""
    feet = [shape.buffer(FEATHER_MM) for shape in shapes]
    corners = [np.asarray(shape.convex_hull.exterior.coords)[:-1] for shape in shapes]
    span = [float(np.hypot(*(c[:, None] - c[None]).transpose(2, 0, 1)).max()) for c in corners]
    lead = list(range(len(shapes)))
    for i in range(len(shapes)):
        for j in range(i + 1, len(shapes)):
            if shapes[i].distance(shapes[j]) < FACTOR * max(span[i], span[j]) or feet[i].intersects(feet[j]):
                old, new = lead[j], lead[i]
                lead = [new if k == old else k for k in lead]
    groups = [[i for i, k in enumerate(lead) if k == key] for key in dict.fromkeys(lead)]
    for group in groups:
        shapely.union_all([shapes[i] for i in group]).convex_hull.buffer(FEATHER_MM)
    return groups


def main() -> None:
    """Print times and ratios; the two groupings are compared first."""
    points = outlines()
    marks = [outlined_mark(str(i), p, "bench") for i, p in enumerate(points)]
    shapes = [mark.shape for mark in marks]
    procedure = read_procedure({"bare_area_mm2_max": 900, "feather_mm": FEATHER_MM, "merge_gap_factor": FACTOR,
                                "footprint_area_mm2_max": 4000, "pit_depth_mm_max": 1, "repairs_per_part_max": 3})
    defects = [Defect(mark) for mark in marks]
    ours, _ = one_repair(marks, feather_mm=FEATHER_MM, merge_gap_factor=FACTOR)
    assert sorted(map(sorted, ours)) == sorted(map(sorted, plain(shapes)))
    shelf = _best(lambda: plain(shapes))
    merging = _best(lambda: one_repair(marks, feather_mm=FEATHER_MM, merge_gap_factor=FACTOR))
    judging = _best(lambda: judge_defects(defects, procedure))
    print(f"{DEFECTS} defects, {len(ours)} repairs; shapely {shapely.__version__} over all pairs {1000 * shelf:.0f} ms")
    row("200 defects merged to repairs", merging, shelf, "shapely over all pairs", at_least=5,
        left_out="the peer tries every pair, as one writes it first")
    row("200 defects merged and judged", judging, shelf, "shapely over all pairs", at_least=1.0,
        left_out="the peer judges nothing")


def _best(work, times: int = 3) -> float:
    out = []
    for _ in range(times):
        start = time.perf_counter()
        work()
        out.append(time.perf_counter() - start)
    return min(out)


if __name__ == "__main__":
    main()
