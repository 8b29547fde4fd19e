"""Where does a place of the part lie on its drawing, and how is it said?

Four frames: a disc or plate and a free outline are seen from the lined side, x to the right, y up to 12 o'clock; a ring is a
disc with a hole; a bore is cut open at 12 o'clock and laid flat, seen from inside, its face on top, 12-3-6-9-12 from left to
right and 30° drawn a second time at either side of the seam. A drawing has its own two lengths, ``u`` to the right and ``v``
down, in the same millimetres: laying flat does not stretch, so lengths and areas on it are those on the lined surface.

>>> cover = Frame("disc", d_mm=520)
>>> place = cover.place(*cover.at(300.0, 139.0))
>>> round(place.turn_deg, 6), round(place.mm, 6), place.said
(300.0, 139.0, "10 o'clock, 139 mm from the middle")
>>> nozzle = Frame("bore", d_mm=100, long_mm=180)
>>> nozzle.apart_mm((40.0, 2.0), (40.0, nozzle.around_mm - 3.0))           # across the seam
5.0
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any, Literal

from ..basis.sentences import Sentence, say
from ..disposition.bore import beside, in_bore, on_face, round_mm

Point = tuple[float, float]
Box = tuple[float, float, float, float]
FrameName = Literal["disc", "plate", "bore", "ring", "free"]

TWICE_DEG = 30.0
FINGER_PX = 4.2  # half a fingertip's miss [px]: with 600 mm on 500 px it is 5 mm; common practice, no source


@dataclass(frozen=True)
class Opening:
    """A round hole of the part where there is no lining: middle and diameter, mm."""

    x: float
    y: float
    d: float


@dataclass(frozen=True)
class Place:
    """A place as people say it: the way round from 12 o'clock [°, 0 to below 360], and how far [mm] from the middle, the edge
    or the face."""

    turn_deg: float
    mm: float
    counted_from: Literal["middle", "edge", "face"] = "middle"

    @property
    def clock(self) -> Sentence:
        """The way round by the clock, to the minute of its dial (half a degree)."""
        minutes = round(self.turn_deg * 2) % 720
        hour = minutes // 60 or 12
        if minutes % 60 == 0:
            return say("report.clock_full", hour=hour)
        return say("report.clock_minutes", hour=hour, minute=f"{minutes % 60:02d}")

    @property
    def said(self) -> Sentence:
        """``10 o'clock, 139 mm from the middle``."""
        if self.counted_from == "edge":
            return say("report.place_from_edge", clock=self.clock, mm=self.mm)
        if self.counted_from == "face":
            return say("report.place_from_face", clock=self.clock, mm=self.mm)
        return say("report.place_from_middle", clock=self.clock, mm=self.mm)


@dataclass(frozen=True)
class Frame:
    """What a part is drawn on. ``stated``: its size was written down; without it the drawing reaches as far as it must.

    Parameters
    ----------
    name : str
        disc, plate, bore, ring or free.
    d_mm : float
        Outer diameter of a disc or ring, diameter of a bore; mm.
    inner_mm, wide_mm, high_mm, long_mm : float
        Inner diameter of a ring, the two sides of a plate, the length of a bore from its face; mm.
    outline_mm : tuple of (x, y)
        A free outline, traced once.
    openings : tuple of Opening
        Holes in it: bolts, nozzles.
    """

    name: FrameName
    d_mm: float = 0.0
    inner_mm: float = 0.0
    wide_mm: float = 0.0
    high_mm: float = 0.0
    long_mm: float = 0.0
    outline_mm: tuple[Point, ...] = ()
    openings: tuple[Opening, ...] = ()
    stated: bool = True

    @property
    def around_mm(self) -> float | None:
        """Once round a bore, along its wall; None on a face."""
        return round_mm(self.d_mm) if self.name == "bore" else None

    def on_sheet(self, x: float, y: float) -> Point:
        """Where a place (x, y) of the part lies on the drawing: to the right, and down. [mm]"""
        return (y, x) if self.name == "bore" else (x, -y)

    def on_part(self, u: float, v: float) -> Point:
        """The way back; in a bore y is brought home to the first time round."""
        if self.around_mm is not None:
            return v, u % self.around_mm
        return u, -v

    def at(self, turn_deg: float, mm: float) -> Point:
        """x and y of a place said by the clock: as far from the middle, on a ring from its edge, in a bore from its face."""
        if self.name == "bore":
            return in_bore(mm, turn_deg, d_mm=self.d_mm)
        return on_face(self.d_mm / 2 - mm if self.counted_from == "edge" else mm, turn_deg)

    def place(self, x: float, y: float) -> Place:
        """How a place (x, y) of the part is said."""
        if self.around_mm is not None:
            return Place(y / self.around_mm * 360 % 360, x, "face")
        turn, radius = math.degrees(math.atan2(x, y)) % 360, math.hypot(x, y)
        return Place(turn, self.d_mm / 2 - radius if self.counted_from == "edge" else radius, self.counted_from)

    @property
    def counted_from(self) -> Literal["middle", "edge", "face"]:
        """What the distance of a place counts from."""
        if self.name == "bore":
            return "face"
        return "edge" if self.name == "ring" and self.d_mm > 0 else "middle"

    def apart_mm(self, a: Point, b: Point) -> float:
        """How far two places lie apart on the lined surface, the short way round."""
        return math.hypot(b[0] - a[0], beside(b[1], a[1], self.around_mm) - a[1])

    def met(self, ring: Iterable[Point], box: Box) -> list[list[Point]]:
        """A ring of (x, y) on the drawing, once for every time that a bore's sheet shows it in this box (u0, v0, u1, v1)."""
        home = [self.on_sheet(*point) for point in ring]
        if self.around_mm is None or not home:
            return [home] if home else []
        west, east = min(u for u, _ in home), max(u for u, _ in home)
        first, last = (box[0] - east) / self.around_mm, (box[2] - west) / self.around_mm
        return [[(u + turn * self.around_mm, v) for u, v in home] for turn in range(math.ceil(first), math.floor(last) + 1)]

    @property
    def box(self) -> Box | None:
        """The whole part on its drawing: u0, v0, u1, v1 in mm; None where its size is not known."""
        if self.around_mm is not None:
            twice = self.around_mm * TWICE_DEG / 360
            return (-twice, 0.0, self.around_mm + twice, self.long_mm) if self.long_mm > 0 else None
        if self.name == "plate" and self.wide_mm > 0 and self.high_mm > 0:
            return (-self.wide_mm / 2, -self.high_mm / 2, self.wide_mm / 2, self.high_mm / 2)
        if self.outline_mm:
            return box_of([self.on_sheet(*point) for point in self.outline_mm])
        r = self.d_mm / 2
        return (-r, -r, r, r) if r > 0 else None

    def reaching(self, points: Iterable[Point]) -> Frame:
        """A bore of unknown length is drawn as far as what lies in it, and a fifth more; every other frame is as it is."""
        if self.around_mm is None or self.long_mm > 0:
            return self
        far = max((x for x, _ in points), default=0.0)
        return replace(self, long_mm=max(far * 1.2, self.around_mm / 6), stated=False)


def placing_u_mm(mm_per_px: float) -> float:
    """Standard uncertainty of a place set with a finger on a drawing of this scale. [mm]

    >>> round(placing_u_mm(600 / 500), 1)
    5.0
    """
    return FINGER_PX * mm_per_px


def box_of(points: Iterable[Point]) -> Box:
    """The box round points."""
    us, vs = zip(*points)
    return min(us), min(vs), max(us), max(vs)


def frame_of(part: Any) -> Frame:
    """What a part (job.kinds.opening.PartIdentified) is drawn on."""
    if part.bore_d_mm is not None:
        return Frame("bore", part.bore_d_mm, stated=False)
    if part.ring_outer_r_mm is not None:
        return Frame("ring", 2 * part.ring_outer_r_mm, 2 * (part.ring_inner_r_mm or 0.0))
    return Frame("disc", 2 * (part.radius_mm or 0.0), stated=False)
