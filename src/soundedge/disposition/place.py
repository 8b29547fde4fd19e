"""How does a person at the part say where a damage lies? By the clock and a radius on a face, by length and clock in a bore.

>>> Place(clock="3:30", radius_mm=120).turn_deg
105.0
>>> lay(Place(clock="3", radius_mm=120), Laid()) == on_face(120, 90)
True
"""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Annotated, Any, NamedTuple

from pydantic import model_validator

from ..basis.errors import Contradiction
from ..basis.quantity import Quantity, Word
from ..basis.question import Request, refuse
from ..basis.sentences import say
from ..basis.shape import REACH_MM
from .bore import in_bore, on_face, round_mm

_CLOCK = re.compile(r"(1[0-2]|0?[0-9])(?::([0-5][0-9]))?")
_BORE = Quantity("Diameter of the bore", "mm", at_least=10, at_most=REACH_MM / 4,
                 next_move="It is the diameter over the lining, in millimetres; check the unit.")
_RADIUS = Quantity("Radius", "mm", at_least=0, at_most=REACH_MM / 2,
                   next_move="It is measured from the middle of the face, in millimetres; check the unit.")
_ALONG = Quantity("Length along the bore", "mm", at_least=0, at_most=REACH_MM / 2,
                  next_move="It is measured from where length 0 is, in millimetres; check the unit.")
BoreMm = Annotated[float, _BORE]
RadiusMm = Annotated[float, _RADIUS]
InnerMm = Annotated[float, replace(_RADIUS, name="Inner radius of the ring")]
OuterMm = Annotated[float, replace(_RADIUS, name="Outer radius of the ring")]


class Place(Request):
    """Where the zero of a damage's own shape lies on the part. On a plate or ring: ``radius_mm`` from its middle; in a bore:
    ``along_mm`` from where length 0 is; and which way round: ``clock`` (``3:30``) or ``angle_deg``, clockwise from 12 o'clock
    as seen from the lined side, in a bore as seen looking in from length 0.
    """

    clock: Word | None = None
    angle_deg: Annotated[float, Quantity("Angle from 12 o'clock", "°", at_least=0, at_most=360)] | None = None
    radius_mm: RadiusMm | None = None
    along_mm: Annotated[float, _ALONG] | None = None

    @model_validator(mode="after")
    def _one_way(self) -> Place:
        if self.clock is not None and not _CLOCK.fullmatch(self.clock):
            raise refuse("unreadable", say("disposition.clock_unreadable", text=self.clock[:20]))
        if (self.clock is None) == (self.angle_deg is None) or (self.radius_mm is None) == (self.along_mm is None):
            raise refuse("contradiction" if self.clock is not None or self.angle_deg is not None else "missing",
                         say("disposition.place_halves"))
        return self

    @property
    def turn_deg(self) -> float:
        """The way round from 12 o'clock. [°] 0 to 360"""
        if self.angle_deg is not None:
            return self.angle_deg
        hours, minutes = (int(n or 0) for n in _CLOCK.fullmatch(self.clock or "").groups())  # type: ignore[union-attr]
        return (hours % 12) * 30 + minutes / 2

    @property
    def said(self) -> str:
        """As it was said: ``3:30, radius 120 mm``."""
        way = f"{self.angle_deg:g}°" if self.clock is None else self.clock if ":" in self.clock else f"{self.clock} o'clock"
        return f"{way}, radius {self.radius_mm:g} mm" if self.along_mm is None else f"{way}, {self.along_mm:g} mm along"


class Laid(NamedTuple):
    """What a place is laid on: a bore of this diameter, or a face, perhaps a ring between two radii. [mm]"""

    bore_d_mm: float | None = None
    ring_inner_r_mm: float | None = None
    ring_outer_r_mm: float | None = None

    @property
    def around_mm(self) -> float | None:
        """Once round the bore; None on a face."""
        return None if self.bore_d_mm is None else round_mm(self.bore_d_mm)


def laid_of(part: Any) -> Laid:
    """What the places of a part are laid on."""
    return Laid(part.bore_d_mm, part.ring_inner_r_mm, part.ring_outer_r_mm)


def check_part(part: Any) -> None:
    """Raises when a part is bore and ring at once, or its ring is inside out."""
    inner, outer = part.ring_inner_r_mm, part.ring_outer_r_mm
    if part.bore_d_mm is not None and (inner is not None or outer is not None):
        raise refuse("contradiction", say("disposition.bore_and_ring"))
    if inner is not None and outer is not None and inner >= outer:
        raise refuse("contradiction", say("disposition.ring_inside_out", inner_mm=inner, outer_mm=outer))


def lay(place: Place | None, on: Laid, *, name: str = "", field: str = "place") -> tuple[float, float]:
    """x and y of a place, mm; (0, 0) for none: the shape's own numbers are the part's.

    Raises
    ------
    Contradiction
        The place does not fit the part: a length on a face, a radius in a bore, or a radius off the ring.
    """
    if place is None:
        return 0.0, 0.0
    if place.along_mm is not None:
        if on.bore_d_mm is None:
            raise Contradiction(field, say("disposition.place_without_bore", defect=name, along_mm=place.along_mm))
        return in_bore(place.along_mm, place.turn_deg, d_mm=on.bore_d_mm)
    radius = place.radius_mm or 0.0
    if on.bore_d_mm is not None:
        raise Contradiction(field, say("disposition.place_face_in_bore", defect=name, radius_mm=radius))
    inner, outer = on.ring_inner_r_mm, on.ring_outer_r_mm
    if inner is not None and radius < inner:
        raise Contradiction(field, say("disposition.place_off_ring_inside", defect=name, radius_mm=radius, inner_mm=inner))
    if outer is not None and radius > outer:
        raise Contradiction(field, say("disposition.place_off_ring_outside", defect=name, radius_mm=radius, outer_mm=outer))
    return on_face(radius, place.turn_deg)


def shifted(points: Any, by: tuple[float, float]) -> list[tuple[float, float]]:
    """Points moved to their place."""
    return [(x + by[0], y + by[1]) for x, y in points]
