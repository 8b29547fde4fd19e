"""What does the window look like from straight above, in millimetres?

The picture is laid out by mm: ``px_mm`` pixels to the millimetre, y up, so that every later step works in mm and
does not care how far the phone was.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from .plane import Plane

if TYPE_CHECKING:
    import numpy as np

PX_MM_MAX = 12.0
SIDE_MAX_PX = 1600


@dataclass(frozen=True)
class Flat:
    """A flattened picture: ``colour`` uint8 (rows, columns, 3); its upper left corner (``left_mm``, ``top_mm``)."""

    colour: np.ndarray
    px_mm: float
    left_mm: float
    top_mm: float

    def to_px(self, card_mm: np.ndarray) -> np.ndarray:
        """Points on the card, mm, to this picture."""
        import numpy as np

        points = np.asarray(card_mm, float)
        return np.stack([(points[:, 0] - self.left_mm) * self.px_mm - 0.5,
                         (self.top_mm - points[:, 1]) * self.px_mm - 0.5], axis=1)

    def to_mm(self, flat_px: np.ndarray) -> np.ndarray:
        """The way back."""
        import numpy as np

        points = np.asarray(flat_px, float)
        return np.stack([(points[:, 0] + 0.5) / self.px_mm + self.left_mm,
                         self.top_mm - (points[:, 1] + 0.5) / self.px_mm], axis=1)


def flatten(colour: np.ndarray, plane: Plane, region_mm: tuple[float, float, float, float], *, shrink: int = 1) -> Flat:
    """Lay out a region of the card, (left, bottom, right, top) in mm, at min(native, 12) pixels to the mm.

    ``shrink``: how many times smaller ``colour`` is than the photo the plane was fitted to.
    """
    import cv2
    import numpy as np

    left, bottom, right, top = region_mm
    middle = np.array([[(left + right) / 2, (bottom + top) / 2]])
    native = float(plane.px_per_mm(middle)[0, 1]) / shrink
    px_mm = float(min(PX_MM_MAX, max(native, 2.0), SIDE_MAX_PX / max(right - left, top - bottom)))
    columns, rows = max(2, round((right - left) * px_mm)), max(2, round((top - bottom) * px_mm))
    # the map is worked out on a coarse grid and filled in between: exact to far below a pixel
    step = 8
    gx, gy = np.arange(0, columns + step, step), np.arange(0, rows + step, step)
    x, y = np.meshgrid((gx + 0.5) / px_mm + left, top - (gy + 0.5) / px_mm)
    grid = plane.to_photo(np.stack([x.ravel(), y.ravel()], axis=1)).reshape(len(gy), len(gx), 2)
    grid = ((grid + 0.5) / shrink - 0.5).astype(np.float32)
    # warpAffine places node (i, j) of the grid exactly on pixel (8 i, 8 j)
    spread = np.array([[step, 0, 0], [0, step, 0]], np.float32)
    full = cv2.warpAffine(grid, spread, (columns, rows), flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    picture = cv2.remap(colour, full[..., 0], full[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return Flat(picture, px_mm, left, top)
