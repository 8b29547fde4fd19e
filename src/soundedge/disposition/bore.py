"""Where on the part is "half past three at radius 120", and what lies beside what across the seam of an unrolled bore?

A face is seen from its lined side: x to the right, y up to 12 o'clock. A bore is cut open along its 0° line and laid flat, seen
from inside: x is the length along it, y the way along its wall from 0°, clockwise as seen looking in from length 0. A cylinder
lies flat without stretching, so lengths and areas along the wall are true; only the two long edges of the sheet, at 0° and at
360°, are one line.

>>> x, y = on_face(120.0, 90.0)
>>> round(x, 9), round(y, 9)                                  # 3 o'clock
(120.0, 0.0)
>>> in_bore(40.0, 90.0, d_mm=100.0)[1], round_mm(100.0) / 4
(78.53981633974483, 78.53981633974483)
>>> from .marked import round_mark
>>> two = [round_mark("A", x=0, y=1, d=10), round_mark("B", x=0, y=round_mm(100.0) - 19, d=10)]
>>> sheet, _ = beside_each_other(two, feather_mm=0.0, merge_gap_factor=2.0, around_mm=round_mm(100.0))
>>> round(gap_mm(*sheet), 6)                                  # 20 mm from middle to middle, across the seam
10.0
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from .marked import Mark, gap_mm
from .merge import SAME_MM, joined, near_enough_to_ask

# An outline in a bore is no longer than once round it, so two turns either way reach every neighbour.
TURNS = (-2, -1, 0, 1, 2)


def round_mm(d_mm: float) -> float:
    """Once round a bore of this diameter, along its wall. [mm]"""
    return math.pi * d_mm


def chord_mm(arc_mm: float, d_mm: float) -> float:
    """What a straight rule reads of a length round a bore: d · sin(arc / d); the diameter from half way round on. [mm]"""
    return d_mm * math.sin(min(arc_mm / d_mm, math.pi / 2))


def on_face(radius_mm: float, turn_deg: float) -> tuple[float, float]:
    """x and y of a place on a plate or ring: ``turn_deg`` clockwise from 12 o'clock. [mm]"""
    turn = math.radians(turn_deg)
    return radius_mm * math.sin(turn), radius_mm * math.cos(turn)


def in_bore(along_mm: float, turn_deg: float, *, d_mm: float) -> tuple[float, float]:
    """x and y of a place in a bore laid flat. [mm]"""
    return along_mm, turn_deg / 360.0 * round_mm(d_mm)


def beside(y: float, to: float, around_mm: float | None) -> float:
    """``y`` or the same line of the wall some turns on, whichever is nearest to ``to``; unchanged on a face. [mm]

    >>> beside(1.0, 99.0, 100.0), beside(1.0, 99.0, None)
    (101.0, 1.0)
    """
    return y if around_mm is None else y + around_mm * round((to - y) / around_mm)


def moved(shape: Any, by_mm: float) -> Any:
    """A shape moved along the wall."""
    from shapely.affinity import translate

    return shape if by_mm == 0.0 else translate(shape, 0.0, by_mm)


def every_turn(shape: Any, around_mm: float | None) -> list[Any]:
    """The shape as it is met again at every turn; the shape alone on a face."""
    if around_mm is None:
        return [shape]
    south, north = shape.bounds[1], shape.bounds[3]
    home = -around_mm * math.floor((south + north) / 2 / around_mm)
    return [moved(shape, home + turn * around_mm) for turn in TURNS]


def together_round_mm2(shapes: Iterable[Any], around_mm: float) -> float:
    """The area that shapes cover together on the wall, what they share counted once. [mm²]"""
    from shapely import box, unary_union

    covered = unary_union([turned for shape in shapes for turned in every_turn(shape, around_mm)])
    west, _, east, _ = covered.bounds
    return float(covered.intersection(box(west, 0.0, east, around_mm)).area)


def meets_itself(shape: Any, around_mm: float, feather_mm: float) -> bool:
    """Whether a repair goes all round: its footprint touches its own other end."""
    return bool(shape.distance(moved(shape, around_mm)) <= 2 * feather_mm + SAME_MM)


def beside_each_other(
    marks: Sequence[Mark], *, feather_mm: float | None, merge_gap_factor: float | None, around_mm: float,
    taken_in: Mapping[str, str] | None = None,
) -> tuple[list[Mark], set[str]]:
    """Move marks whole turns along the wall, so that what is one repair across the seam lies side by side on the sheet.

    Two marks in different repairs lie at least as far apart on the sheet as on the wall, so nothing is joined that is not.
    ``taken_in`` (damage → the damage that took it in) are one repair: they come to lie the near way round.

    Returns
    -------
    marks : list of Mark
        In the order given. The middle of each group lies from 0 to below ``around_mm``.
    all_round : set of str
        Marks of groups that join up both ways round: they have no two ends, so no one outline holds them.
    """
    n = len(marks)
    copies = [_turned(mark, turn * around_mm) for turn in (0, -1, 1) for mark in (_home(one, around_mm) for one in marks)]
    links: dict[int, list[tuple[int, int]]] = {i: [] for i in range(n)}
    for i, j in near_enough_to_ask(copies, feather_mm, merge_gap_factor):
        if i >= n or j % n == i:
            continue
        if joined(copies[i], copies[j], feather_mm, merge_gap_factor):
            turn = (0, -1, 1)[j // n]
            links[i].append((j % n, turn))
            links[j % n].append((i, -turn))
    place = {mark.id: number for number, mark in enumerate(marks)}
    for took, into in (taken_in or {}).items():
        if took in place and into in place and took != into:
            i, j = place[into], place[took]
            turn = min((0, -1, 1), key=lambda way: gap_mm(copies[i], _turned(copies[j], way * around_mm)))
            links[i].append((j, turn))
            links[j].append((i, -turn))
    turns: dict[int, int] = {}
    out: list[Mark] = list(copies[:n])
    all_round: set[str] = set()
    for start in range(n):
        if start in turns:
            continue
        turns[start], group = 0, [start]
        for i in group:
            for j, turn in links[i]:
                if j not in turns:
                    turns[j] = turns[i] + turn
                    group.append(j)
        if any(turns[j] != turns[i] + turn for i in group for j, turn in links[i]):
            all_round |= {marks[i].id for i in group}
        placed = [_turned(copies[i], turns[i] * around_mm) for i in group]
        home = -around_mm * math.floor(_middle(placed) / around_mm)
        for i, mark in zip(group, placed):
            out[i] = _turned(mark, home)
    return out, all_round


def _turned(mark: Mark, by_mm: float) -> Mark:
    if by_mm == 0.0:
        return mark
    circle = mark.circle and (mark.circle[0], mark.circle[1] + by_mm, mark.circle[2])
    return replace(mark, shape=moved(mark.shape, by_mm), circle=circle)


def _home(mark: Mark, around_mm: float) -> Mark:
    return _turned(mark, -around_mm * math.floor(_middle([mark]) / around_mm))


def _middle(marks: Sequence[Mark]) -> float:
    from shapely import unary_union

    return float(unary_union([mark.shape for mark in marks]).convex_hull.centroid.y)
