"""Where and how often must be read?

>>> pa2_counts(500.0), iso_counts(25.0)
(Pa2Counts(areas=7, spots=35, readings=105), IsoCounts(readings=20, repeats=4))
"""

from __future__ import annotations

import math
from typing import NamedTuple


class Pa2Counts(NamedTuple):
    """Areas, spots and single readings that SSPC-PA 2 asks for."""

    areas: int
    spots: int
    readings: int


class IsoCounts(NamedTuple):
    """Readings that ISO 19840 asks for at least, and how many of them may be repeated."""

    readings: int
    repeats: int


def pa2_counts(area_m2: float) -> Pa2Counts:
    """How many areas, spots and readings SSPC-PA 2 asks for.

    Up to 30 m² every 10 m² or part of it; up to 100 m² three areas; one more for each further 100 m² or
    part. Five spots to an area, three readings to a spot. ``area_m2`` above 0.
    """
    from .rules import rule_data

    data = rule_data()["sspc_pa_2"]
    if area_m2 <= 30:
        areas = max(1, math.ceil(area_m2 / 10 - 1e-9))
    elif area_m2 <= 100:
        areas = 3
    else:
        areas = 3 + math.ceil((area_m2 - 100) / 100 - 1e-9)
    spots = areas * data["spots_per_area"]
    return Pa2Counts(areas, spots, spots * data["readings_per_spot_min"])


def iso_counts(area_m2: float) -> IsoCounts:
    """How many readings ISO 19840 asks for on an inspection area (m², or m of a narrow part), above 0.

    Each size has its own line up to 100; beyond it ten more for each further 100 or part of it, and 20 %
    of the readings may be repeated.
    """
    from .rules import rule_data

    data = rule_data()["iso_19840"]
    for up_to, readings, repeats in data["counts"]:
        if area_m2 <= up_to:
            return IsoCounts(readings, repeats)
    last = data["counts"][-1]
    more = math.ceil((area_m2 - last[0]) / data["beyond_step_m2"] - 1e-9) * data["beyond_step_readings"]
    readings = last[1] + more
    return IsoCounts(readings, readings * data["beyond_repeat_pct"] // 100)
