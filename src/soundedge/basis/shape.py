"""What shape lies on the part, in millimetres of its own flat picture?

>>> outline = Circle(x=0, y=0, d=30).outline()
>>> round(area_mm2(outline), 1), round(math.pi * 15**2, 1)
(706.8, 706.9)
>>> area_mm2([(0, 0), (4, 0), (4, 3)])
6.0
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Annotated, Any

from pydantic_core import PydanticCustomError, core_schema

from .quantity import NotThat, Quantity
from .question import Request
from .sentences import Sentence, say

REACH_MM = 20_000.0
POINTS_MAX = 5_000

_COORDINATE = Quantity(
    "A coordinate", "mm", at_least=-REACH_MM, at_most=REACH_MM,
    next_move="Positions are in millimetres on the part; check the unit.",
)
CoordinateMm = Annotated[float, _COORDINATE]
SizeMm = Annotated[
    float, Quantity("A size", "mm", above=0, at_most=REACH_MM, next_move="Sizes are in millimetres; check the unit.")
]


class _OutlineRule:
    """At least three points, no two in a row the same, not all on one line."""

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> core_schema.CoreSchema:
        def read(value: Any, info: core_schema.ValidationInfo) -> list[tuple[float, float]]:
            decimal_strings = bool((info.context or {}).get("decimal_strings"))
            if not isinstance(value, (list, tuple)):
                raise _fault("unreadable", say("basis.outline_not_a_list"))
            if len(value) > POINTS_MAX:
                raise _fault("out_of_range", say("basis.outline_too_many_points", n=len(value), most=POINTS_MAX))
            points: list[tuple[float, float]] = []
            for number, point in enumerate(value, 1):
                if not isinstance(point, (list, tuple)) or len(point) != 2:
                    raise _fault("unreadable", say("basis.outline_point_not_a_pair", number=number))
                try:
                    x, y = (_COORDINATE.read(c, decimal_strings=decimal_strings) for c in point)
                except NotThat as bad:
                    raise _fault(bad.kind, say("basis.outline_point_unreadable", number=number, why=bad.message)) from None
                if not points or (x, y) != points[-1]:
                    points.append((x, y))
            if len(points) > 1 and points[0] == points[-1]:
                points.pop()
            if len(points) < 3:
                raise _fault("not_enough", say("basis.outline_too_few_points", n=len(points)))
            if abs(area_mm2(points)) < 1e-9:
                raise _fault("out_of_range", say("basis.outline_without_area"))
            return points

        return core_schema.with_info_plain_validator_function(read)

    def __get_pydantic_json_schema__(self, schema: Any, handler: Any) -> dict[str, Any]:
        pair = {"type": "array", "items": {"type": "number"}, "minItems": 2, "maxItems": 2}
        return {"type": "array", "items": pair, "minItems": 3, "description": "Outline: points [x, y] [mm]"}


def _fault(kind: str, message: Sentence) -> PydanticCustomError:
    return PydanticCustomError(kind, "{message}", {"message": message})


Outline = Annotated[list[tuple[float, float]], _OutlineRule()]
"""A closed outline in mm: a list of (x, y), either way round, first point not repeated at the end.
It may still cross itself; a room that needs a simple outline says so."""


class Circle(Request):
    """A circle: centre and *diameter*, mm."""

    x: CoordinateMm = 0.0
    y: CoordinateMm = 0.0
    d: SizeMm

    def outline(self, points: int = 256) -> list[tuple[float, float]]:
        """As a polygon; 256 points lose 0.01 % of the area."""
        return Ellipse(x=self.x, y=self.y, a=self.d, b=self.d).outline(points)


class Ellipse(Request):
    """An ellipse: centre, *full* axes a and b, and the angle of a from x, anticlockwise; mm and degrees."""

    x: CoordinateMm = 0.0
    y: CoordinateMm = 0.0
    a: SizeMm
    b: SizeMm
    angle_deg: Annotated[float, Quantity("The angle", "°", at_least=-360, at_most=360)] = 0.0

    def outline(self, points: int = 256) -> list[tuple[float, float]]:
        """As a polygon; 256 points lose 0.01 % of the area."""
        c, s = math.cos(math.radians(self.angle_deg)), math.sin(math.radians(self.angle_deg))
        out = []
        for i in range(points):
            t = 2 * math.pi * i / points
            u, v = self.a / 2 * math.cos(t), self.b / 2 * math.sin(t)
            out.append((self.x + u * c - v * s, self.y + u * s + v * c))
        return out


def area_mm2(outline: Sequence[tuple[float, float]]) -> float:
    """Area inside a simple outline, the same drawn either way round.

    Shoelace sum about the first point, so that a shape far from the origin loses no digits.
    Input: (x, y) in mm, at least 3. Output: mm², at least 0.
    """
    x0, y0 = outline[0]
    twice = 0.0
    for (xa, ya), (xb, yb) in zip(outline, (*outline[1:], outline[0])):
        twice += (xa - x0) * (yb - y0) - (xb - x0) * (ya - y0)
    return abs(twice) / 2.0
