"""Where are the marks of the card in this photo, to a few hundredths of a pixel?

They are found in a reduced picture, which is quick. Then every side of every mark is measured again at full
resolution: the edge is located along many short lines across the side, a straight line is fitted, and
neighbouring lines are crossed. Corners from a detector alone sit half a pixel inside and move with blur; a
straight edge between black and white does not move when it is blurred evenly.

Pixel (0, 0) is the *centre* of the first pixel: a mark drawn on pixels 100 to 299 has its edges at 99.5 and 299.5.
"""

from __future__ import annotations

from dataclasses import dataclass
from hashlib import sha256
from typing import TYPE_CHECKING, Any

from ..basis.remembered import remembered
from .card import MODULES, sheet_of

if TYPE_CHECKING:
    import numpy as np

LONG_SIDE_PX = (1400, 2800, 4200)  # of the reduced picture, the next one when too little is found
ALONG = 34  # lines across each side
CONTRAST_MIN = 20.0  # grey levels between the white round a mark and its black border
LINE_RMS_MAX_PX = 1.5


@dataclass(frozen=True)
class Mark:
    """One mark found. ``corners_px``: (4, 2), top left, top right, bottom right, bottom left as drawn.

    ``blur_px``: standard deviation of the smear over its edges; ``rms_px``: how straight its sides are.
    """

    number: int
    corners_px: np.ndarray
    blur_px: float
    rms_px: float


@remembered(16, key=lambda grey: (grey.shape, grey.dtype.str, sha256(grey.tobytes()).digest()))
def find_marks(grey: np.ndarray) -> list[Mark]:
    """All marks of our cards in a grey picture, measured at full resolution, sorted by number.

    A mark whose sides cannot be measured (glare, a finger, the edge of the photo) is left out. The same number
    may stand twice: two cards.
    """
    for longest in LONG_SIDE_PX:
        scale = min(1.0, longest / max(grey.shape))
        found = _detect(grey, scale)
        ours = {number for number, _ in found}
        sheet = sheet_of(next(iter(ours))) if ours else None
        enough = sheet is not None and len(ours) >= 0.75 * len(sheet.tags)
        if enough or scale == 1.0:
            break
    return measure(grey, found, 1.0 / scale)


def _detect(grey: np.ndarray, scale: float) -> list[tuple[int, np.ndarray]]:
    import cv2

    small = grey
    if scale < 1.0:
        size = (round(grey.shape[1] * scale), round(grey.shape[0] * scale))
        small = cv2.resize(grey, size, interpolation=cv2.INTER_AREA)
    corners, numbers, _ = _detector().detectMarkers(small)
    if numbers is None:
        return []
    sx, sy = grey.shape[1] / small.shape[1], grey.shape[0] / small.shape[0]
    out = []
    for number, four in zip(numbers.ravel().tolist(), corners):
        if sheet_of(number) is not None:
            full = (four.reshape(4, 2).astype(float) + 0.5) * (sx, sy) - 0.5
            out.append((number, full))
    return out


def _detector() -> Any:
    import cv2

    parameters = cv2.aruco.DetectorParameters()
    parameters.adaptiveThreshWinSizeMin = 7
    parameters.adaptiveThreshWinSizeMax = 27
    parameters.adaptiveThreshWinSizeStep = 10
    parameters.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_NONE
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    return cv2.aruco.ArucoDetector(dictionary, parameters)


def measure(grey: np.ndarray, found: list[tuple[int, np.ndarray]], slack_px: float = 1.0) -> list[Mark]:
    """Measure the sides of marks found roughly. ``slack_px``: how far off the rough corners may be."""
    import numpy as np

    if not found:
        return []
    rough = np.array([four for _, four in found])  # (n, 4, 2)
    # the first pass looks widely, the second closely round the first one's lines
    corners, _, _, _ = _pass(grey, rough, reach_modules=0.75, slack_px=slack_px)
    corners, blur, rms, contrast = _pass(grey, corners, reach_modules=0.6, slack_px=0.0)
    marks = []
    for i, (number, four) in enumerate(found):
        moved = np.abs(corners[i] - four).max()
        side = np.linalg.norm(four - np.roll(four, -1, axis=0), axis=1)
        if (np.isfinite(corners[i]).all() and contrast[i] >= CONTRAST_MIN and rms[i] <= LINE_RMS_MAX_PX
                and moved <= max(0.12 * side.max(), 3 * slack_px)):
            marks.append(Mark(number, corners[i], float(blur[i]), float(rms[i])))
    return _each_once(sorted(marks, key=lambda mark: (mark.number, mark.corners_px[0, 0])))


def _each_once(marks: list[Mark]) -> list[Mark]:
    """One mark found twice on the same place (by its border and by its edge) is one mark; on two places, two cards."""
    import numpy as np

    kept: list[Mark] = []
    for mark in marks:
        side = np.linalg.norm(mark.corners_px[1] - mark.corners_px[0])
        twin = next((k for k in kept if k.number == mark.number
                     and np.linalg.norm(k.corners_px.mean(axis=0) - mark.corners_px.mean(axis=0)) < side / 2), None)
        if twin is None:
            kept.append(mark)
        elif mark.rms_px < twin.rms_px:
            kept[kept.index(twin)] = mark
    return kept


def _pass(grey: np.ndarray, corners: np.ndarray, *, reach_modules: float, slack_px: float) -> tuple[np.ndarray, ...]:
    """One measurement of all sides: new corners (n, 4, 2), blur, straightness and contrast of each mark."""
    import cv2
    import numpy as np

    a, b = corners, np.roll(corners, -1, axis=1)
    side = b - a
    length = np.linalg.norm(side, axis=2)  # (n, 4)
    unit = side / np.maximum(length, 1e-9)[..., None]
    out = np.stack([unit[..., 1], -unit[..., 0]], axis=-1)  # outward for corners running clockwise on the screen
    # across: one module is an eighth of the neighbouring sides
    module = 0.5 * (np.roll(length, 1, axis=1) + np.roll(length, -1, axis=1)) / MODULES
    reach = np.maximum(reach_modules * module, 1.2) + slack_px
    steps = int(np.clip(np.ceil(reach.max() * 4), 8, 96)) * 2 + 1
    offset = np.linspace(-1, 1, steps)[None, None] * reach[..., None]  # (n, 4, m)
    t = 0.1 + 0.8 * ((np.arange(ALONG) * 0.618034 + 0.5) % 1.0)  # uneven, so that no beat with the pixels turns a side
    foot = a[:, :, None] + t[None, None, :, None] * side[:, :, None]  # (n, 4, k, 2)
    place = foot[:, :, :, None] + offset[:, :, None, :, None] * out[:, :, None, None]  # (n, 4, k, m, 2)
    flat = place.reshape(-1, steps, 2).astype(np.float32)
    values = _sample(grey, flat, cv2).reshape(*place.shape[:-1])
    h = offset[..., 1] - offset[..., 0]  # (n, 4)
    slope = np.clip(np.diff(values, axis=-1), 0, None)  # dark inside, light outside: rises outwards
    middle = 0.5 * (offset[..., 1:] + offset[..., :-1])  # (n, 4, m-1)
    # keep the steepest rise and what belongs to it
    peak = slope.max(axis=-1, keepdims=True)
    weight = np.clip(slope - 0.15 * peak, 0.0, None)
    total = weight.sum(axis=-1)
    with np.errstate(invalid="ignore", divide="ignore"):
        edge = (weight * middle[:, :, None]).sum(axis=-1) / total  # (n, 4, k)
    good = (peak[..., 0] > 1.0) & np.isfinite(edge)
    intercept, tilt, rms, kept = _lines(t - 0.5, edge, good)
    # contrast and blur from the side's mean profile, aligned by its own line
    low = np.quantile(values.min(axis=-1), 0.5, axis=-1)
    high = np.quantile(values.max(axis=-1), 0.5, axis=-1)
    contrast = high - low
    steepest = np.quantile(peak[..., 0], 0.5, axis=-1) / np.maximum(h, 1e-9)
    with np.errstate(invalid="ignore", divide="ignore"):
        blur = contrast / (np.sqrt(2 * np.pi) * steepest)
    # new lines: through a + t side + (intercept + tilt (t - 1/2)) out
    start = a + (intercept - 0.5 * tilt)[..., None] * out
    end = b + (intercept + 0.5 * tilt)[..., None] * out
    start[~kept], end[~kept] = np.nan, np.nan
    blur = _true_blur(blur / np.maximum(module, 1e-9)) * module
    return _cross(start, end), np.median(blur, axis=1), rms.max(axis=1), contrast.min(axis=1)


def _true_blur(seen: np.ndarray) -> np.ndarray:
    """Blur in modules from the blur as it looks: a strong one also lifts the black border and hides itself.

    Seen between the black border (one module wide, half white data behind it) and 0.6 module outside:
    contrast Φ(0.6/s) − 1.5 (1 − Φ(0.5/s)), steepness 1 − 0.5 exp(−1/2s²), both of a blur s.
    """
    import math

    import numpy as np

    def looks(s: float) -> float:
        def phi(z: float) -> float:
            return 0.5 * (1 + math.erf(z / math.sqrt(2)))

        return s * (phi(0.6 / s) - 1.5 * (1 - phi(0.5 / s))) / (1 - 0.5 * math.exp(-0.5 / s**2))

    true = np.linspace(0.005, 0.9, 180)
    return np.asarray(np.interp(seen, [looks(float(s)) for s in true], true))


def _sample(grey: np.ndarray, flat: np.ndarray, cv2: Any) -> np.ndarray:
    """Grey values between pixels; only the rows of the picture that are needed are handed over in pieces."""
    import numpy as np

    out = np.empty(flat.shape[:2], np.float32)
    rows = 20_000  # the sampler takes fewer than 32768 rows at once
    for first in range(0, flat.shape[0], rows):
        piece = flat[first : first + rows]
        out[first : first + rows] = cv2.remap(
            grey, piece[..., 0], piece[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
        )
    return out


def _lines(t: np.ndarray, edge: np.ndarray, good: np.ndarray) -> tuple[np.ndarray, ...]:
    """Straight line through the edge places of every side, outliers dropped twice: intercept, tilt, rms, whether kept."""
    import numpy as np

    weight = good.astype(float)
    value = np.where(good, edge, 0.0)
    for _ in range(3):
        n = weight.sum(axis=-1)
        with np.errstate(invalid="ignore", divide="ignore"):
            mt = (weight * t).sum(axis=-1) / n
            mv = (weight * value).sum(axis=-1) / n
            var = (weight * (t - mt[..., None]) ** 2).sum(axis=-1)
            tilt = (weight * (t - mt[..., None]) * (value - mv[..., None])).sum(axis=-1) / var
            intercept = mv - tilt * mt
            left = value - intercept[..., None] - tilt[..., None] * t
            rms = np.sqrt((weight * left**2).sum(axis=-1) / n)
            weight = np.where(good & (np.abs(left) <= 2.5 * rms[..., None] + 0.02), 1.0, 0.0)
    kept = (n >= 0.6 * t.size) & np.isfinite(intercept) & np.isfinite(tilt)
    return np.nan_to_num(intercept), np.nan_to_num(tilt), np.nan_to_num(rms, nan=1e9), kept


def _cross(start: np.ndarray, end: np.ndarray) -> np.ndarray:
    """Corner i is where side i-1 meets side i."""
    import numpy as np

    p, r = np.roll(start, 1, axis=1), np.roll(end - start, 1, axis=1)
    q, s = start, end - start
    cross = r[..., 0] * s[..., 1] - r[..., 1] * s[..., 0]
    gap = q - p
    with np.errstate(invalid="ignore", divide="ignore"):
        along = (gap[..., 0] * s[..., 1] - gap[..., 1] * s[..., 0]) / cross
    return np.asarray(p + along[..., None] * r)
