"""What lies on a part, and how is it said in words? For whoever cannot see the drawing, and for the list beside it.

>>> frame = Frame("bore", d_mm=100, long_mm=180)
>>> lines(frame, [Mark("earlier", "2034", [[(110, 60), (130, 60), (130, 80), (110, 80)]])])
['Earlier repair 2034: 2:40, 120 mm from the face.']
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from ..basis.sentences import Sentence, say
from .part_frame import Frame, Point, box_of

SPOTS = ("spot", "spot_thinnest", "spot_next", "spot_open")
DAMAGE = ("found", "prepared", "hull", "footprint")


@dataclass(frozen=True)
class Mark:
    """One thing on the part: its sort (of ``INKS``), what it is called, its rings of (x, y) in mm, the first outside.

    A spot, a hole or an arrow has one ring of one point, the arrow a second one that it shows to, a point of the plan one
    on its rim. ``area_mm2`` is as it was judged; without it that of its rings is said. ``value`` is the film at a spot, µm.
    ``entry`` is the entry it stands for. ``picture`` is the address of a photo whose corners are the box of its ring.
    """

    sort: str
    label: str = ""
    rings: Sequence[Sequence[Point]] = ()
    area_mm2: float | None = None
    value: float | None = None
    entry: str = ""
    picture: str = ""


def lines(frame: Frame, marks: Sequence[Mark]) -> list[Sentence]:
    """A line for each thing on the drawing: where it lies and how large it is; all film spots in one, the thinnest named."""
    out: list[Sentence] = [] if frame.stated else [say("report.part_size_not_stated")]
    for mark in marks:
        told = _TOLD.get(mark.sort)
        if mark.sort == "no_repair" and len(mark.rings) > 1:
            out.append(say("report.shows_no_repair_round", name=mark.label))
        elif told is not None and any(mark.rings):
            out.append(told(mark, frame.place(*middle(mark.rings[0])).said))
    spots = [mark for mark in marks if mark.sort in ("spot", "spot_thinnest")]
    if spots:
        thinnest = next((mark for mark in spots if mark.sort == "spot_thinnest"), None)
        out.append(say("report.shows_spots", n=len(spots)) if thinnest is None or thinnest.value is None else say(
            "report.shows_spots_thinnest", n=len(spots), film_um=thinnest.value,
            place=frame.place(*thinnest.rings[0][0]).said))
    return out


def named(marks: Sequence[Mark]) -> list[tuple[str, Sentence]]:
    """What each sort of line on a drawing is, for the sorts that are on it."""
    there = {mark.sort for mark in marks}
    return [(sort, what) for sort, what in _SORTS.items() if sort in there]


def middle(ring: Sequence[Point]) -> Point:
    """The middle of a ring's box."""
    west, south, east, north = box_of(ring)
    return (west + east) / 2, (south + north) / 2


def area_mm2(rings: Sequence[Sequence[Point]]) -> float:
    """The area of a ring without that of the holes in it, mm². A bore laid flat has its true area.

    >>> area_mm2([[(0, 0), (30, 0), (30, 20), (0, 20)], [(5, 5), (10, 5), (10, 10), (5, 10)]])
    575.0
    """
    sizes = [abs(sum(x0 * y1 - x1 * y0 for (x0, y0), (x1, y1) in zip(ring, [*ring[1:], ring[0]], strict=True))) / 2
             for ring in rings]
    return sizes[0] - sum(sizes[1:])


def _area(mark: Mark) -> float:
    return area_mm2(mark.rings) if mark.area_mm2 is None else mark.area_mm2


_TOLD: dict[str, Callable[[Mark, Sentence], Sentence]] = {
    "no_repair": lambda mark, place: say("report.shows_no_repair", name=mark.label, place=place),
    "earlier": lambda mark, place: say("report.shows_earlier", name=mark.label, place=place),
    "found": lambda mark, place: say("report.shows_found", name=mark.label, place=place, area_mm2=_area(mark)),
    "prepared": lambda mark, place: say("report.shows_prepared", name=mark.label, place=place, area_mm2=_area(mark)),
    "footprint": lambda mark, place: say("report.shows_footprint", name=mark.label, area_mm2=_area(mark)),
    "ring_now": lambda mark, place: say("report.shows_ring_now", number=mark.label),
    "spot_next": lambda mark, place: say("report.shows_spot_next", name=mark.label, place=place),
    "spark": lambda mark, place: say("report.shows_spark", name=mark.label),
    "hole": lambda mark, place: say("report.shows_hole", name=mark.label, place=place),
}

_SORTS: dict[str, Sentence] = {
    "found": say("report.key_found"), "prepared": say("report.key_prepared"), "hull": say("report.key_hull"),
    "footprint": say("report.key_footprint"), "no_repair": say("report.key_no_repair"), "earlier": say("report.key_earlier"),
    "ring_laid": say("report.key_ring_laid"), "ring": say("report.key_ring"), "ring_now": say("report.key_ring_now"),
    "point": say("report.key_point"), "start": say("report.key_start"), "spot": say("report.key_spot"),
    "spot_thinnest": say("report.key_spot_thinnest"), "spot_next": say("report.key_spot_next"),
    "spot_open": say("report.key_spot_open"), "spark": say("report.key_spark"), "hole": say("report.key_hole"),
}
