"""Where do the marks of a target card stand, in millimetres?

A card is a frame of square marks (AprilTag family 36h11) round a window; the damage is seen through the
window, so the scale is *interpolated* between marks on all sides. One mark, or a strip on one side, would
have to extrapolate: no such card is drawn. The number of a mark says which card it belongs to, so nobody
chooses a layout.

>>> small = SHEETS["small"]
>>> small.window_mm, len(small.tags), sheet_of(5).name, sheet_of(300) is None
((60.0, 60.0), 16, 'small', True)
>>> [tuple(corner) for corner in small.corners_mm(0)]      # top left mark: TL, TR, BR, BL; x right, y up
[(-47.0, 47.0), (-33.0, 47.0), (-33.0, 33.0), (-47.0, 33.0)]
"""

from __future__ import annotations

from dataclasses import dataclass

TAG_MM = 14.0
MODULES = 8  # 6 × 6 data and a black border of one module
QUIET_MM = 3.0  # white round every mark
BAR_MM = 100.0  # nominal length of the check bars


@dataclass(frozen=True)
class Sheet:
    """One kind of card. All lengths in mm, origin in the middle of the window, x right, y up.

    ``tags``: number → centre. ``size_mm``: the cut card. ``window_mm``: width and height of the opening.
    ``open_mm``: the region in which damage may lie, as a polygon (the window; for the corner card the
    triangle between its legs).
    """

    name: str
    title: str
    tags: dict[int, tuple[float, float]]
    size_mm: tuple[float, float]
    window_mm: tuple[float, float]
    open_mm: tuple[tuple[float, float], ...]
    use: str
    middle_mm: tuple[float, float] = (0.0, 0.0)  # middle of the cut card

    def corners_mm(self, tag: int) -> list[tuple[float, float]]:
        """Corners of one mark: top left, top right, bottom right, bottom left; outer edge of its black border."""
        x, y = self.tags[tag]
        h = TAG_MM / 2
        return [(x - h, y + h), (x + h, y + h), (x + h, y - h), (x - h, y - h)]


def _rectangle(width: float, height: float) -> tuple[tuple[float, float], ...]:
    x, y = width / 2, height / 2
    return ((-x, y), (x, y), (x, -y), (-x, -y))


def _ring(first: int, per_side: int, reach: float) -> dict[int, tuple[float, float]]:
    """Centres round a square, row by row from the top left, left to right."""
    step = 2 * reach / (per_side - 1)
    places = []
    for row in range(per_side):
        for column in range(per_side):
            if row in (0, per_side - 1) or column in (0, per_side - 1):
                places.append((-reach + column * step, reach - row * step))
    return {first + i: place for i, place in enumerate(places)}


def _strips(first: int) -> dict[int, tuple[float, float]]:
    columns = [-81.0 + 18.0 * i for i in range(10)]
    return {first + i: (columns[i % 10], 25.0 if i < 10 else -25.0) for i in range(20)}


def _corner(first: int) -> dict[int, tuple[float, float]]:
    places = [(0.0, 20.0 * i) for i in range(4, 0, -1)] + [(20.0 * i, 0.0) for i in range(6)]
    return {first + i: (x - 40.0, y - 30.0) for i, (x, y) in enumerate(places)}


SHEETS: dict[str, Sheet] = {
    sheet.name: sheet
    for sheet in (
        Sheet("small", "Small window", _ring(0, 5, 40.0), (120.0, 120.0), (60.0, 60.0), _rectangle(60, 60),
              "damage up to about 50 mm across"),
        Sheet("large", "Large window", _ring(16, 7, 65.0), (170.0, 170.0), (110.0, 110.0), _rectangle(110, 110),
              "damage up to about 100 mm across"),
        Sheet("strips", "Two strips", _strips(40), (196.0, 90.0), (164.0, 30.0), _rectangle(164, 30),
              "flanges, and cracks up to about 150 mm long"),
        Sheet("corner", "Corner", _corner(60), (134.0, 114.0), (100.0, 80.0),
              ((-30.0, 40.0), (50.0, -20.0), (-30.0, -20.0)),
              "corners and flanges, only where no frame fits", middle_mm=(10.0, 10.0)),
    )
}

_BY_TAG = {tag: sheet for sheet in SHEETS.values() for tag in sheet.tags}


def sheet_of(tag: int) -> Sheet | None:
    """The card a mark of this number belongs to; None when it is on none of ours."""
    return _BY_TAG.get(tag)
