"""What does the heat plan forbid? An estimate may say no, never yes."""

from __future__ import annotations

from ...basis.materials import material
from ..case import Case
from ..kinds.heat import HeatPlanned


def rebakes(case: Case, plan: HeatPlanned) -> str:
    """Why the plan heats the old lining as a whole too far; empty when it does not.

    Film is melted only where it is repaired. A whole part at the temperature at which its lining begins to melt, less the
    procedure's margin (``preheat_below_melt_k``), is baked again.
    """
    lining = material(case.job.the("lining.identified").polymer)
    melts = lining.values.get("melt_from_c")
    if melts is None:
        return ""
    limit = melts.value - (case.procedure.value("preheat_below_melt_k") or 0.0)
    start = plan.part_start_c
    if start < limit or start == limit < melts.value:
        return ""
    return (f"The plan starts with the whole part at {start:g} °C; {lining.name} begins to melt at {melts.value:g} °C, and the "
            f"old lining may be heated as a whole to {'less than ' if limit == melts.value else ''}{limit:g} °C.")


def never(plan: HeatPlanned) -> str:
    """Why the bond line never fuses by this plan, in the model's whole band; empty when it says anything else."""
    told = plan.estimate
    if told is None or told.bond_reaches_fusion or told.verdict != "does_not_conform":
        return ""
    return f"By the estimate of the plan the bond line never fuses. {told.because}"
