"""Which defects are one repair?

Two defects are one when the gap between their edges is smaller than ``merge_gap_factor`` times the
larger one's greatest dimension, or when their footprints (outline grown by the feather) touch. What
holds for A–B and for B–C makes A, B and C one repair, even when A and C lie far apart.

The rule is held against the defects as marked, never against a hull that a merge has made: a hull is
our own drawing, and judging it again would let repairs grow over a part by themselves. When two
*repairs'* footprints come to touch that way, the answer says so and the engineer decides.

>>> from .marked import round_mark
>>> row = [round_mark(name, x=x, y=0, d=10) for name, x in (("A", 0), ("B", 25), ("C", 50), ("D", 200))]
>>> groups, why = one_repair(row, feather_mm=2.0, merge_gap_factor=2.0)
>>> groups
[[0, 1, 2], [3]]
>>> why[0]
'A and B: the gap of 15 mm is smaller than 2 × 10 mm'
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from ..basis.quantity import shown
from .marked import Mark, gap_mm

# A gap that differs from its limit by less than this is equal to it: far below what anybody can mark.
SAME_MM = 1e-9


def one_repair(
    marks: Sequence[Mark], *, feather_mm: float | None, merge_gap_factor: float | None
) -> tuple[list[list[int]], list[str]]:
    """Group defects into repairs.

    Parameters
    ----------
    marks : sequence of Mark
    feather_mm, merge_gap_factor : float or None
        As the procedure sets them; None switches that half of the rule off.

    Returns
    -------
    groups : list of list of int
        Positions in ``marks``; groups and members in the order marked.
    why : list of str
        One sentence for each pair that made two groups one.
    """
    lead = list(range(len(marks)))

    def first(i: int) -> int:
        while lead[i] != i:
            lead[i] = lead[lead[i]]
            i = lead[i]
        return i

    why = []
    for i, j in near_enough_to_ask(marks, feather_mm, merge_gap_factor):
        reason = joined(marks[i], marks[j], feather_mm, merge_gap_factor)
        if reason and first(i) != first(j):
            low, high = sorted((first(i), first(j)))
            lead[high] = low
            why.append(f"{marks[i].id} and {marks[j].id}: {reason}")
    groups: dict[int, list[int]] = {}
    for i in range(len(marks)):
        groups.setdefault(first(i), []).append(i)
    return list(groups.values()), why


def with_taken_in(groups: Sequence[Sequence[int]], marks: Sequence[Mark], taken_in: Mapping[str, str]) -> tuple[
        list[list[int]], list[str]]:
    """Join the groups of damage that a person said is one repair; the one that took the others in comes first.

    Parameters
    ----------
    taken_in : mapping
        Id of damage → id of the damage that took it in.

    Returns
    -------
    groups, why
        As of ``one_repair``.
    """
    place = {mark.id: number for number, mark in enumerate(marks)}
    held, why = [list(group) for group in groups], []
    for took, into in taken_in.items():
        if took not in place or into not in place:
            continue
        one = next(group for group in held if place[into] in group)
        other = next(group for group in held if place[took] in group)
        if one is not other:
            held.remove(other)
            one += other
            why.append(f"{into} and {took}: they were said to be one repair")
        one.sort(key=lambda number: number != place[into])
    return held, why


def joined(one: Mark, other: Mark, feather_mm: float | None, factor: float | None) -> str:
    """Why two defects are one repair; empty when they are two."""
    larger = max(one.greatest_mm, other.greatest_mm)
    gap = gap_mm(one, other)
    if factor is not None and gap < factor * larger - SAME_MM:
        return f"the gap of {gap:.4g} mm is smaller than {shown(factor)} × {larger:.4g} mm"
    if feather_mm is not None and gap <= 2 * feather_mm + SAME_MM:
        return f"the gap of {gap:.4g} mm is bridged by two feathers of {shown(feather_mm)} mm"
    if gap == 0.0:
        return "they touch"
    return ""


def near_enough_to_ask(marks: Sequence[Mark], feather_mm: float | None, factor: float | None) -> list[tuple[int, int]]:
    """Pairs whose bounding boxes lie within reach of either rule (and 1 mm more); no other pair can be one repair."""
    west, south, east, north = np.array([mark.shape.bounds for mark in marks]).reshape(-1, 4).T
    size = np.array([mark.greatest_mm for mark in marks])
    apart = np.maximum(west[:, None] - east[None, :], south[:, None] - north[None, :])
    apart = np.maximum(apart, apart.T)
    reach = np.maximum(2 * (feather_mm or 0.0), (factor or 0.0) * np.maximum(size[:, None], size[None, :]))
    return [(int(i), int(j)) for i, j in np.argwhere(np.triu(apart <= reach + 1.0, 1))]
