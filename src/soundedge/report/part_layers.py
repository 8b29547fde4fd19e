"""What does a judged job have on its part? The frame of the part and every mark, ready to be drawn and said.

``marks_of(outcome)`` has all of it: zones where no repair is, earlier repairs, damage as found and as prepared, footprints,
film spots, what the spark test went over and what it found. ``ring_marks`` adds the rings of a layer as they are laid.

>>> [round(mm, 6) for mm in ring_edges_mm([(0, 1.0), (0, 1.2), (1, 4.0), (2, 7.0)])]
[2.55, 5.5]
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import pairwise
from statistics import median
from typing import Any

from ..basis.on_paper import words
from ..disposition.bore import beside
from ..job.rules.places import laid_on, outline_on
from .part_frame import Frame, Point, frame_of
from .part_marks import Mark

PARENT_MM = 50.0  # of the old film round a repair that is swept with it; common practice, no source
CORNERS = 96


def part_frame(outcome: Any) -> Frame:
    """What the part of a judged job is drawn on, by what was said of it when the job was opened."""
    return frame_of(outcome.job.the("part.identified"))


def marks_of(outcome: Any, earlier: Iterable[tuple[str, float, float, float]] | None = None) -> list[Mark]:
    """What a judged job has on its part.

    Parameters
    ----------
    outcome : job.judge.Outcome
    earlier : iterable of (label, x, y, d), optional
        Earlier repairs: centre and diameter, mm; left out, those that the job has written down, by the year of each.
    """
    job, on = outcome.job, laid_on(outcome.job)
    answers = outcome.steps["disposition"].answers if "disposition" in outcome.steps else ()
    repairs = answers[0]["repairs"] if answers else ()
    out = [Mark("no_repair", words(one.kind), _rings(one)) for one in job.the("part.identified").keep_out]
    for repair in repairs:
        called = ", ".join(repair["members"])
        if repair["footprint_mm"]:
            out.append(Mark("footprint", called, [_ring(repair["footprint_mm"]), *map(_ring, repair["footprint_holes_mm"])],
                            repair.get("footprint_area_mm2")))
        if len(repair["members"]) > 1:
            out.append(Mark("hull", called, [_ring(repair["outline_mm"])]))
    for event in job.of("damage.outlined"):
        shape = outline_on(event.body, on)
        if shape is not None:
            out.append(Mark("found" if event.body.stage == "as_found" else "prepared", event.body.id, [_ring(shape)],
                            entry=event.id))
    for label, x, y, d in _recalled(job) if earlier is None else earlier:
        out.append(Mark("earlier", label, [circle(x, y, d)]))
    return out + _spark(outcome, repairs, on.around_mm) + _spots(outcome)


def ring_marks(footprint: Sequence[Any], holes: Sequence[Any], placements: Sequence[dict[str, Any]], *, now: int = 0,
               laid: Sequence[int] = ()) -> list[Mark]:
    """The rings of one layer as bands of the footprint: those laid filled, the others double, the one in hand heavy with its
    points and an arrow where it begins.

    Parameters
    ----------
    footprint, holes : sequence of (x, y)
        Of the repair, mm.
    placements : sequence of dict
        As the build-up answers: ``x``, ``y``, ``r_mm``, ``ring`` (0 is the outermost), ``order``.
    now : int
        The ring in hand, 1 is the outermost; 0 for none.
    laid : sequence of int
        The rings that are laid.
    """
    from shapely import Point as At
    from shapely import Polygon

    ground = Polygon(_ring(footprint), [_ring(one) for one in holes])
    steps = [(one["ring"], ground.boundary.distance(At(one["x"], one["y"]))) for one in placements]
    edges = [0.0, *ring_edges_mm(steps)]
    out = []
    for number, edge in enumerate(edges, 1):
        band = ground.buffer(-edge) if edge else ground
        if number < len(edges):
            band = band.difference(ground.buffer(-edges[number]))
        rings = [_ring(line.coords[:-1]) for one in getattr(band, "geoms", [band]) if not one.is_empty
                 for line in (one.exterior, *one.interiors)]
        sort = "ring_now" if number == now else "ring_laid" if number in laid else "ring"
        out.append(Mark(sort, str(number), rings))
    mine = sorted((one for one in placements if one["ring"] + 1 == now), key=lambda one: one["order"])
    # half a patch wide each, so that they lie beside each other; the patches overlap
    out += [Mark("point", str(one["order"]), [[(one["x"], one["y"]), (one["x"] + one["r_mm"] / 2, one["y"])]]) for one in mine]
    if len(mine) > 1:
        out.append(Mark("start", "", [[(mine[0]["x"], mine[0]["y"]), (mine[1]["x"], mine[1]["y"])]]))
    return out


def ring_edges_mm(steps: Sequence[tuple[int, float]]) -> list[float]:
    """How far inside the footprint's edge one ring ends and the next begins: half way between their points. [mm]

    ``steps`` are (ring, distance from the edge) of every placement.
    """
    rings = sorted({ring for ring, _ in steps})
    middles = [median(far for ring, far in steps if ring == one) for one in rings]
    return [(a + b) / 2 for a, b in pairwise(middles)]


def circle(x: float, y: float, d: float, corners: int = CORNERS) -> list[Point]:
    """A circle as a ring of corners."""
    import math

    turn = [2 * math.pi * n / corners for n in range(corners)]
    return [(x + d / 2 * math.cos(a), y + d / 2 * math.sin(a)) for a in turn]


def _ring(points: Iterable[Any]) -> list[Point]:
    return [(float(p[0]), float(p[1])) for p in points]


def _rings(one: Any) -> list[list[Point]]:
    """The rings of a keep-out: a line is walked there and back, so that nothing is closed that is open."""
    if one.circle_mm is not None:
        ring = circle(one.circle_mm.x, one.circle_mm.y, one.circle_mm.d)
    else:
        ring = _ring(one.shape_mm)
    if one.drawn_as == "line" and one.circle_mm is None:
        ring += ring[-2::-1]
    return [ring, *(_ring(hole) for hole in one.holes_mm)]


def _recalled(job: Any) -> list[tuple[str, float, float, float]]:
    """The earlier repairs of the job, each by the year in which it was made."""
    out = []
    for event in job.of("repair.recalled"):
        body = event.body
        months = event.at.year * 12 + event.at.month - 1 - round(body.months_ago)
        out.append((str(months // 12), body.x, body.y, body.d))
    return out


def _spots(outcome: Any) -> list[Mark]:
    """The spots of the last film readings of every repair, by the thinnest reading of each after what was taken off; of all the
    thinnest is marked."""
    latest = {event.body.repair: event for event in outcome.job.of("film.measured")}
    found = []
    for event in latest.values():
        taken = event.body.correction.value_um if event.body.correction.made else 0.0
        for spot in event.body.spots:
            if spot.x is not None and spot.y is not None and spot.readings_um:
                found.append((min(spot.readings_um) - taken, spot, event.id))
    thinnest = min((film for film, _, _ in found), default=None)
    out, told = [], False
    for film, spot, entry in found:
        least = film == thinnest and not told
        told = told or least
        label = f"{spot.id} {film:.0f}" if least else f"{film:.0f}"
        out.append(Mark("spot_thinnest" if least else "spot", label, [[(spot.x, spot.y)]], value=film, entry=entry))
    return out


def _spark(outcome: Any, repairs: Sequence[Any], around_mm: float | None) -> list[Mark]:
    """What the latest spark tests since the film was read went over, and every hole they found."""
    film = outcome.job.last("film.measured")
    tests = [one for one in outcome.job.of("holiday.tested") if film is None or one.at >= film.at]
    if not tests:
        return []
    zones = {zone for test in tests for zone in (test.body.zones or ("repair", "overlap", "parent"))}
    out = []
    for repair in repairs:
        bare, foot = _ring(repair["outline_mm"]), _ring(repair["footprint_mm"] or repair["outline_mm"])
        if {"repair", "overlap"} & zones:
            over = [foot] if "overlap" in zones else [bare]
            out.append(Mark("spark", "overlap" if "overlap" in zones else "repair",
                            over if "repair" in zones else [*over, bare]))
        if "parent" in zones:
            out.append(Mark("spark", "parent", [_wider(foot), foot]))
    holes = [(hole, test.id) for test in tests for hole in test.body.holidays]
    for number, (hole, entry) in enumerate(holes, 1):
        y = hole.y if not repairs else beside(hole.y, repairs[0]["outline_mm"][0][1], around_mm)
        out.append(Mark("hole", str(number), [[(hole.x, y)]], entry=entry))
    return out


def _wider(ring: list[Point]) -> list[Point]:
    from shapely import Polygon

    return _ring(Polygon(ring).buffer(PARENT_MM, quad_segs=8).exterior.coords[:-1])
