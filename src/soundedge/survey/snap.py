"""Can the edge the taps mean be seen, and where exactly is it?

The tapped outline is walked round on the flattened picture. Along every short line across it the colour step
between inside and outside is weighed, and dynamic programming picks the closed line with the strongest steps and
the least zig-zag. It is only a proposal: shown beside the taps, taken over by a person or not at all.

Where inside and outside differ too little in colour (a blister), the strongest step is some shadow. So the
difference is measured first: d' = |difference of means| / common spread along the best colour direction; below
2.5 no edge is proposed.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from .flatten import Flat

if TYPE_CHECKING:
    import numpy as np

CONTRAST_MIN = 2.5
REACH_MM = 1.5
STEP_MM = 0.25
SUB_MM = 0.05
STIFF = 0.6


@dataclass(frozen=True)
class Snap:
    """``outline_mm``: the proposed edge, (n, 2), or None when the contrast ``d_prime`` is too low."""

    d_prime: float
    outline_mm: np.ndarray | None


def snap(flat: Flat, outline_mm: np.ndarray, *, reach_mm: float | None = None) -> Snap:
    """Propose an edge near a tapped outline.

    ``outline_mm``: (n, 2), closed, not crossing itself; a curve through the taps is better than straight lines.
    ``reach_mm``: how far from it the edge is looked for; 1.5 mm, less on small damage.
    """
    import cv2
    import numpy as np
    from scipy.ndimage import gaussian_filter1d

    ring = _evenly(outline_mm, STEP_MM)
    area = 0.5 * abs(float(np.dot(ring[:, 0], np.roll(ring[:, 1], -1)) - np.dot(ring[:, 1], np.roll(ring[:, 0], -1))))
    reach = reach_mm or float(min(REACH_MM, 0.2 * np.sqrt(area)))
    lab = cv2.cvtColor(flat.colour, cv2.COLOR_BGR2LAB).astype(np.float32)
    inside, outside = _samples(flat, lab, ring, reach)
    if len(inside) < 30 or len(outside) < 30:
        return Snap(0.0, None)
    direction, d_prime = _direction(inside, outside)
    if d_prime < CONTRAST_MIN:
        return Snap(d_prime, None)
    out = _outward(ring)
    offset = np.arange(-reach, reach + SUB_MM / 2, SUB_MM)
    points = flat.to_px((ring[:, None] + offset[None, :, None] * out[:, None]).reshape(-1, 2)).astype(np.float32)
    points = points.reshape(len(ring), len(offset), 2)
    value = cv2.remap(lab, points[..., 0], points[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE) @ direction
    # from inside to outside the projected colour rises; noise is smoothed across by about a pixel and along by a step
    value = gaussian_filter1d(value, max(0.6 / flat.px_mm / SUB_MM, 1.0), axis=1, mode="nearest")
    value = gaussian_filter1d(value, 1.0, axis=0, mode="wrap")
    rise = np.gradient(value, axis=1)
    rise = np.clip(rise, 0, None)
    rise /= max(float(np.quantile(rise.max(axis=1), 0.5)), 1e-6)
    path = _closed_path(-np.minimum(rise, 1.5), STIFF)
    place = offset[path] + _between(rise, path) * SUB_MM
    place = gaussian_filter1d(place, 0.8, mode="wrap")
    return Snap(d_prime, ring + place[:, None] * out)


def _evenly(outline: np.ndarray, step: float) -> np.ndarray:
    import numpy as np

    closed = np.concatenate([outline, outline[:1]])
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(closed, axis=0).T))])
    n = int(np.clip(round(along[-1] / step), 24, 4000))
    at = np.arange(n) / n * along[-1]
    return np.stack([np.interp(at, along, closed[:, i]) for i in (0, 1)], axis=1)


def _outward(ring: np.ndarray) -> np.ndarray:
    """Unit normals of a closed ring, smoothed so that taps do not make kinks in them."""
    import numpy as np
    from scipy.ndimage import gaussian_filter1d

    tangent = np.roll(ring, -1, axis=0) - np.roll(ring, 1, axis=0)
    tangent = gaussian_filter1d(tangent, 3.0, axis=0, mode="wrap")
    turn = np.sign(np.dot(ring[:, 0], np.roll(ring[:, 1], -1)) - np.dot(ring[:, 1], np.roll(ring[:, 0], -1)))
    out = turn * np.stack([tangent[:, 1], -tangent[:, 0]], axis=1)
    return np.asarray(out / np.maximum(np.hypot(*out.T), 1e-9)[:, None])


def _samples(flat: Flat, lab: np.ndarray, ring: np.ndarray, reach: float) -> Any:
    """Colours well inside, and in a band outside that stays clear of the doubtful edge."""
    import cv2
    import numpy as np

    mask = np.zeros(lab.shape[:2], np.uint8)
    cv2.fillPoly(mask, [np.round(flat.to_px(ring)).astype(np.int32)], 255)
    clear = min(0.6, 0.5 * reach)
    deep = cv2.distanceTransform(mask, cv2.DIST_L2, 5) / flat.px_mm
    away = cv2.distanceTransform(255 - mask, cv2.DIST_L2, 5) / flat.px_mm
    inside = lab[deep > clear]
    outside = lab[(away > clear) & (away < clear + 3.0)]
    return inside[:: max(1, len(inside) // 4000)], outside[:: max(1, len(outside) // 4000)]


def _direction(inside: np.ndarray, outside: np.ndarray) -> tuple[np.ndarray, float]:
    """Best colour direction (linear discriminant) and the separation along it."""
    import numpy as np

    gap = outside.mean(axis=0) - inside.mean(axis=0)
    spread = 0.5 * (np.cov(inside.T) + np.cov(outside.T)) + np.eye(3)
    direction = np.linalg.solve(spread, gap)
    d_prime = float(np.sqrt(max(gap @ direction, 0.0)))
    return (direction / max(float(np.linalg.norm(direction)), 1e-9)).astype(np.float32), d_prime


def _closed_path(cost: np.ndarray, stiff: float) -> np.ndarray:
    """The closed line of least cost: one offset for every place round, neighbours at most two steps apart.

    Run twice round: where the first round has settled half-way is where the second must start and end.
    """
    import numpy as np

    n = len(cost)
    free = _open_path(cost, stiff, None)
    turned = np.roll(cost, -(n // 2), axis=0)
    start = int(free[n // 2])
    path = _open_path(np.concatenate([turned, turned[:1]]), stiff, start)[:-1]
    return np.roll(path, n // 2)


def _open_path(cost: np.ndarray, stiff: float, fixed: int | None) -> np.ndarray:
    import numpy as np

    n, m = cost.shape
    far = 1e9
    total = cost[0].copy()
    if fixed is not None:
        total[:] = far
        total[fixed] = cost[0, fixed]
    came = np.zeros((n, m), np.int16)
    moves = np.array([0, -1, 1, -2, 2, -3, 3])
    price = stiff * (moves / 4.0) ** 2
    for i in range(1, n):
        options = np.full((len(moves), m), far)
        for k, move in enumerate(moves):
            if move == 0:
                options[k] = total
            elif move > 0:
                options[k, move:] = total[:-move] + price[k]
            else:
                options[k, :move] = total[-move:] + price[k]
        best = options.argmin(axis=0)
        came[i] = moves[best]
        total = options[best, np.arange(m)] + cost[i]
    path = np.empty(n, int)
    path[-1] = int(total.argmin()) if fixed is None else fixed
    for i in range(n - 1, 0, -1):
        path[i - 1] = path[i] - came[i, path[i]]
    return path


def _between(rise: np.ndarray, path: np.ndarray) -> np.ndarray:
    """Top of a parabola through the three values at the path: −½ to ½ of a step."""
    import numpy as np

    rows = np.arange(len(path))
    at = np.clip(path, 1, rise.shape[1] - 2)
    low, middle, high = rise[rows, at - 1], rise[rows, at], rise[rows, at + 1]
    bend = low - 2 * middle + high
    with np.errstate(invalid="ignore", divide="ignore"):
        shift = np.where(bend < -1e-9, 0.5 * (low - high) / bend, 0.0)
    return np.clip(shift, -0.5, 0.5)
