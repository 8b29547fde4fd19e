"""What does a photo with a card show before anybody has tapped? Marks, plane, view, sharpness, and what speaks against it."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING

from . import checks
from .card import Sheet, sheet_of
from .checks import Reason
from .flatten import Flat, flatten
from .marks import Mark, find_marks
from .photo import Photo, decode
from .plane import Plane, fit_plane
from .view import View, view_of

if TYPE_CHECKING:
    import numpy as np


@dataclass
class Seen:
    """A photo with its card. ``plane`` and ``view`` are None when no plane could be fitted.

    ``bars``: factors in x and y from nominal to printed millimetres. ``px_per_mm``: in the worst direction, in the
    middle of the window. ``reasons``: refusals and warnings so far.
    """

    photo: Photo
    marks: list[Mark]
    sheet: Sheet | None
    bars: tuple[float, float]
    plane: Plane | None = None
    view: View | None = None
    px_per_mm: float | None = None
    blur_mm: float | None = None
    reasons: list[Reason] = field(default_factory=list)

    @property
    def refused(self) -> bool:
        """Whether anything found so far forbids a number."""
        return any(reason.weight == "refuse" for reason in self.reasons)

    def open_region_mm(self) -> list[tuple[float, float]]:
        """Corners of the opening, in printed millimetres."""
        assert self.sheet is not None
        return [(x * self.bars[0], y * self.bars[1]) for x, y in self.sheet.open_mm]

    def hull_mm(self) -> np.ndarray:
        """Corners of all marks that carry the plane, (n, 2), printed millimetres."""
        import numpy as np

        assert self.sheet is not None and self.plane is not None
        return np.array([c for n in self.plane.used for c in self.sheet.corners_mm(n)]) * self.bars

    @cached_property
    def flat(self) -> Flat:
        """The window from straight above, with a margin of 2 mm."""
        assert self.plane is not None
        xs, ys = zip(*self.open_region_mm())
        return flatten(self.photo.colour, self.plane, (min(xs) - 2, min(ys) - 2, max(xs) + 2, max(ys) + 2),
                       shrink=self.photo.shrink)


def see(data: bytes, *, bars: tuple[float, float] = (1.0, 1.0), name: str = "The photo", colour: bool = True) -> Seen:
    """Read a photo and find the card in it.

    ``bars``: measured length of the check bars in x and y over 100 mm. ``colour`` False: only the card is wanted, no ``flat``.
    Raises Unreadable or OutOfRange when it is no usable photo; everything else comes as a reason.
    """
    import numpy as np

    photo = decode(data, name=name, colour=colour)
    marks = find_marks(photo.grey)
    names = {sheet.name for mark in marks if (sheet := sheet_of(mark.number))}
    sheet = sheet_of(marks[0].number) if len(names) == 1 else None
    seen = Seen(photo, marks, sheet, bars)
    width, height = photo.size_px
    seen.reasons += checks.camera(photo.head.zoom, max(width, height) / min(width, height))
    wrong = checks.cards([mark.number for mark in marks], names)
    if wrong is not None:
        seen.reasons.append(wrong)
        return seen
    assert sheet is not None
    _add(seen, checks.tags(len(marks), len(sheet.tags)))
    if len(marks) < 2:
        return seen
    corners = np.array([sheet.corners_mm(mark.number) for mark in marks]) * bars
    seen.plane = fit_plane(
        corners, np.array([mark.corners_px for mark in marks]), [mark.number for mark in marks], size_px=photo.size_px,
        focal_px=photo.focal_px,
    )
    seen.view = view_of(seen.plane, focal_known=photo.focal_px is not None)
    middle = np.array(seen.open_region_mm()).mean(axis=0)[None]
    seen.px_per_mm = float(seen.plane.px_per_mm(middle)[0, 0])
    scales = np.sqrt(seen.plane.px_per_mm(corners.mean(axis=1)).prod(axis=1))
    seen.blur_mm = float(np.median([mark.blur_px for mark in marks] / scales))
    _add(seen, checks.flatness(seen.plane.residual_mm))
    _add(seen, checks.resolution(seen.px_per_mm))
    _add(seen, checks.sharpness(seen.blur_mm))
    return seen


def _add(seen: Seen, reason: Reason | None) -> None:
    if reason is not None:
        seen.reasons.append(reason)
