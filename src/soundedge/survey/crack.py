"""How long is a crack, and is it wide enough to say how wide?

A crack is a length. Its width is given only where it covers at least four pixels; below that the lens and the
pixels decide what is seen (a 0.1 mm crack at 9.7 px/mm reads 0.34 mm), and the answer is "less than".
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from .flatten import Flat
from .outline import path_length_mm

if TYPE_CHECKING:
    pass

WIDTH_PX_MIN = 4.0
LENGTH_U_PCT = 1.5  # standard uncertainty; rendered cracks of 15 to 40 mm: 1 to 2.5 % short, at most 8 %
LENGTH_U_MIN_MM = 0.5
REACH_MM = 2.5


@dataclass(frozen=True)
class Crack:
    """``width_mm`` or, when it is not resolvable, ``width_below_mm``."""

    length_mm: float
    u_length_mm: float
    width_mm: float | None
    width_below_mm: float | None


def measure_crack(path_mm: list[tuple[float, float]], flat: Flat | None, px_per_mm: float) -> Crack:
    """Length along the taps, and the width at half depth of the dark line where it is resolvable."""
    length = path_length_mm(path_mm)
    u = u_length_mm(length)
    smallest = WIDTH_PX_MIN / px_per_mm
    width = _width_mm(path_mm, flat) if flat is not None else None
    if width is None or width < smallest:
        return Crack(length, u, None, smallest)
    return Crack(length, u, width, None)


def u_length_mm(length_mm: float) -> float:
    """Standard uncertainty of a crack's length: 1.5 %, at least 0.5 mm."""
    return max(LENGTH_U_PCT / 100 * length_mm, LENGTH_U_MIN_MM)


def closed_length_mm(path_mm: list[tuple[float, float]]) -> float | None:
    """Half the way round, when somebody outlined a crack instead of tapping along it; else None.

    An outline comes back near its start and is thin; taps along a crack end far from where they began.
    """
    import math

    if len(path_mm) < 4:
        return None
    length = path_length_mm(path_mm)
    gap = math.dist(path_mm[0], path_mm[-1])
    if gap > 0.15 * length:
        return None
    return (length + gap) / 2


def _width_mm(path_mm: list[tuple[float, float]], flat: Flat) -> float | None:
    """Median width at half depth over the places where a dark line is plain to see; None where it is not."""
    import cv2
    import numpy as np

    path = np.asarray(path_mm, float)
    step = np.hypot(*np.diff(path, axis=0).T)
    along = np.concatenate([[0.0], np.cumsum(step)])
    at = np.linspace(0.08, 0.92, 61) * along[-1]
    place = np.stack([np.interp(at, along, path[:, i]) for i in (0, 1)], axis=1)
    ahead = np.stack([np.interp(at + 0.3, along, path[:, i]) - np.interp(at - 0.3, along, path[:, i]) for i in (0, 1)], axis=1)
    ahead /= np.maximum(np.hypot(*ahead.T), 1e-9)[:, None]
    across = np.stack([-ahead[:, 1], ahead[:, 0]], axis=1)
    offset = np.arange(-REACH_MM, REACH_MM + 1e-9, 0.25 / flat.px_mm)
    points = flat.to_px((place[:, None] + offset[None, :, None] * across[:, None]).reshape(-1, 2)).astype(np.float32)
    points = points.reshape(len(at), len(offset), 2)
    grey = cv2.cvtColor(flat.colour, cv2.COLOR_BGR2GRAY)
    line = cv2.remap(grey, points[..., 0], points[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE).astype(float)
    ground = np.median(np.concatenate([line[:, :20], line[:, -20:]], axis=1), axis=1)
    noise = np.std(line[:, :20])
    widths = []
    for row, level in zip(line, ground):
        deep = int(row.argmin())
        depth = level - row[deep]
        if depth < max(12.0, 4 * noise):
            continue
        half = level - depth / 2
        low, high = deep, deep
        while low > 0 and row[low] < half:
            low -= 1
        while high < len(row) - 1 and row[high] < half:
            high += 1
        if 0 < low and high < len(row) - 1:
            a = offset[low] + (half - row[low]) / (row[low + 1] - row[low]) * (offset[1] - offset[0])
            b = offset[high] - (half - row[high]) / (row[high - 1] - row[high]) * (offset[1] - offset[0])
            widths.append(b - a)
    return float(np.median(widths)) if len(widths) >= 0.5 * len(at) else None
