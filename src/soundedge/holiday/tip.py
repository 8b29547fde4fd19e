"""How far below the smooth-electrode value can a brush's wire tips spark?

A wire tip gathers the field, so a brush jumps a long gap at less than the uniform-field voltage. This is
an estimate, told beside the window and never lowering it: it is for fine, clean, positive tips, and a worn
brush loses it. A coupon with a drilled hole decides.

>>> [round(tip_gap_v(gap_um=635, density=1.0, tip_radius_um=r), -1) for r in (50, 100)]
[2370.0, 2750.0]
"""

from __future__ import annotations

import math
from functools import lru_cache

from .gap import streamer_gap_v

_AVALANCHE = 9.15  # ln of the electrons in an avalanche that turns into a streamer (Petcharaks 1995)


@lru_cache(maxsize=4096)  # the same film under the same air is asked for by every reading, and again with every entry
def tip_gap_v(gap_um: float, density: float, tip_radius_um: float) -> float:
    """Streamer inception of a hyperboloid tip over a plane, at most the uniform value.

    Parameters
    ----------
    gap_um, tip_radius_um : float
        µm. Not reliable when the radius comes near the gap.
    density : float
        Relative air density.

    Returns
    -------
    float
        V, an estimate.

    Notes
    -----
    Field on the axis E(x) = 2V / [ln(4d/r)·(r + 2x − x²/d)], x from the tip; the least V with
    ∫ α_eff dx = 9.15 over the stretch where α_eff is positive. α_eff as in ``gap.streamer_gap_v``.
    """
    ceiling = streamer_gap_v(gap_um, density)
    d, r, p = gap_um / 1000.0, tip_radius_um / 1000.0, 1.01325 * density
    if 4.0 * d / r <= math.e:
        return ceiling
    low, high = 0.0, ceiling
    if _growth(high / 1000.0, d, r, p) < _AVALANCHE:
        return ceiling
    for _ in range(40):
        middle = (low + high) / 2.0
        low, high = (middle, high) if _growth(middle / 1000.0, d, r, p) < _AVALANCHE else (low, middle)
    return high


def _growth(kv: float, d: float, r: float, p: float, steps: int = 200) -> float:
    """∫ α_eff dx, from the tip to where the field no longer multiplies electrons; Simpson's rule in √x,
    because the field changes fastest at the tip."""
    scale = 2.0 * kv / math.log(4.0 * d / r)
    critical = (2.165 + math.sqrt(0.2873)) * p
    room = scale / critical - r  # 2x − x²/d at the end of the multiplying stretch
    if room <= 0:
        return 0.0
    reach = d if room >= d else d * (1.0 - math.sqrt(1.0 - room / d))

    def grown(s: float) -> float:
        x = s * s
        reduced = scale / (r + 2.0 * x - x * x / d) / p
        alpha = 1.6053 * ((reduced - 2.165) ** 2 - 0.2873) if reduced <= 7.94 else 16.78 * reduced - 80.0
        return max(alpha, 0.0) * p * 2.0 * s

    h = math.sqrt(reach) / steps
    total = grown(0.0) + grown(math.sqrt(reach))
    total += sum((4.0 if i % 2 else 2.0) * grown(i * h) for i in range(1, steps))
    return total * h / 3.0
