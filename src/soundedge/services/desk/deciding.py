"""What does the engineer decide on, what may be chosen, and which limits can a written instruction replace here?"""

from __future__ import annotations

from dataclasses import dataclass

from ...job.judge import Outcome
from ...job.rules.instruction import LIMIT_OF, REPAIR
from ...job.steps.disposition import ALLOWED
from .entry_fields import fields_of


@dataclass(frozen=True)
class Deciding:
    """``wanted``: somebody asks; ``limits``: what the job does not keep; ``owner``: the owner's letter is asked for as well;
    ``old_film``: how thin old film may be."""

    wanted: bool
    choices: tuple[str, ...]
    limits: tuple[str, ...]
    owner: bool
    old_film: bool


def deciding(outcome: Outcome) -> Deciding:
    """The engineer's form for a job as it stands; where the procedure forbids the repair, no repair is offered."""
    steps = outcome.steps.values()
    blocks = [block for step in steps for block in step.blocks]
    forbidden = any(block.rule == "prohibited" and block.kind == "rejected" for block in blocks)
    verdicts = [answer["verdict"] for answer in outcome.steps["disposition"].answers]
    reviewed = any(block.kind == "engineering_review" for block in blocks)
    wanted = forbidden or reviewed or any(verdict not in ALLOWED for verdict in verdicts)
    against = [one.rule for step in steps for one in step.findings if one.verdict != "conforms"] + [one.rule for one in blocks]
    choices = next(field.choices for field in fields_of("escalation.decided") if field.name == "decision")
    return Deciding(wanted, tuple(choice for choice in choices if not (forbidden and choice == REPAIR)),
                    tuple(dict.fromkeys(LIMIT_OF[rule] for rule in against if rule in LIMIT_OF)),
                    any(block.rule == "prohibited" and "owner" in block.because for block in blocks),
                    any(block.step == "thickness" and block.verb == "ask_engineer" for block in blocks))
