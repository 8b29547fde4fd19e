"""What a step already says, as points of an act: the judge of the release and the answer before the act say one thing.

    disposition, engineering review: bare area 965 mm², at most 900    → ask the engineer, nothing is cut
    conditions, profile not measured                                   → measure it
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from ...basis.sentences import say
from ..rules.service import OWNERS
from ..step import Block, Step
from .moment import Moment
from .point import Class, Point, State, Verb, Weight

_KIND: dict[str, tuple[State, Verb, str]] = {
    "engineering_review": ("failing", "ask_engineer", "engineer"),
    "rejected": ("failing", "stop", "engineer"),
}
_VERB: dict[str, tuple[State, Verb]] = {
    "measure": ("missing", "measure"), "correct": ("failing", "correct"), "read_again": ("odd", "read_again"),
    "ask_engineer": ("failing", "ask_engineer"),
}
_VERDICT: dict[str, tuple[State, Verb]] = {
    "not_measured": ("missing", "measure"), "indeterminate": ("odd", "read_again"), "does_not_conform": ("failing", "correct"),
}


def points(now: Moment, name: str, rule: str, cls: Class, *, by: str, fact: str = "",
           only: Callable[[Block], bool] = lambda block: True, weight: Weight = "blocks") -> Iterator[Point]:
    """The blocks of a step as points of one rule."""
    step = now.step(name)
    for block in step.blocks:
        if only(block):
            yield point(step, block, rule, cls, by=by, fact=fact, weight=weight)


def point(step: Step, block: Block, rule: str, cls: Class, *, by: str, fact: str = "", weight: Weight = "blocks") -> Point:
    """One block as a point. What was only not measured is measured; it is never put right before somebody knows."""
    state, verb, who = _state(step, block, by)
    what = say("acts.measure_it") if verb == "measure" and not (block.absent or block.verb) else block.next_move
    return Point(rule, cls, fact or block.rule, state, block.because, verb, what, who, weight, value=block.value,
                 unit=block.unit, limit=block.limit, source=block.source)


def _state(step: Step, block: Block, by: str) -> tuple[State, Verb, str]:
    if step.name == "hold_points":
        return ("missing" if block.absent else "dead"), "ask", "inspector"
    if block.rule in OWNERS and block.kind == "held":
        return ("missing" if block.absent else "failing"), "ask_owner", "owner"
    if block.rule.startswith("odd_"):
        return "odd", "read_again", by
    if block.absent:
        return "missing", "measure", by
    if block.verb in _VERB and block.kind != "engineering_review":
        return (*_VERB[block.verb], "engineer" if block.verb == "ask_engineer" else by)
    if block.kind in _KIND:
        return _KIND[block.kind]
    found = next((f for f in step.findings if f.because == block.because), None)
    if found is not None and found.verdict in _VERDICT:
        return (*_VERDICT[found.verdict], by)
    return "failing", "correct", by
