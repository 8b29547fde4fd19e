"""From how far and how slanting was the card seen?

The perpendicular distance D from the camera to the plane of the card and the tilt come from the homography and
the focal length. The focal length is taken from the camera's note, else assumed near that of a phone (0.75 × the
long side); where the card is tilted the perspective itself tells it, and the two are weighed together. Nothing
but small corrections depends on it: f wrong by 10 % moves D by some 7 % and a 0.5 mm stand-off correction by
0.03 % of the area.

>>> round(shifted_area(640.880, stand_off_mm=1.0, distance_mm=300.0), 2)    # 1 in², 1 mm behind the card
645.16
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from .plane import UNIT_MM, Plane

if TYPE_CHECKING:
    import numpy as np

FOCAL_GUESS_SPREAD = 0.20  # relative standard deviation of the guess for a phone
FOCAL_NOTE_SPREAD = 0.05  # of the camera's own note (35 mm equivalent, whole millimetres)
LEFT_OVER = 1e-3  # how unequal or askew the axes may look for other reasons: paper, lens


@dataclass(frozen=True)
class View:
    """``tilt_deg``: between the line of sight to the middle of the window and the card's normal.
    ``distance_mm``: perpendicular, camera to card plane, with ``u_distance_mm``. ``foot_mm``: where that
    perpendicular meets the card. ``away``: unit vector on the card pointing to the camera's side.
    """

    tilt_deg: float
    distance_mm: float
    u_distance_mm: float
    foot_mm: tuple[float, float]
    away: tuple[float, float]
    focal_px: float
    u_focal_px: float


def view_of(plane: Plane, *, focal_known: bool) -> View:
    """Distance, tilt and focal length of a fitted plane."""
    import math

    import numpy as np

    spread = FOCAL_NOTE_SPREAD if focal_known else FOCAL_GUESS_SPREAD
    steps = np.linspace(-0.9, 0.9, 181)
    cost = _costs(plane, np.exp(steps)) + (steps / spread) ** 2
    weight = np.exp(-0.5 * (cost - cost.min()))
    weight /= weight.sum()
    mean = float((weight * steps).sum())
    u = float(np.sqrt((weight * (steps - mean) ** 2).sum()))
    ratio = math.exp(mean)
    camera = _camera(plane, ratio)
    near, far = _camera(plane, ratio * math.exp(-u)), _camera(plane, ratio * math.exp(u))
    distance = abs(float(camera[2]))
    sight = math.hypot(camera[0], camera[1])
    away = (float(camera[0] / sight), float(camera[1] / sight)) if sight > 1e-9 else (0.0, 0.0)
    return View(
        tilt_deg=math.degrees(math.atan2(sight, distance)),
        distance_mm=distance,
        u_distance_mm=abs(float(far[2]) - float(near[2])) / 2,
        foot_mm=(float(camera[0]), float(camera[1])),
        away=away,
        focal_px=plane.focal_px * ratio,
        u_focal_px=plane.focal_px * ratio * u,
    )


def shifted(points_mm: np.ndarray, view: View, stand_off_mm: float) -> np.ndarray:
    """Points on the card plane as they lie on a parallel plane ``stand_off_mm`` behind it.

    Parallel planes seen from one point are enlarged copies about the foot of the perpendicular, by
    (D + t)/D; areas by its square, whatever the tilt.
    """
    grow = (view.distance_mm + stand_off_mm) / view.distance_mm
    return (points_mm - view.foot_mm) * grow + view.foot_mm


def shifted_area(area_mm2: float, *, stand_off_mm: float, distance_mm: float) -> float:
    """The area on a parallel plane behind the card: A ((D + t)/D)²."""
    return area_mm2 * ((distance_mm + stand_off_mm) / distance_mm) ** 2


def _columns(plane: Plane, ratio: float) -> np.ndarray:
    """The homography with the focal length ``ratio`` × the assumed one: columns ~ r1, r2, t per 50 mm."""
    import numpy as np

    return np.asarray(np.array([1.0 / ratio, 1.0 / ratio, 1.0])[:, None] * plane.h)


def _camera(plane: Plane, ratio: float) -> np.ndarray:
    """Where the camera stands in card coordinates, mm."""
    import numpy as np

    columns = _columns(plane, ratio)
    norm = np.sqrt(np.linalg.norm(columns[:, 0]) * np.linalg.norm(columns[:, 1]))
    r1, r2, t = columns.T / norm
    # the nearest rotation to the two columns
    u, _, v = np.linalg.svd(np.stack([r1, r2, np.cross(r1, r2)], axis=1))
    turn = u @ np.diag([1, 1, np.linalg.det(u @ v)]) @ v
    return np.asarray(-(turn.T @ t) * UNIT_MM)


def _costs(plane: Plane, ratios: np.ndarray) -> np.ndarray:
    """How badly each focal length makes the two axes of the card unequal or not square, in sigmas squared."""
    import numpy as np

    def faults(h: np.ndarray) -> np.ndarray:
        (a0, b0), (a1, b1), (a2, b2) = h[:, :2]
        aa = (a0 * a0 + a1 * a1) / ratios**2 + a2 * a2
        bb = (b0 * b0 + b1 * b1) / ratios**2 + b2 * b2
        ab = (a0 * b0 + a1 * b1) / ratios**2 + a2 * b2
        return np.asarray(np.stack([2 * ab, aa - bb], axis=-1) / (aa + bb)[:, None])

    value = faults(plane.h)  # (n, 2)
    spread = np.broadcast_to(np.eye(2) * LEFT_OVER**2, (len(ratios), 2, 2))
    if plane.cov is not None:
        slope = np.zeros((len(ratios), 2, 8))
        step = 1e-6
        for i in range(8):
            change = plane.h.copy().ravel()
            change[i] += step
            slope[:, :, i] = (faults(change.reshape(3, 3)) - value) / step
        spread = spread + slope @ plane.cov[:8, :8] @ slope.transpose(0, 2, 1)
    fit = np.linalg.solve(spread, value[..., None])[..., 0]
    return np.asarray((value * fit).sum(axis=1) + np.log(np.linalg.det(spread)))
