"""What do the steps say of a case? Each is asked once, when somebody wants its answer, in the order of the trade.

    Asked(case).step("holiday")   asks disposition and thickness first, for the holiday step stands on them
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from ..basis.errors import BenchError
from .case import Case
from .odd import MOVE, SOURCE, odd
from .step import Step

_REPAIR_ONLY = ("hazards", "conditions", "buildup", "heat")


class Asked:
    """The steps of one case."""

    def __init__(self, case: Case) -> None:
        self.case = case
        self._held: dict[str, Step] = {}

    @property
    def repaired(self) -> bool:
        """Dressing, or leaving it as it is, needs no powder or heat, unless somebody laid layers anyway."""
        return self.step("disposition").verdict not in ("dress_only", "use_as_is") or bool(self.case.job.of("layer.fused"))

    def step(self, name: str) -> Step:
        """The answer of one step."""
        if name not in self._held:
            work, given, how = self._work(name)
            self._held[name] = _asked_back(self.case, _answered(self.case, name, work, *given, **how))
        return self._held[name]

    def all(self) -> dict[str, Step]:
        """The answers of every step this job needs, in the order of the trade."""
        from .kinds import STEPS

        return {name: self.step(name) for name in STEPS if self.repaired or name not in _REPAIR_ONLY}

    def _work(self, name: str) -> tuple[Callable[..., Step], tuple[Any, ...], dict[str, Any]]:
        from .steps.buildup import buildup
        from .steps.conditions import conditions
        from .steps.disposition import disposition
        from .steps.hazards import hazards
        from .steps.heat import heat
        from .steps.hold_points import hold_points, release
        from .steps.holiday import holiday
        from .steps.instruments import instruments
        from .steps.survey import survey
        from .steps.thickness import thickness

        alone = {"survey": survey, "disposition": disposition, "hazards": hazards, "conditions": conditions,
                 "instruments": instruments, "release": release}
        if name in alone:
            return alone[name], (), {}
        if name == "hold_points":
            return hold_points, (), {"repaired": self.repaired}
        upon = {"buildup": (buildup, "disposition"), "heat": (heat, "disposition"), "thickness": (thickness, "disposition"),
                "holiday": (holiday, "thickness")}
        work, before = upon[name]
        return work, (self.step(before),), {}


def _asked_back(case: Case, step: Step) -> Step:
    """The step, held by each value of it that is possible but odd, until somebody has answered."""
    for one in odd(case.job, step.name):
        step.hold(f"odd_{one.key}", f"{one.entry}: {one.because}", MOVE, SOURCE, value=one.value, unit=one.unit)
    return step


def _answered(case: Case, name: str, work: Callable[..., Step], *given: Any, **how: Any) -> Step:
    """A step's answer. On a sheet, entries that contradict each other are corrected on the sheet; in a record they stay for
    good, so they hold the job until one of them is corrected or voided."""
    try:
        return work(case, *given, **how)
    except BenchError as fault:
        if not case.from_record:
            raise
        step = Step(name, because=fault.message)
        step.hold(fault.kind, fault.message, "Correct or void the entry that is wrong, with the reason.",
                  "the entries themselves")
        return step
