"""Do these readings look like readings? And which place must be measured again?

Nothing is dropped. A strange reading is named, its place goes on the list to be measured again, and both
readings stay in the record.

>>> [note.check for note in look([("1", (1100.0, 1110.0, 1105.0)), ("2", (1108.0, 1095.0, 43.2))], min_um=1000)]
['outlier', 'unit']
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from typing import NamedTuple

from .moments import mean


class Note(NamedTuple):
    """One thing that looks strange: which check, at which spots, why, what to do, and whether to read again."""

    check: str
    spots: tuple[str, ...]
    because: str
    next_move: str
    again: bool


Spots = Sequence[tuple[str, Sequence[float]]]


def look(
    spots: Spots,
    *,
    min_um: float | None = None,
    gauge_min_um: float | None = None,
    gauge_max_um: float | None = None,
    taken_off_um: float = 0.0,
    gain: float = 1.0,
    edge_mm: dict[str, float] | None = None,
    edge_mm_min: float = 25.0,
    place: dict[str, tuple[float, float]] | None = None,
    agree_pct: float | None = None,
) -> list[Note]:
    """Run every check.

    Parameters
    ----------
    spots : list of (id, readings in µm)
    min_um : float, optional
        The minimum (or nominal) film, to recognise a wrong unit.
    gauge_min_um, gauge_max_um : float, optional
        The range the gauge is made for, of what it shows.
    taken_off_um : float
        The correction already taken off the readings.
    gain : float
        What they were multiplied by before that, for an error the gauge is known to have.
    edge_mm : dict of spot id to distance from the nearest edge in mm, optional
    place : dict of spot id to (x, y) in mm, optional
    agree_pct : float, optional
        How far two readings of a spot may lie apart, % of their mean; None leaves the check out.

    Returns
    -------
    list of Note
    """
    notes: list[Note] = []
    notes += outliers(spots)
    if min_um:
        notes += wrong_unit(spots, min_um)
    notes += out_of_range(spots, gauge_min_um, gauge_max_um, taken_off_um, gain)
    notes += repeats(spots)
    notes += terminal_digits(spots)
    for spot, gap in (edge_mm or {}).items():
        if gap < edge_mm_min:
            notes.append(Note(
                "edge", (spot,), f"Spot '{spot}' lies {gap:g} mm from an edge; a magnetic gauge is taken to read true "
                f"{edge_mm_min:g} mm away unless shown otherwise (ASTM D7091, memory).",
                "Show the gauge reads true there with a shim on bare metal, or move the spot.", False))
    notes += at_one_place(place or {})
    if agree_pct is not None:
        notes += disagreeing(spots, agree_pct)
    return notes


def outliers(spots: Spots, cut: float = 3.5) -> list[Note]:
    """Readings far from the others by the median rule: |x − median| > cut·MAD/0.6745.

    Iglewicz & Hoaglin, How to detect and handle outliers (1993), memory. It needs five readings. When more
    than half are alike (MAD is 0) the mean absolute deviation stands in, divided by 0.7979 (their advice).
    """
    every = [(value, spot) for spot, values in spots for value in values]
    if len(every) < 5:
        return []
    centre = _median([value for value, _ in every])
    scale = _median([abs(value - centre) for value, _ in every]) / 0.6745
    if scale == 0:
        scale = mean([abs(value - centre) for value, _ in every]) * 1.253314
    if scale == 0:
        return []
    notes = []
    for value, spot in every:
        if abs(value - centre) / scale > cut:
            notes.append(Note(
                "outlier", (spot,), f"{value:g} µm in spot '{spot}' lies far from the other readings (median "
                                    f"{centre:g} µm).",
                "Measure the place again and keep both readings; a true thin place looks just like a slip.", True))
    return notes


def wrong_unit(spots: Spots, limit_um: float) -> list[Note]:
    """Readings that would fit the film in mil (×25.4) or mm (×1000) and do not in µm."""
    notes = []
    for spot, values in spots:
        for value in values:
            for unit, factor in (("mil", 25.4), ("mm", 1000.0)):
                if 0 < value < limit_um / 8 and 0.4 * limit_um <= value * factor <= 4 * limit_um:
                    notes.append(Note(
                        "unit", (spot,), f"{value:g} in spot '{spot}' looks like {unit} among micrometres "
                        f"({value:g} {unit} would be {value * factor:g} µm).",
                        "Look at the gauge's unit and measure again.", True))
                    break
    return notes


def all_in_unit(values: Sequence[float], limit_um: float) -> str | None:
    """'mil' or 'mm' when the readings as a whole fit that unit and not µm; None otherwise."""
    if not values:
        return None
    centre = _median(list(values))
    for unit, factor in (("mil", 25.4), ("mm", 1000.0)):
        if 0 < centre < limit_um / 8 and 0.4 * limit_um <= centre * factor <= 4 * limit_um:
            return unit
    return None


def beyond(shown_um: float, low_um: float | None, high_um: float | None) -> bool:
    """Whether a reading, as the gauge showed it, lies outside the range the gauge is made for."""
    return (low_um is not None and shown_um < low_um) or (high_um is not None and shown_um > high_um)


def out_of_range(spots: Spots, low_um: float | None, high_um: float | None, taken_off_um: float = 0.0,
                 gain: float = 1.0) -> list[Note]:
    """Readings the gauge is not made for, and negative films after correction."""
    notes = []
    for spot, values in spots:
        for value in values:
            if value < 0:
                notes.append(Note("negative", (spot,), f"Spot '{spot}' is {value:g} µm after the correction.",
                                  "Check the correction: was the gauge already adjusted on the rough steel?", True))
            elif beyond(shown := round((value + taken_off_um) / gain, 9), low_um, high_um):
                limits = f"{low_um or 0:g} to {high_um:g}" if high_um is not None else f"{low_um:g} and more"
                notes.append(Note(
                    "gauge_range", (spot,), f"{shown:g} µm in spot '{spot}' is outside the gauge's range, {limits} µm.",
                    "Read it with a probe made for that film.", True))
    return notes


def at_one_place(place: dict[str, tuple[float, float]]) -> list[Note]:
    """Spots said to lie at the same place: together they say as much as one."""
    held: dict[tuple[float, float], list[str]] = {}
    for spot, where in place.items():
        held.setdefault(where, []).append(spot)
    return [
        Note("same_place", tuple(ids), f"{len(ids)} spots ('{ids[0]}' and '{ids[1]}'{' and more' * (len(ids) > 2)}) lie at "
                                       f"one place, x = {x:g} mm, y = {y:g} mm.",
             "Correct the places; or read one of them elsewhere, and keep readings of one place in one spot.", False)
        for (x, y), ids in held.items() if len(ids) > 1
    ]


def repeats(spots: Spots, at_least: int = 5) -> list[Note]:
    """The same value many times in a row: a stuck display, or readings written down unseen."""
    run: list[tuple[float, str]] = []
    notes = []
    for value, spot in [(v, s) for s, values in spots for v in values] + [(math.nan, "")]:
        if run and value == run[-1][0]:
            run.append((value, spot))
            continue
        if len(run) >= at_least:
            held = tuple(dict.fromkeys(s for _, s in run))
            notes.append(Note("repeats", held, f"{run[0][0]:g} µm stands {len(run)} times in a row.",
                              "Lift the probe between readings; measure some of these places again.", True))
        run = [(value, spot)]
    return notes


def terminal_digits(spots: Spots, at_least: int = 30) -> list[Note]:
    """Too many readings ending in the same digit: rounded by hand. Chi-square against an even spread, 9 df, 0.1 %.

    It needs 30 whole readings that spread over more than 50 µm.
    """
    whole = [int(value) for _, values in spots for value in values if value == int(value)]
    if len(whole) < at_least or max(whole) - min(whole) < 50:
        return []
    count = Counter(value % 10 for value in whole)
    even = len(whole) / 10
    chi = sum((count.get(digit, 0) - even) ** 2 / even for digit in range(10))
    if chi <= 27.877:  # 0.999 quantile of chi-square with 9 degrees of freedom
        return []
    digit, times = count.most_common(1)[0]
    return [Note("terminal_digit", (), f"{times} of {len(whole)} readings end in {digit}; an even spread would be "
                                       f"{even:g}.",
                 "Take readings as the gauge shows them; rounding hides the spread.", False)]


def disagreeing(spots: Spots, agree_pct: float, floor_um: float = 2.0) -> list[Note]:
    """Spots whose readings lie further apart than agree_pct % of their mean, or floor_um, whichever is greater.

    5 % and 2 µm are the rule of ASTM B499 (1996) for smooth surfaces; rough steel needs a wider one.
    """
    notes = []
    for spot, values in spots:
        if len(values) > 1:
            allowed = max(agree_pct / 100 * mean(values), floor_um)
            gap = max(values) - min(values)
            if round(gap - allowed, 9) > 0:
                notes.append(Note("disagree", (spot,), f"Spot '{spot}' spreads over {gap:g} µm; {allowed:.3g} µm are "
                                                       "allowed.",
                                  "Take the readings of this spot again; keep both sets.", True))
    return notes


def _median(values: list[float]) -> float:
    ordered = sorted(values)
    half = len(ordered) // 2
    return ordered[half] if len(ordered) % 2 else (ordered[half - 1] + ordered[half]) / 2
