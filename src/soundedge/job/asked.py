"""What do the steps say of a case? Each is asked once, when somebody wants its answer, in the order of the trade.

    Asked(case).step("holiday")   asks disposition and thickness first, for the holiday step stands on them

With several repairs, what belongs to one of them is asked of each by itself, from its own entries (rules/repairs.py).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

from ..basis.errors import BenchError
from .case import Case
from .kinds import KINDS, STEPS
from .odd import MOVE, SOURCE, odd
from .step import Step, together

if TYPE_CHECKING:
    from .rules.repairs import Repair

_REPAIR_ONLY = ("hazards", "conditions", "buildup", "heat")
_OF_EACH_REPAIR = ("conditions", "buildup", "heat", "thickness", "holiday", "hold_points")
_OF_WHAT_IS_LEFT = ("thickness", "holiday")  # asked as well of damage that is not repaired


class Asked:
    """The steps of one case."""

    def __init__(self, case: Case, known: Mapping[str, Step] | None = None) -> None:
        """``known``: those of this case that were asked before."""
        self.case = case
        self._held: dict[str, Step] = dict(known or {})

    @property
    def repaired(self) -> bool:
        """Dressing, or leaving it as it is, needs no powder or heat, unless somebody laid layers anyway."""
        from .rules.repairs import asked_about

        if self.case.repair is not None and not self.case.job.of("layer.fused"):
            return any(one["to_make"] for one in asked_about(self.case, self.step("disposition")))
        return self.step("disposition").verdict not in ("dress_only", "use_as_is") or bool(self.case.job.of("layer.fused"))

    def step(self, name: str) -> Step:
        """The answer of one step."""
        if name not in self._held:
            self._held[name] = _asked_back(self.case, _answered(self.case, name, self._said))
        return self._held[name]

    def all(self) -> dict[str, Step]:
        """The answers of every step this job needs, in the order of the trade."""
        return {name: self.step(name) for name in STEPS if self.repaired or name not in _REPAIR_ONLY}

    def _said(self, name: str) -> Step:
        """One step, of each repair where there are several."""
        from .rules.repairs import repairs_of, unclear
        from .steps.buildup import one_at_a_time

        if self.case.repair is not None or name in ("survey", "disposition"):
            return self._work(name)
        repairs = repairs_of(self.case, self.step("disposition"))
        faults = list(unclear(self.case, repairs, [e for e in self.case.job.events if _asked_in(name, e.kind)]))
        if faults and not self.case.from_record:
            raise faults[0]
        step = self._of_each(name, repairs) if len(repairs) > 1 and any(one.made for one in repairs) else self._work(name)
        if name == "buildup":
            one_at_a_time(self.case, step)
        for fault in faults:
            step.hold("which_repair", fault.message, "Void it, and enter it again with the letter of its repair.",
                      "an entry that names no repair proves nothing for any")
        return step

    def _of_each(self, name: str, repairs: list[Repair]) -> Step:
        """The step asked of each repair by itself; of the whole part where it belongs to no single one."""
        from .rules.repairs import of_repair

        if name not in _OF_EACH_REPAIR:
            return self._work(name)
        parts = []
        for repair in repairs:
            own = Asked(of_repair(self.case, repairs, repair))
            own._held["disposition"] = self.step("disposition")
            left = not repair.made
            if left and (name not in _OF_WHAT_IS_LEFT or (name == "holiday" and own.case.job.last("film.measured") is None)):
                continue
            parts.append((repair.letter, own._work(name)))
            if left:
                parts[-1][1].missing.clear()
        return together(name, parts)

    def _work(self, name: str) -> Step:
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

        alone: dict[str, Callable[[Case], Step]] = {
            "survey": survey, "disposition": disposition, "hazards": hazards, "conditions": conditions,
            "instruments": instruments, "release": release}
        upon: dict[str, tuple[Callable[[Case, Step], Step], str]] = {
            "buildup": (buildup, "disposition"), "heat": (heat, "disposition"), "thickness": (thickness, "disposition"),
            "holiday": (holiday, "thickness")}
        if name in alone:
            return alone[name](self.case)
        if name == "hold_points":
            return hold_points(self.case, repaired=self.repaired)
        work, before = upon[name]
        return work(self.case, self.step(before))


def _asked_in(step: str, kind: str) -> bool:
    """Whether entries of a kind are asked for their repair with this step; those of the first two steps with the third."""
    own = KINDS[kind].step
    return own == step or (step == "hazards" and own in ("survey", "disposition"))


def _asked_back(case: Case, step: Step) -> Step:
    """The step, held by what was seen to be bad, and by each value that is possible but odd until somebody has answered."""
    from .rules.seen import seen, seen_then

    for bad in (*seen(case, step.name), *seen_then(case, step.name)):
        if bad.absent:
            step.lacks(bad.fact, True, bad.because, bad.what, bad.source, bad.repair)
        else:
            step.hold(bad.fact, bad.because, bad.what, bad.source, bad.kind, value=bad.value, limit=bad.limit, unit=bad.unit,
                      repair=bad.repair)
    for one in odd(case.job, step.name):
        step.hold(one.rule, f"{one.entry}: {one.because}", one.move or MOVE, SOURCE, value=one.value, unit=one.unit)
    return step


def _answered(case: Case, name: str, work: Callable[[str], Step]) -> Step:
    """A step's answer. On a sheet, entries that contradict each other are corrected on the sheet; in a record they stay for
    good, so they hold the job until one of them is corrected or voided."""
    try:
        return work(name)
    except BenchError as fault:
        if not case.from_record:
            raise
        step = Step(name, because=fault.message)
        step.hold(fault.kind, fault.message, "Correct or void the entry that is wrong, with the reason.",
                  "the entries themselves")
        return step
