"""Was the climate held while bare steel waited longer than the procedure allows? Only then may the engineer give it more time.

    262 min since the preparation of 240; log without a gap, margin ≥ 10.1 K, RH ≤ 48 %   → a written extension is possible
    the same, and 7 K once                                                               → prepare again

Colder or damper steel rusts unseen. The procedure may set its own figures (``hold_margin_k_min``, ``hold_rh_pct_max``).
"""

from __future__ import annotations

from datetime import datetime, timedelta

from ...basis.sources import cite
from ...conditions.condensed import Stretch
from ..case import Case

MARGIN_K_MIN, RH_PCT_MAX = 9.4, 55.0
_SOURCE = "joint_guide_hold_climate"


def needed(case: Case) -> tuple[float, float]:
    """The least margin and the highest humidity while bare steel waits. [K], [%]"""
    margin = case.procedure.value("hold_margin_k_min", MARGIN_K_MIN)
    humidity = case.procedure.value("hold_rh_pct_max", RH_PCT_MAX)
    assert margin is not None and humidity is not None
    return margin, humidity


def held(case: Case, stretch: Stretch) -> bool:
    """Whether a stretch of the log has no gap and kept to both."""
    margin, humidity = needed(case)
    return (not stretch.unread and stretch.margin_k is not None and stretch.rh_pct is not None
            and stretch.margin_k >= margin and stretch.rh_pct <= humidity)


def overdue(case: Case, prepared: datetime, end: datetime) -> bool:
    """Whether the steel waited longer than the procedure allows in print, and an instruction gave it that time."""
    printed, governs = case.printed.value("prep_to_layer_min_max"), case.procedure.value("prep_to_layer_min_max")
    minutes = (end - prepared) / timedelta(minutes=1)
    return printed is not None and governs is not None and printed < minutes <= governs


def source(case: Case) -> str:
    """Where the figures come from; a default says so."""
    if "hold_margin_k_min" in case.procedure.limits:
        return case.procedure.cite("hold_margin_k_min")
    return f"default, your procedure sets none: {cite(_SOURCE)}"
