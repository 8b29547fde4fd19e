"""What does the heat plan forbid? An estimate may say no, never yes."""

from __future__ import annotations

from dataclasses import dataclass

from ...basis.materials import material
from ..case import Case
from ..kinds.heat import HeatPlanned


@dataclass(frozen=True)
class Rebake:
    """The whole part would be heated to ``start_c``; its lining begins to melt at ``melts_c``, and ``limit_c`` is allowed."""

    start_c: float
    limit_c: float
    melts_c: float
    polymer: str
    source: str

    @property
    def because(self) -> str:
        """The reason, for the judge of the release."""
        less = "less than " if self.limit_c == self.melts_c else ""
        return (f"The plan starts with the whole part at {self.start_c:g} °C; {self.polymer} begins to melt at "
                f"{self.melts_c:g} °C, and the old lining may be heated as a whole to {less}{self.limit_c:g} °C.")


def rebakes(case: Case, plan: HeatPlanned) -> Rebake | None:
    """How the plan heats the old lining as a whole too far; None when it does not.

    Film is melted only where it is repaired. A whole part at the temperature at which its lining begins to melt, less the
    procedure's margin (``preheat_below_melt_k``), is baked again.
    """
    lining = material(case.job.the("lining.identified").polymer)
    melts = lining.values.get("melt_from_c")
    if melts is None:
        return None
    limit = melts.value - (case.procedure.value("preheat_below_melt_k") or 0.0)
    start = plan.part_start_c
    if start < limit or start == limit < melts.value:
        return None
    return Rebake(start, limit, melts.value, lining.name, melts.source)


def never(plan: HeatPlanned) -> str:
    """Why the bond line never fuses by this plan, in the model's whole band; empty when it says anything else."""
    told = plan.estimate
    if told is None or told.bond_reaches_fusion or told.verdict != "does_not_conform":
        return ""
    return f"By the estimate of the plan the bond line never fuses. {told.because}"
