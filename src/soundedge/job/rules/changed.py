"""Was a value changed on which a failing step stood, by somebody who may not decide that?

    gas 30 % corrected to 3 % after the heat, by the technician     → held: the engineer says so, or it is done again
    film 872 µm voided, nothing else read there                     → the same
    relative humidity 530 % corrected to 53 % before any layer      → nothing failed by it; it counts

The desk refuses such a change before it is written; on a sheet it is found here.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from typing import Protocol

from ...basis.errors import BenchError
from ..kinds import Event
from ..step import Step

CHANGES = ("entry.corrected", "entry.voided")


FREE = "procedure_as_opened"  # the procedure corrected back to what was approved


class Judged(Protocol):
    """A judged job: its steps by name."""

    @property
    def steps(self) -> dict[str, Step]: ...


def changed_what_failed(
    events: Sequence[Event], judged: Callable[[Sequence[Event]], Judged],
) -> Iterator[tuple[Event, str, str]]:
    """Each change by somebody who is no engineer that lifts what held the job then: the change, and step and rule it lifts."""
    for place, event in enumerate(events):
        if event.kind not in CHANGES or _engineer(events, event.by):
            continue
        try:
            before, after = judged(events[:place]), judged(events[: place + 1])
        except BenchError:
            continue  # what cannot be judged then is said where it is judged now
        lifted = bears_on(before, after)
        if lifted is not None and lifted[1] != FREE:
            yield event, *lifted


def bears_on(before: Judged, after: Judged) -> tuple[str, str] | None:
    """Step and rule that hold the job now and would then not, or would on other values; None when there is none.

    Of two low places one could be made good behind the other, which holds the job alone just as well. So while a step
    says that something does not conform, whatever it was asked with is changed by nobody but the engineer.
    """
    lifted = _wrong(before) - _wrong(after)
    if lifted:
        return min(lifted)
    for name, step in before.steps.items():
        wrong = [block for block in step.blocks if not block.absent]
        fails = any(block.kind != "held" for block in wrong) or any(one.verdict == "does_not_conform" for one in step.findings)
        if wrong and fails and (name not in after.steps or after.steps[name].asked != step.asked):
            return name, wrong[0].rule
    return None


def _wrong(outcome: Judged) -> Counter[tuple[str, str]]:
    """What is really wrong, and not only not there yet, and how often."""
    return Counter((block.step, block.rule) for step in outcome.steps.values() for block in step.blocks if not block.absent)


def _engineer(events: Sequence[Event], person: str) -> bool:
    return any(event.kind == "person.named" and event.body.id == person and event.body.role == "engineer" for event in events)
