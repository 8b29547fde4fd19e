"""What does the heat plan forbid? An estimate may say no, never yes."""

from __future__ import annotations

from dataclasses import dataclass

from ...basis.materials import material
from ...basis.sentences import say
from ..case import Case
from ..kinds import Event
from ..kinds.heat import HeatPlanned
from .instruction import instructions

BONDED_C_MAX = 110.0  # of sheet whose glue nobody named
BONDED_SOURCE = "common practice, no source"


@dataclass(frozen=True)
class Rebake:
    """The whole part would be heated to ``start_c`` where ``limit_c`` is allowed; its lining begins to melt at ``melts_c``.

    ``melts_c`` is None where the procedure, or an instruction, sets the limit itself. ``bonded``: the sheet whose glue sets it.
    """

    start_c: float
    limit_c: float
    melts_c: float | None
    polymer: str
    source: str
    bonded: str = ""

    @property
    def because(self) -> str:
        """The reason, for the judge of the release."""
        if self.bonded:
            return say("acts.preheat_bonded", start=self.start_c, sheet=self.bonded, limit=self.limit_c)
        starts = f"The plan starts with the whole part at {self.start_c:g} °C"
        if self.melts_c is None:
            return f"{starts}; it may be heated as a whole to {self.limit_c:g} °C."
        less = "less than " if self.limit_c == self.melts_c else ""
        return (f"{starts}; {self.polymer} begins to melt at {self.melts_c:g} °C, and the old lining may be heated as a whole "
                f"to {less}{self.limit_c:g} °C.")


@dataclass(frozen=True)
class TooThick:
    """The plan heats a plate that the procedure does not heat by hot air."""

    plate_mm: float
    limit_mm: float
    source: str

    @property
    def because(self) -> str:
        """The reason, for the judge of the release."""
        return (f"The plan heats a plate of {self.plate_mm:g} mm by hot air; the procedure allows it up to "
                f"{self.limit_mm:g} mm: a thicker one takes the heat away.")


def rebakes(case: Case, plan: Event) -> Rebake | None:
    """How the plan heats the old lining as a whole too far; None when it does not, or when it is so instructed in writing.

    Film is melted only where it is repaired. A whole part at the temperature at which its lining begins to melt, less the
    procedure's margin (``preheat_below_melt_k``), is baked again; ``part_start_c_max`` may set less. Only an instruction that
    names ``part_start_c_max`` lifts it, and then governs.
    """
    start, held = plan.body.part_start_c, case.job.the("lining.identified")
    lining = material(held.polymer)
    if held.bonded_sheet is not None or held.bonded_c_max is not None:
        bears = BONDED_C_MAX if held.bonded_c_max is None else held.bonded_c_max
        if start > bears and not _instructed(case, plan):
            source = BONDED_SOURCE if held.bonded_c_max is None else "the lining as recorded"
            return Rebake(start, bears, None, lining.name, source, (held.bonded_sheet or lining.name).rstrip("."))
    own = case.procedure.limits.get("part_start_c_max")
    if own is not None and start > own.value:
        return Rebake(start, own.value, None, lining.name, case.procedure.cite("part_start_c_max"))
    if _instructed(case, plan):
        return None
    melts, _ = lining.melts(held.melt_class)
    if melts is None:
        return None
    limit = melts.value - (case.procedure.value("preheat_below_melt_k") or 0.0)
    if start < limit or start == limit < melts.value:
        return None
    return Rebake(start, limit, melts.value, lining.name, f"{melts.source}, {lining.name}")


def _instructed(case: Case, plan: Event) -> bool:
    return any("part_start_c_max" in (event.body.limits or {}) and (event.body.expires is None or plan.at <= event.body.expires)
               for event in instructions(case.job))


def too_thick(case: Case) -> TooThick | None:
    """The plate that the plan would heat against ``plate_mm_max``; None within it, or where the procedure sets none."""
    limit, plate = case.procedure.value("plate_mm_max"), case.job.the("part.identified").plate_mm
    return None if limit is None or plate <= limit else TooThick(plate, limit, case.procedure.cite("plate_mm_max"))


def never(plan: HeatPlanned) -> str:
    """Why the bond line never fuses by this plan, in the model's whole band; empty when it says anything else."""
    told = plan.estimate
    if told is None or told.bond_reaches_fusion or told.verdict != "does_not_conform":
        return ""
    return f"By the estimate of the plan the bond line never fuses. {told.because}"
