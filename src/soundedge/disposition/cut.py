"""What film is left under a cut too narrow for the gauge?

A gauge's foot bridges a cut: 2 mm wide, foot 8 mm, it shows the film beside it. The film left is what stands beside the cut
less the cut's own depth, both read at three places or more.

>>> film_under([1210, 1214, 1208], [0.42, 0.40, 0.39], u_beside_um=20.0, u_depth_mm=0.03)
(790.0, 36.1)
>>> bridges(2.0, 8.0), bridges(16.0, 8.0)
(True, False)
"""

from __future__ import annotations

import math
from collections.abc import Sequence

PLACES_MIN = 3  # own judgement
FEET = 2.0  # a cut narrower than this many feet is bridged; own judgement
FOOT_MM = 8.0  # of a gauge whose foot nobody stated; own judgement
LOST = ("chip", "gouge", "cut", "scratch", "crack", "thin_area", "wear")  # film is gone there; a foot can stand over the hollow
_DRAWN = 1e-3  # a circle drawn as a polygon is a little narrower than it is


def bridges(width_mm: float, foot_mm: float | None) -> bool:
    """Whether a gauge's foot stands over a hollow instead of in it.

    Parameters
    ----------
    width_mm : float
        Diameter of the largest circle that fits in, mm, above 0.
    foot_mm : float or None
        Diameter of the gauge's foot, mm; None: 8 mm is taken.
    """
    return width_mm < FEET * (foot_mm or FOOT_MM) * (1 - _DRAWN)


def film_under(beside_um: Sequence[float], depth_mm: Sequence[float], *, u_beside_um: float | None = None,
               u_depth_mm: float | None = None) -> tuple[float, float | None]:
    """The film left at the deepest place and its standard uncertainty, µm.

    Parameters
    ----------
    beside_um, depth_mm : sequences of float
        Film beside the cut, µm, and the cut's depth below the film's surface, mm, place by place and equally long.
    u_beside_um, u_depth_mm : float or None
        Standard uncertainties; where one of them is not stated, that of the film left is not known.

    Returns
    -------
    tuple of float and (float or None)
        left = min(beside − 1000·depth), 0 where nothing is left; u² = u_beside² + (1000·u_depth)² (JCGM 100:2008, 5.1.2).
    """
    left = min(film - 1000 * depth for film, depth in zip(beside_um, depth_mm, strict=True))
    u = None if u_beside_um is None or u_depth_mm is None else round(math.hypot(u_beside_um, 1000 * u_depth_mm), 1)
    return max(round(left, 3), 0.0), u


def width_mm(outline: Sequence[tuple[float, float]]) -> float:
    """The diameter of the largest circle that fits into an outline, mm."""
    from shapely import maximum_inscribed_circle
    from shapely.geometry import Polygon

    return float(2 * maximum_inscribed_circle(Polygon(outline).buffer(0)).length)
