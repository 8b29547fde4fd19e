"""Of which entries may a breach be reported closed? Those with heat, and the fire watch, while the hazards hold the job.

    layer 2 at 09:14 lay outside the permit   → "Layer fused: 2, P-311, 2026-05-04 09:14 UTC"
"""

from __future__ import annotations

from ...job.judge import Outcome
from ...job.kinds import KINDS
from ...job.rules.hot import heated

RULES = ("permit", "vapour", "vapour_reading", "fire_watch")


def to_report(outcome: Outcome) -> dict[str, str]:
    """Entry → how it is told apart; empty while nothing of this kind holds the job."""
    hazards = outcome.steps.get("hazards")
    if hazards is None or not any(block.rule in RULES for block in hazards.blocks):
        return {}
    closed = {event.body.of for event in outcome.job.of("breach.closed")}
    done = {one.event.id: one.event for one in heated(outcome.job)} | {e.id: e for e in outcome.job.of("hot_work.ended")}
    return {name: f"{KINDS[event.kind].label}: {KINDS[event.kind].line(event.body)}, {event.at:%Y-%m-%d %H:%M} UTC"
            for name, event in done.items() if name not in closed}
