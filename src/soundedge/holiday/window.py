"""Between which two voltages does a test over this film find holes and harm nothing?

>>> ectfe = Strength.of([(3000.0, 14.5)])
>>> w = window(620, 880, density=1.0, strength=ectfe, fraction=0.5)
>>> round(w.low_v), round(w.high_v), w.empty
(3935, 4495, False)

When the thinnest place cannot bear what the thickest place needs, the film is cut into pieces that can:

>>> w = window(500, 900, density=1.0, strength=ectfe, fraction=0.5)
>>> w.empty
True
>>> [(round(a), round(b)) for a, b in pieces(500, 900, density=1.0, strength=ectfe, fraction=0.5)]
[(500, 790), (790, 900)]
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from .gap import uniform_gap_v
from .strength import Strength

WET_SPONGE_UM = 500.0     # 20 mil: film up to here is tested with the wet sponge
PIECES_MAX = 12


@dataclass(frozen=True)
class Window:
    """``low_v`` finds holes in the thickest film, ``high_v`` leaves the thinnest film alone. V.

    ``high_v`` and ``empty`` are None when no strength is known: the window is then open, not passed.
    """

    air_gap_v: float
    low_v: float
    high_v: float | None
    empty: bool | None


def no_demand(least_um: float, most_um: float) -> float:
    """The demand of a procedure that sets none."""
    return 0.0


def window(
    least_um: float,
    most_um: float,
    *,
    density: float,
    strength: Strength | None,
    fraction: float,
    demand: Callable[[float, float], float] = no_demand,
) -> Window:
    """The window of one zone.

    Parameters
    ----------
    least_um, most_um : float
        Thinnest and thickest film in the zone, µm.
    density : float
        Relative air density.
    strength : Strength or None
        None when nobody knows it.
    fraction : float
        Share of the strength that may be used, above 0 to 1.
    demand : function of (thinnest, thickest film in µm)
        Voltage the procedure's own rule asks for in a zone, V; it must not fall as the thickest grows.

    Returns
    -------
    Window

    Notes
    -----
    low = max(air gap of the thickest film, the procedure's rule); high = fraction · E(t_min) · t_min.
    """
    air_gap_v = uniform_gap_v(most_um, density)
    low_v = max(air_gap_v, demand(least_um, most_um))
    high_v = None if strength is None else fraction * strength.breakdown_v(least_um)
    return Window(air_gap_v, low_v, high_v, None if high_v is None else low_v > high_v)


def pieces(
    least_um: float,
    most_um: float,
    *,
    density: float,
    strength: Strength,
    fraction: float,
    demand: Callable[[float, float], float] = no_demand,
) -> list[tuple[float, float]]:
    """Cut a film range into zones whose windows are not empty, thinnest first; [] when none can be.

    Each piece is as long as it can be. A thickness that has no window even alone makes the answer
    empty: the method must change there, not the voltage.
    """
    def low_v(thick_um: float) -> float:
        return max(uniform_gap_v(thick_um, density), demand(start, thick_um))

    out: list[tuple[float, float]] = []
    start = float(least_um)
    while len(out) < PIECES_MAX:
        high_v = fraction * strength.breakdown_v(start)
        if low_v(most_um) <= high_v:
            return [*out, (start, float(most_um))]
        if low_v(start) > high_v:
            return []
        below, above = start, float(most_um)
        for _ in range(60):
            middle = (below + above) / 2.0
            below, above = (middle, above) if low_v(middle) <= high_v else (below, middle)
        end = math.floor(below)
        if end <= start:
            return []
        out.append((start, float(end)))
        start = float(end)
    return []


def suggested_v(low_v: float, high_v: float | None) -> float | None:
    """A setting inside the window, near its lower end: 15 % above it for the 5 % of the setting, the 5 % of
    the formula and a worn brush; the middle of a narrower window; None when there is no window.

    Rounded up to 50 V where that stays inside. An own proposal, no source.

    >>> suggested_v(3935, 4495), suggested_v(3000, 9000), suggested_v(3000, None)
    (4250.0, 3450.0, None)
    """
    if high_v is None or low_v > high_v:
        return None
    wanted = min(1.15 * low_v, (low_v + high_v) / 2.0)
    rounded = math.ceil(wanted / 50.0) * 50.0
    return rounded if rounded <= high_v else wanted
