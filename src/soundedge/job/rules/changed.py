"""Was something changed on which a failing step stood, by somebody who may not decide that?

    gas 30 % corrected to 3 % after the heat, by the technician     → held: the engineer says so, or it is done again
    film 872 µm voided, nothing else read there                     → the same
    relative humidity 530 % corrected to 53 % before any layer      → nothing failed by it; it counts
    damage of 2000 mm² said to be two of 200 mm²                    → the engineer's, as 900 mm² are allowed
    steel 66 °C asked back, corrected to 18.9 °C                    → what was asked back is answered so

The desk refuses such a change before it is written; on a sheet it is found here.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from typing import Protocol

from ...basis.errors import BenchError
from ..fold import Job
from ..kinds import STEPS, Event
from ..odd import odd
from ..step import Block, Step

CHANGES = ("entry.corrected", "entry.voided")
FREE = "procedure_as_opened"  # the procedure corrected back to what was approved


class Judged(Protocol):
    """A judged job: its entries folded, and its steps by name."""

    @property
    def job(self) -> Job: ...

    @property
    def steps(self) -> dict[str, Step]: ...


def changed_what_failed(
    events: Sequence[Event], judged: Callable[[Sequence[Event]], Judged],
) -> Iterator[tuple[Event, str, str]]:
    """Each change by somebody who is no engineer that lifts what held the job then: the change, and step and rule it lifts."""
    for place, event in enumerate(events):
        if not (event.kind in CHANGES or event.kind == "repair.split") or _engineer(events, event.by):
            continue
        try:
            before, after = judged(events[:place]), judged(events[: place + 1])
        except BenchError:
            continue  # what cannot be judged then is said where it is judged now
        lifted = bears_on(before, after, event)
        if lifted is not None and lifted[1] != FREE:
            yield event, *lifted


def bears_on(before: Judged, after: Judged, change: Event) -> tuple[str, str] | None:
    """Step and rule that hold the job now and would then not, or would on other values; None when there is none.

    Of two low places one could be made good behind the other, which holds the job alone just as well. So while a step
    says that something does not conform, whatever it was asked with is changed by nobody but the engineer. A value that
    the tool itself asked back is corrected by whoever may correct it.
    """
    if _asked_back(before, change):
        return None
    lifted = _wrong(before) - _wrong(after)
    if lifted:
        return min(lifted)
    for name, step in before.steps.items():
        wrong = [block for block in step.blocks if _really(block)]
        fails = any(block.kind != "held" for block in wrong) or any(one.verdict == "does_not_conform" for one in step.findings)
        if wrong and fails and (name not in after.steps or after.steps[name].asked != step.asked):
            return name, wrong[0].rule
    return None


def what_changed(change: Event) -> str:
    """The entry that was corrected or voided, or the letter of the damage that was split."""
    return str(change.body.of if change.kind == "repair.split" else change.body.entry)


def _asked_back(before: Judged, change: Event) -> bool:
    """Whether a correction answers a value that was asked back as possible but odd."""
    return change.kind == "entry.corrected" and any(
        (one.entry, one.key) == (change.body.entry, change.body.field) for step in STEPS for one in odd(before.job, step))


def _wrong(outcome: Judged) -> Counter[tuple[str, str]]:
    """What is really wrong, and not only not there yet or asked back, and how often."""
    return Counter((block.step, block.rule) for step in outcome.steps.values() for block in step.blocks if _really(block))


def _really(block: Block) -> bool:
    return not block.absent and not block.rule.startswith("odd_")


def _engineer(events: Sequence[Event], person: str) -> bool:
    return any(event.kind == "person.named" and event.body.id == person and event.body.role == "engineer" for event in events)
