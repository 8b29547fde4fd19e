"""How do millimetres on the card and pixels of the photo belong together?

A flat card in a pinhole camera is a homography, x ~ H X (eight unknowns); one radial term takes the lens,
r_d = r (1 + k1 r²) about the middle of the photo. The nine unknowns are fitted together to all mark corners by
least squares, and their covariance comes out of the same fit: C = s² (JᵀJ)⁻¹. With only four corners the
residual would be zero by construction, so a single mark cannot report its own error.

>>> import numpy as np
>>> plane = Plane(np.array([[6.0, 1, 0], [0.2, -7, 0], [0.004, 0.002, 1]]), 0.0, (2000.0, 1500.0), 3000.0)
>>> there = np.array([[3.0, 4.0], [-20.0, 11.0]])
>>> bool(np.abs(plane.to_card(plane.to_photo(there)) - there).max() < 1e-12)
True
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from ..basis.errors import NotEnough
from ..basis.sentences import say

if TYPE_CHECKING:
    import numpy as np

NOISE_FLOOR_PX = 0.03  # what the line fit reaches at best; a smaller residual is luck and not believed
UNIT_MM = 50.0  # card coordinates are divided by this inside the fit, to keep the numbers near one


@dataclass(frozen=True)
class Plane:
    """The fitted plane.

    ``h``: 3 × 3, card (in units of 50 mm, y up) → ideal picture (in focal units about ``centre_px``).
    ``k1``: radial term in the same units. ``focal_px``: that unit in pixels. ``cov``: 9 × 9, of the first eight
    elements of ``h`` (row by row) and k1. ``residual_px`` and ``residual_mm``: root mean square distance of the
    corners used from where the fit puts them. ``used``: marks that took part.
    """

    h: np.ndarray
    k1: float
    centre_px: tuple[float, float]
    focal_px: float
    cov: np.ndarray | None = None
    residual_px: float = 0.0
    residual_mm: float = 0.0
    used: tuple[int, ...] = field(default=())

    def to_photo(self, card_mm: np.ndarray) -> np.ndarray:
        """Points on the card, (n, 2) mm, to the photo, (n, 2) px."""
        seen: np.ndarray = _ideal_to_photo(_homography(self.h, card_mm / UNIT_MM), self.k1, self.centre_px, self.focal_px)
        return seen

    def to_card(self, photo_px: np.ndarray) -> np.ndarray:
        """Points of the photo, (n, 2) px, to the plane of the card, (n, 2) mm."""
        import numpy as np

        ideal = _undistorted((np.asarray(photo_px, float) - self.centre_px) / self.focal_px, self.k1)
        return _homography(np.linalg.inv(self.h), ideal) * UNIT_MM

    def px_per_mm(self, card_mm: np.ndarray) -> np.ndarray:
        """Smallest and largest scale at every point, (n, 2): singular values of the local Jacobian."""
        import numpy as np

        step = 0.01
        east, north = np.array([step, 0.0]), np.array([0.0, step])
        dx = (self.to_photo(card_mm + east) - self.to_photo(card_mm - east)) / (2 * step)
        dy = (self.to_photo(card_mm + north) - self.to_photo(card_mm - north)) / (2 * step)
        values = np.linalg.svd(np.stack([dx, dy], axis=-1), compute_uv=False)
        return values[:, ::-1]

    def moved(self, change: np.ndarray) -> Plane:
        """The same plane with its nine unknowns changed, for numerical derivatives."""
        import numpy as np

        h = self.h.copy().ravel()
        h[:8] += change[:8]
        return Plane(h.reshape(3, 3), self.k1 + float(change[8]), self.centre_px, self.focal_px, np.zeros((9, 9)))


def fit_plane(
    card_mm: np.ndarray, photo_px: np.ndarray, numbers: Sequence[int], *, size_px: tuple[int, int],
    focal_px: float | None = None, lens: bool = True,
) -> Plane:
    """Fit plane and lens term to mark corners.

    Parameters
    ----------
    card_mm, photo_px : array, shape (n marks, corners, 2)
        Corners on the card, scaled by the measured bars, and in the photo.
    numbers : sequence of int
        The marks' numbers.
    size_px : (width, height)
        Of the upright photo; the lens is centred on it.
    focal_px : float, optional
        Focal length; 0.75 × the long side if not known. Only the unit of k1 depends on it.
    lens : bool
        False fixes k1 at zero, for comparison; it is fixed anyway with fewer than four marks.

    Raises
    ------
    NotEnough
        Fewer than two marks, or corners that do not span a plane.
    """
    import cv2
    import numpy as np

    world = np.asarray(card_mm, float)
    seen = np.asarray(photo_px, float)
    marks = len(world)
    if marks < 2:
        raise NotEnough("photo", say("survey.too_few_marks", n=marks))
    focal = focal_px or 0.75 * max(size_px)
    centre = ((size_px[0] - 1) / 2, (size_px[1] - 1) / 2)
    flat_world, flat_seen = world.reshape(-1, 2) / UNIT_MM, (seen.reshape(-1, 2) - centre) / focal
    gross = 0.01 * max(size_px) / focal
    start, _ = cv2.findHomography(flat_world, flat_seen, cv2.RANSAC, gross)
    if start is None or abs(np.linalg.det(start)) < 1e-12:
        raise NotEnough("photo", say("survey.marks_in_one_line"))
    free = 9 if lens and marks >= 4 else 8
    unknown = np.append((start / start[2, 2]).ravel()[:8], 0.0)
    weight = np.ones(len(flat_world))
    for _ in range(3):  # Cauchy weights: a mark half hidden by glare must not pull the plane
        unknown, left, _ = _least_squares(unknown, flat_world, flat_seen, weight, free)
        far = np.hypot(*left.T)
        scale = max(2.5 * float(np.median(far)), 0.1 / focal)
        weight = 1.0 / (1.0 + (far / scale) ** 2)
    keep = _kept(far.reshape(marks, -1), focal)
    weight = np.repeat(keep, world.shape[1]).astype(float)
    unknown, left, jacobian = _least_squares(unknown, flat_world, flat_seen, weight, free)
    h = np.append(unknown[:8], 1.0).reshape(3, 3)
    used = int(weight.sum())
    square = float((weight * (left**2).sum(axis=1)).sum())
    s2 = max(square / max(2 * used - free, 1), (NOISE_FLOOR_PX / focal) ** 2)
    normal = jacobian.T @ (np.repeat(weight, 2)[:, None] * jacobian)
    cov = np.zeros((9, 9))
    cov[:free, :free] = s2 * np.linalg.pinv(normal[:free, :free], hermitian=True)
    plain = Plane(h, float(unknown[8]), centre, focal)
    where = world.reshape(-1, 2)[weight > 0]
    scale_px_mm = np.sqrt(plain.px_per_mm(where).prod(axis=1))
    off_px = np.hypot(*left.T)[weight > 0] * focal
    return Plane(
        h, float(unknown[8]), centre, focal, cov,
        float(np.sqrt((off_px**2).mean())), float(np.sqrt(((off_px / scale_px_mm) ** 2).mean())),
        tuple(number for number, kept in zip(numbers, keep) if kept),
    )


def _kept(far: np.ndarray, focal: float) -> np.ndarray:
    """Which marks take part: at most one in eight, and only grossly wrong ones, are left out.

    A card that is not flat is wrong at many marks; it must show in the residual, not disappear.
    """
    import numpy as np

    rms = np.sqrt((far**2).mean(axis=1))
    limit = max(6 * float(np.median(rms)), 0.7 / focal)
    allowed = len(rms) // 8
    keep = np.ones(len(rms), bool)
    for i in np.argsort(rms)[::-1][:allowed]:
        keep[i] = rms[i] <= limit
    return keep


def _least_squares(
    unknown: np.ndarray, world: np.ndarray, seen: np.ndarray, weight: np.ndarray, free: int
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Levenberg and Marquardt in nine unknowns with the exact derivatives."""
    import numpy as np

    root = np.sqrt(np.repeat(weight, 2))
    model, jacobian = _model(unknown, world)
    left = (model - seen).ravel()
    cost, damp = float(((root * left) ** 2).sum()), 1e-6
    for _ in range(40):
        wj = root[:, None] * jacobian[:, :free]
        normal, gradient = wj.T @ wj, wj.T @ (root * left)
        step = np.linalg.solve(normal + damp * np.diag(np.diag(normal) + 1e-12), gradient)
        trial = unknown.copy()
        trial[:free] -= step
        model, trial_jacobian = _model(trial, world)
        trial_left = (model - seen).ravel()
        trial_cost = float(((root * trial_left) ** 2).sum())
        if np.isfinite(trial_cost) and trial_cost <= cost:
            small = cost - trial_cost <= 1e-12 * cost + 1e-30
            unknown, jacobian, left, cost = trial, trial_jacobian, trial_left, trial_cost
            damp = max(damp / 5, 1e-12)
            if small:
                break
        else:
            damp *= 10
            if damp > 1e8:
                break
    return unknown, left.reshape(-1, 2), jacobian


def _model(unknown: np.ndarray, world: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Where the corners should be seen, and the derivative by the nine unknowns, shape (2n, 9)."""
    import numpy as np

    a = unknown
    x, y = world[:, 0], world[:, 1]
    w = a[6] * x + a[7] * y + 1.0
    u, v = (a[0] * x + a[1] * y + a[2]) / w, (a[3] * x + a[4] * y + a[5]) / w
    zero, one = np.zeros_like(x), np.ones_like(x)
    du = np.stack([x, y, one, zero, zero, zero, -u * x, -u * y], axis=1) / w[:, None]
    dv = np.stack([zero, zero, zero, x, y, one, -v * x, -v * y], axis=1) / w[:, None]
    r2, k = u * u + v * v, a[8]
    stretch = 1.0 + k * r2
    jacobian = np.empty((len(x), 2, 9))
    jacobian[:, 0, :8] = (stretch + 2 * k * u * u)[:, None] * du + (2 * k * u * v)[:, None] * dv
    jacobian[:, 1, :8] = (2 * k * u * v)[:, None] * du + (stretch + 2 * k * v * v)[:, None] * dv
    jacobian[:, 0, 8], jacobian[:, 1, 8] = u * r2, v * r2
    return np.stack([u * stretch, v * stretch], axis=1), jacobian.reshape(-1, 9)


def _homography(h: np.ndarray, points: np.ndarray) -> np.ndarray:
    import numpy as np

    points = points.reshape(-1, 2)
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        w = h[2, 0] * points[:, 0] + h[2, 1] * points[:, 1] + h[2, 2]
        return np.asarray((points @ h[:2, :2].T + h[:2, 2]) / w[:, None])


def _ideal_to_photo(ideal: np.ndarray, k1: float, centre: Any, focal: float) -> Any:
    r2 = (ideal**2).sum(axis=1, keepdims=True)
    return ideal * (1.0 + k1 * r2) * focal + centre


def _undistorted(seen: np.ndarray, k1: float) -> np.ndarray:
    """The way back through the lens: r (1 + k1 r²) = r_d by Newton, which settles in a few steps."""
    import numpy as np

    if k1 == 0.0:
        return seen
    rd = np.hypot(seen[:, 0], seen[:, 1])
    r = rd.copy()
    # far outside the photo there may be no way back: what comes out is then not finite, and is refused further on
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        for _ in range(20):
            step = (r * (1 + k1 * r * r) - rd) / np.maximum(1 + 3 * k1 * r * r, 1e-3)
            r = r - step
            if np.abs(step).max(initial=0.0) < 1e-15:
                break
        ratio = np.where(rd > 0, r / rd, 1.0)
    return seen * ratio[:, None]
