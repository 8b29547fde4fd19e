"""What does the heat log prove after the work: did the bond line fuse, and was the surface kept below its limit?

Heat runs down from the face it goes in by. Heated from the front, the back is a lower bound of the bond line and the
polymer's surface an upper one; heated from the back it is the other way round; from both, only the hotter of the two bounds
it, from above. A lower bound above fusion proves a hot bond, an upper one below fusion a cold one; nothing else does.

>>> rows = [Row(0, 40, "back_contact"), Row(300, 95, "back_contact"), Row(310, 205, "polymer")]
>>> told = judge_log(rows, fusion_c=185, limit_c=260, dwell_s=60, heated_from="front")
>>> told.how, told.bond_high_c, told.bond_dwell_s
('back', 95.0, 0.0)
>>> judge_log(rows, fusion_c=185, limit_c=260, dwell_s=60, heated_from="back").how
'surface'
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from .infrared import true_c

E_TRUE = {"polymer": 0.91, "painted_dot": 0.95}
GAP_S = 300.0
"""Between readings further apart than this nothing is taken for granted."""
"""A polymer surface that falls faster than 60 K in 30 s lies on cold steel (own estimate from the model)."""


@dataclass(frozen=True)
class Row:
    """One row of a heat log: s, °C, what was aimed at, emissivity the instrument was set to."""

    time_s: float
    reading_c: float
    aimed_at: str
    emissivity_set: float = 0.95


@dataclass(frozen=True)
class LogTold:
    """What the log says, °C and s; None where nothing in it says it. ``how`` names what stands for the bond line: back,
    surface, dot, surface_less_gap or nothing; ``bound``: whether that is a lower bound of it, or the steel itself."""

    how: str
    bond_high_c: float | None
    bond_dwell_s: float | None
    bound: bool
    surface_high_c: float | None
    surface_over_s: float
    longest_gap_s: float
    quick_fall_k_s: float | None
    ignored: int
    bond: tuple[tuple[float, float], ...]
    surface: tuple[tuple[float, float], ...]


def judge_log(
    rows: Sequence[Row], *, fusion_c: float, limit_c: float, dwell_s: float, heated_from: str | None = None,
    around_c: float = 20.0, bond_under: Callable[[float], float] | None = None,
) -> LogTold:
    """Read a heat log.

    Parameters
    ----------
    rows : list of Row
        In any order; ground-steel rows are set aside.
    fusion_c, limit_c, dwell_s : float
        The procedure's window.
    bond_under : callable, optional
        Surface °C → bond °C with the gun blowing (the gloss rule of that gun and film). Used only when the front was
        heated and neither back nor dot was read.
    heated_from : "front", "back", "both" or None
        The face the heat went in by; None when nobody said: then the back is no lower bound.

    Returns
    -------
    LogTold
    """
    ordered = sorted(rows, key=lambda row: row.time_s)

    def true(row: Row) -> float:
        if row.aimed_at == "back_contact":
            return float(row.reading_c)
        return true_c(reading_c=row.reading_c, emissivity_set=row.emissivity_set, emissivity_true=E_TRUE[row.aimed_at],
                      surroundings_c=around_c)

    tracks: dict[str, list[tuple[float, float]]] = {"back_contact": [], "painted_dot": [], "polymer": []}
    for row in ordered:
        if row.aimed_at in tracks:
            tracks[row.aimed_at].append((row.time_s, true(row)))
    surface, back = tracks["polymer"], tracks["back_contact"]
    bound = True
    if back and heated_from == "front":
        how, bond = "back", back
    elif surface and heated_from == "back":
        how, bond = "surface", surface
    elif tracks["painted_dot"]:
        how, bond = "dot", tracks["painted_dot"]
    elif back:
        how, bond, bound = "back", back, False
    elif surface and bond_under is not None and heated_from != "both":
        how, bond = "surface_less_gap", [(t, bond_under(y)) for t, y in surface]
    else:
        how, bond = "nothing", []
    times = [row.time_s for row in ordered]
    falls = [(a[1] - b[1]) / (b[0] - a[0]) for a, b in pairwise(surface)
             if 0 < b[0] - a[0] <= 60 and a[1] - b[1] > 30 and a[1] > fusion_c - 30]
    return LogTold(
        how=how,
        bond_high_c=max((y for _, y in bond), default=None),
        bond_dwell_s=time_above(bond, fusion_c) if bond else None,
        bound=bound,
        surface_high_c=max((y for _, y in surface), default=None),
        surface_over_s=time_above(surface, limit_c),
        longest_gap_s=max((b - a for a, b in pairwise(times)), default=0.0),
        quick_fall_k_s=max(falls, default=None),
        ignored=sum(row.aimed_at == "ground_steel" for row in ordered),
        bond=tuple(bond), surface=tuple(surface),
    )


def time_above(track: Sequence[tuple[float, float]], level: float) -> float:
    """Seconds a track of (s, °C) spends at or above a level, straight lines between readings, none across a gap of
    more than 300 s."""
    total = 0.0
    for (t0, y0), (t1, y1) in pairwise(track):
        width = t1 - t0
        if not 0.0 < width <= GAP_S:
            continue
        low, high = min(y0, y1), max(y0, y1)
        if low >= level:
            total += width
        elif high >= level:
            total += width * (high - level) / (high - low)
    return total
