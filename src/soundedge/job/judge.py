"""What is the outcome of this job? Every step is asked in the order of the trade, and one word follows.

    released             nothing holds it
    rejected             the finished work, or the part, failed
    engineering_review   the procedure does not allow it as it stands; the engineer decides
    held                 something is missing, out of order or not good yet
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Literal

from ..basis.on_paper import words
from ..basis.sentences import Sentence, say
from .asked import Asked
from .case import Case, case_of, clock
from .fold import Job, fold
from .kinds import WHOLE_JOB, Event
from .rules.changed import changed_what_failed, what_changed
from .rules.instruction import instructions
from .rules.limited import limits_of
from .rules.waived import NotDone, lines, printed
from .step import Block, Step

Word = Literal["released", "held", "engineering_review", "rejected"]
Finer = Literal["released", "released_with_waivers", "conditional", "temporary", "held", "engineering_review", "rejected",
                "not_here", "strip_and_reline", "scrap"]


@dataclass(frozen=True)
class Outcome:
    """A judged job: the word, what holds it, every step, and what was not measured."""

    case: Case
    verdict: Word
    because: str
    blocked_by: list[Block]
    steps: dict[str, Step]
    missing: list[str] = field(default_factory=list)

    @property
    def job(self) -> Job:
        """The job that was judged."""
        return self.case.job

    @property
    def not_done(self) -> list[NotDone]:
        """What was not measured and accepted so by people who may."""
        return [one for step in self.steps.values() for one in step.not_done]

    @property
    def not_done_lines(self) -> list[Sentence]:
        """The same as it is printed."""
        return lines(self.not_done)

    @property
    def outcome(self) -> Finer:
        """The finer word beside the verdict: released with waivers or on conditions, and what it is rejected for."""
        if self.verdict == "released":
            limits = limits_of(self.case)
            if limits is not None and limits.body.expires is not None:
                return "temporary"
            if any(one.conditional for one in self.not_done) or (limits is not None and limits.body.conditions):
                return "conditional"
            return "released_with_waivers" if self.not_done else "released"
        if self.verdict == "rejected":
            if any(block.rule == "prohibited" for block in self.blocked_by):
                return "not_here"
            decided = self.job.last("escalation.decided")
            if any(block.rule == "engineer_decided" for block in self.blocked_by) and decided is not None:
                return "scrap" if decided.body.decision == "scrap" else "strip_and_reline"
            if self.steps["disposition"].verdict == "strip_and_reline":
                return "strip_and_reline"
        return self.verdict

    def as_plain(self) -> dict[str, Any]:
        """The content of ``job.json``."""
        return {
            "job": self.job.the("job.opened").number,
            "verdict": self.verdict,
            "outcome": self.outcome,
            "because": self.because,
            "blocked_by": [block.as_plain() for block in self.blocked_by],
            "missing": self.missing,
            "not_done": printed(self.not_done),
            "steps": {name: step.as_plain() for name, step in self.steps.items()},
        }


def judge_job(events: Iterable[Event], *, from_record: bool = False, estimates: bool = True) -> Outcome:
    """Fold the events and ask every step.

    Parameters
    ----------
    events : iterable of Event
        All events of one job; the bench's own among them (``BENCH_KINDS``) change nothing.
    from_record : bool
        The procedure inside keeps its numbers as decimal strings.
    estimates : bool
        Ask the models that decide nothing as well (the heat plan), for the page. A check needs only the verdict.

    Raises
    ------
    BenchError
        The sheet contradicts itself, or a room cannot use what it was given.
    """
    given = list(events)
    outcome = _judged(given, from_record=from_record, estimates=estimates)
    if not outcome.job.corrections and not outcome.job.voids and not outcome.job.replaced:
        return outcome
    answered = max((one.at for one in instructions(outcome.job)), default=None)
    found = changed_what_failed(given, lambda some: _judged(some, from_record=from_record, estimates=False))
    changed = [one for one in found if answered is None or answered < one[0].at]
    for event, step, rule in changed:
        outcome.steps["release"].hold(
            "changed_what_failed", say("job.changed_what_failed", change=event.id, entry=what_changed(event), step=words(step),
                                       rule=words(rule), name=outcome.job.name_of(event.by)),
            say("job.changed_what_failed_then"), outcome.case.rule_book)
    return _outcome(outcome.case, outcome.steps) if changed else outcome


def _judged(events: Iterable[Event], *, from_record: bool, estimates: bool) -> Outcome:
    job = fold(events)
    for kind in WHOLE_JOB:
        job.the(kind)
    case = case_of(job, from_record=from_record, estimates=estimates)
    return _outcome(case, Asked(case).all())


def _outcome(case: Case, steps: dict[str, Step]) -> Outcome:
    blocks = _standing([block for step in steps.values() for block in step.blocks])
    kinds = {block.kind for block in blocks}
    verdict: Word = "released"
    for word in ("rejected", "engineering_review", "held"):
        if word in kinds:
            verdict = word
            break
    not_done = [one for step in steps.values() for one in step.not_done]
    return Outcome(
        case, verdict, _because(case, verdict, blocks, not_done), blocks, steps,
        list(dict.fromkeys(what for step in steps.values() for what in step.missing)),
    )


def with_estimate(events: Sequence[Event], outcome: Outcome, *, kept: Collection[str] = ()) -> tuple[list[Event], Outcome]:
    """The events with what the model now says about the heat plan that counts, and the same job judged with it.

    Nothing is added to a plan that was corrected, that has its estimate, or that was kept already (``kept``: ids).
    """
    plan, given = outcome.job.last("heat.planned"), list(events)
    changed = {event.body.entry for event in outcome.job.corrections}
    if plan is None or plan.body.estimate is not None or plan.id in changed or plan.id in kept or "heat" not in outcome.steps:
        return given, outcome
    from .steps.heat import estimated

    before = outcome.steps["disposition"]
    body = estimated(outcome.case, plan.body, before)
    given = [replace(event, body=body) if event.id == plan.id else event for event in given]
    case = replace(outcome.case, job=fold(given))
    return given, replace(outcome, case=case, steps=outcome.steps | {"heat": Asked(case).step("heat")})


def _standing(blocks: list[Block]) -> list[Block]:
    """What is merely not there yet does not count as holding the job while something earlier is really wrong."""
    first_wrong = next((number for number, block in enumerate(blocks) if not block.absent), len(blocks))
    return [block for number, block in enumerate(blocks) if not block.absent or number < first_wrong]


def _because(case: Case, verdict: Word, blocks: list[Block], not_done: list[NotDone]) -> str:
    if verdict == "released":
        what = "All but what is named here as not done" if not_done else "Every step of the procedure"
        limits = limits_of(case)
        ends = f" Out of service after {clock(limits.body.expires)}." if limits and limits.body.expires else ""
        only = f" Only for: {limits.body.conditions.rstrip('.')}." if limits and limits.body.conditions else ""
        return f"{what} is recorded and conforms, and the release is signed.{ends}{only}"
    first = next(block for block in blocks if block.kind == verdict)
    return first.because
