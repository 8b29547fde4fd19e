"""A hot surface: from what temperature does touching it burn, and when has it cooled that far?

>>> threshold_c("bare_metal", 1.0)
(65.0, 70.0)
>>> threshold_c("bare_metal", 60.0)
(51.0, 51.0)
>>> round(cool_minutes(250, 43, air_c=20, plate_mm=10, density_kg_m3=7850, heat_capacity_j_kgk=490, h_w_m2k=20))
74
"""

from __future__ import annotations

import math
from itertools import pairwise

from ..basis.errors import OutOfRange, Unknown
from ..basis.sentences import say

# Burn thresholds (ISO 13732-1:2006, figures as in EN 563:1994; from memory, check against the print): contact [s] →
# lowest and highest end of the band between "no burn" and "burn" [°C]. From one minute on the band is one value.
THRESHOLDS_C: dict[str, tuple[tuple[float, float, float], ...]] = {
    "bare_metal": ((0.5, 67, 73), (1, 65, 70), (4, 58, 64), (10, 55, 55), (60, 51, 51), (600, 48, 48), (28800, 43, 43)),
    "ceramic_glass_stone": (
        (0.5, 84, 90), (1, 80, 86), (4, 70, 76), (10, 66, 66), (60, 56, 56), (600, 48, 48), (28800, 43, 43)
    ),
    "plastic": ((0.5, 91, 99), (1, 85, 93), (4, 74, 82), (10, 71, 71), (60, 60, 60), (600, 48, 48), (28800, 43, 43)),
}
CONTACT_S_MIN, CONTACT_S_MAX = 0.5, 28800.0


def threshold_c(surface: str, contact_s: float) -> tuple[float, float]:
    """Burn threshold of bare adult skin on a hot, massive surface.

    Parameters
    ----------
    surface : str
        ``bare_metal``, ``plastic`` or ``ceramic_glass_stone``. Others, coated metal among them, are refused.
    contact_s : float
        0.5 to 28800. [s]

    Returns
    -------
    (float, float)
        Lower and upper end of the band. [°C] Below the lower end no burn is expected; between them a burn may
        come; above, it will. Between the published times each end is straight in the logarithm of time.

    Raises
    ------
    Unknown
        A surface that is not held.
    OutOfRange
        A contact time the standard does not cover.
    """
    if surface not in THRESHOLDS_C:
        raise Unknown("surface", say("hazards.burn_surface_unknown", surface=str(surface)[:40], known=', '.join(THRESHOLDS_C)))
    if not CONTACT_S_MIN <= contact_s <= CONTACT_S_MAX:
        raise OutOfRange("contact_s", say("hazards.contact_too_short", contact_s=contact_s))
    points = THRESHOLDS_C[surface]
    for (t0, low0, high0), (t1, low1, high1) in pairwise(points):
        if contact_s <= t1:
            share = math.log(contact_s / t0) / math.log(t1 / t0)
            return low0 + share * (low1 - low0), high0 + share * (high1 - high0)
    raise AssertionError("the last published time is the longest allowed")


def cool_minutes(
    start_c: float, target_c: float, *, air_c: float, plate_mm: float, density_kg_m3: float,
    heat_capacity_j_kgk: float, h_w_m2k: float,
) -> float | None:
    """Time for a plate to cool in still air, one temperature through its thickness.

    Parameters
    ----------
    start_c, target_c, air_c : float
        [°C]
    plate_mm : float
        Above 0. [mm]
    h_w_m2k : float
        Heat transfer of both faces together, radiation in it; about 20 when both are free, 10 when one is. [W/(m²K)]

    Returns
    -------
    float or None
        [min]; 0 when it is cool enough already, None when the air is too warm for it ever to be.

    Notes
    -----
    t = ρ·c·s/h · ln((T₀ − T_a)/(T − T_a)). The spot also loses heat sideways, so a heated spot on a large plate
    cools sooner; a casing heated through cools later.
    """
    if start_c <= target_c:
        return 0.0
    if target_c <= air_c:
        return None
    per_s = h_w_m2k / (density_kg_m3 * heat_capacity_j_kgk * plate_mm / 1000.0)
    return math.log((start_c - air_c) / (target_c - air_c)) / per_s / 60.0
