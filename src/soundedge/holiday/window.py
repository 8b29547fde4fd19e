"""Between which two voltages does a test over this film find holes and harm nothing?

>>> air = AirGap(density=1.0, densest=1.0, moist=1.0)
>>> ectfe = Strength.of([(1000.0, 20.0)])
>>> w = window(620, 880, air=air, strength=ectfe, fraction=0.5)
>>> round(w.floor_v), round(w.low_v), round(w.high_v), w.empty
(3935, 4362, 6200, False)

When the thinnest place cannot bear what the thickest place needs, the film is cut into zones that can:

>>> w = window(500, 1500, air=air, strength=ectfe, fraction=0.5)
>>> w.empty
True
>>> [(round(a), round(b)) for a, b in pieces(500, 1500, air=air, strength=ectfe, fraction=0.5)]
[(500, 802), (802, 1500)]
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from .gap import AirGap
from .strength import Strength

WET_SPONGE_UM = 500.0     # 20 mil: film up to here is tested with the wet sponge
STEP_V = 50.0             # what a detector can be set to
WIDTH = 1.05              # a window narrower than this is inside the detector's own 5 %
MARGIN = 1.10             # the suggested setting over the lowest: 5 % of the setting, 5 % of a worn brush (own proposal)
PIECES_MAX = 3            # more zones than that inside one range of film are masked by nobody (own proposal)
WIDEST = 3.0              # no window of a cut film need be wider
READING_SHARE = 0.05      # what a reading of a rough, curved film may be off by (own proposal)


@dataclass(frozen=True)
class Window:
    """``low_v`` finds holes in the thickest film, ``high_v`` leaves the thinnest film alone. V.

    ``floor_v`` is the lowest of the published models (or the procedure's demand): below it a test proves nothing;
    from it to ``low_v`` a coupon must prove the setting. ``high_v`` and ``empty`` are None when no strength is
    known: the window is then open, not passed.
    """

    air_gap_v: float
    floor_v: float
    low_v: float
    high_v: float | None
    empty: bool | None

    @property
    def settable(self) -> bool:
        """Whether a detector can be set inside it: at least 5 % wide."""
        return suggested_v(self.low_v, self.high_v) is not None

    @property
    def by_coupon(self) -> bool:
        """Whether some setting may serve once a coupon has proved it, though none is sure to."""
        return self.high_v is not None and not self.settable and self.floor_v <= self.high_v


def no_demand(least_um: float, most_um: float) -> float:
    """The demand of a procedure that sets none."""
    return 0.0


def window(
    least_um: float,
    most_um: float,
    *,
    air: AirGap,
    strength: Strength | None,
    fraction: float,
    demand: Callable[[float, float], float] = no_demand,
) -> Window:
    """The window of one zone.

    Parameters
    ----------
    least_um, most_um : float
        Thinnest and thickest film in the zone, µm.
    air : AirGap
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
    air_gap_v, demanded_v = air.surest_v(most_um), demand(least_um, most_um)
    low_v = max(air_gap_v, demanded_v)
    high_v = None if strength is None else fraction * strength.breakdown_v(least_um)
    return Window(air_gap_v, max(air.lowest_v(most_um), demanded_v), low_v, high_v,
                  None if high_v is None else low_v > high_v)


def pieces(
    least_um: float,
    most_um: float,
    *,
    air: AirGap,
    strength: Strength,
    fraction: float,
    demand: Callable[[float, float], float] = no_demand,
) -> list[tuple[float, float]]:
    """Cut a film range into zones that a detector can be set for, thinnest first; [] when that is no advice.

    As few zones as will do, with windows as wide as that allows. A thickness without a window even alone, a zone no
    wider than what two readings may be off by, and more zones than can be masked make the answer empty.
    """
    def cut(width: float) -> list[tuple[float, float]]:
        out: list[tuple[float, float]] = []
        start = float(least_um)
        while len(out) < PIECES_MAX:
            high_v = fraction * strength.breakdown_v(start) / width

            def bears(thick_um: float, start: float = start, high_v: float = high_v) -> bool:
                return max(air.surest_v(thick_um), demand(start, thick_um)) <= high_v

            if bears(most_um):
                return [*out, (start, float(most_um))]
            below, above = start, float(most_um)
            for _ in range(40):
                middle = (below + above) / 2.0
                below, above = (middle, above) if bears(middle) else (below, middle)
            end = float(math.floor(below))
            if end <= start:
                return []
            out.append((start, end))
            start = end
        return []

    fewest = cut(WIDTH)
    if len(fewest) < 2:
        return fewest
    narrow, wide = WIDTH, WIDEST
    for _ in range(25):
        middle = (narrow + wide) / 2.0
        narrow, wide = (middle, wide) if len(cut(middle)) == len(fewest) else (narrow, middle)
    even = cut(narrow)
    return even if all(_told_apart(one) for one in even) else []


def _told_apart(piece: tuple[float, float]) -> bool:
    return piece[1] - piece[0] > 2.0 * READING_SHARE * piece[0]


def suggested_v(low_v: float, high_v: float | None) -> float | None:
    """A setting inside the window in steps of 50 V, near its lower end: 10 % above it for the 5 % of the setting and
    a worn brush, or the middle of a narrower window. None when the window is narrower than 5 % or than a step.

    An own proposal, no source.

    >>> suggested_v(3935, 4495), suggested_v(3000, 9000), suggested_v(3000, None), suggested_v(4000, 4190)
    (4250.0, 3300.0, None, None)
    """
    if high_v is None or high_v < WIDTH * low_v:
        return None
    wanted = min(MARGIN * low_v, (low_v + high_v) / 2.0)
    above = math.ceil(round(wanted / STEP_V, 9)) * STEP_V
    for volts in (above, above - STEP_V):
        if low_v <= volts <= high_v:
            return volts
    return None
