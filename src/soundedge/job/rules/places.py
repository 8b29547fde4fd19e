"""Where on the part does a damage lie, and is a reading on it? Across the seam of a bore as beside it.

A place that does not fit the part (a length along a bore on a part that names none) lies nowhere until it is corrected: the
disposition says so and holds; nothing here raises, for a record is read as it was written.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from ...basis.errors import Contradiction
from ...basis.quantity import shown
from ...disposition.bore import beside
from ...disposition.place import Laid, laid_of, lay, shifted
from ..fold import Job

Points = list[tuple[float, float]]


def laid_on(job: Job) -> Laid:
    """What the places of a job's part are laid on."""
    part = job.last("part.identified")
    return Laid() if part is None else laid_of(part.body)


def places_on(part: Any) -> str:
    """What the places of a part count on and from, on paper: ``bore of 300 mm; 0° at the arrow``."""
    inner, outer = part.ring_inner_r_mm, part.ring_outer_r_mm
    ring = [f"{word} radius {shown(mm)} mm" for word, mm in (("from", inner), ("to", outer)) if mm is not None]
    on = f"bore of {shown(part.bore_d_mm)} mm" if part.bore_d_mm is not None else f"ring {' '.join(ring)}" if ring else ""
    return "; ".join(filter(None, (on, part.datum)))


def own_shape(body: Any) -> Points:
    """A damage's outline about its own zero: what its area is computed from."""
    return list(body.outline_mm or (body.circle_mm or body.ellipse_mm).outline())


def outline_on(body: Any, on: Laid) -> Points | None:
    """A damage's outline on the part; None where its place does not fit."""
    try:
        return shifted(own_shape(body), lay(body.place, on))
    except Contradiction:
        return None


def misplaced(job: Job) -> dict[str, Contradiction]:
    """The outlines whose place does not fit the part: entry → what is wrong."""
    on, found = laid_on(job), {}
    for event in job.of("damage.outlined"):
        try:
            lay(event.body.place, on, name=event.body.id, field=f"{event.id}.place")
        except Contradiction as fault:
            found[event.id] = fault
    return found


def within(x: float, y: float, outline: Sequence[Any], around_mm: float | None, reach_mm: float = 0.0) -> bool:
    """Whether a place lies in the box of an outline or at most so far beside it, on whichever side of the seam it was read."""
    xs, ys = zip(*((p[0], p[1]) for p in outline))
    y = beside(y, (min(ys) + max(ys)) / 2, around_mm)
    return bool(min(xs) - reach_mm <= x <= max(xs) + reach_mm and min(ys) - reach_mm <= y <= max(ys) + reach_mm)
