"""Was something done against the rules that protect people, and has whoever answers for it closed the report?

    layer 1 at 09:40, permit until 09:30                      → held: report it
    BR-7, closed by the permit's issuer, entered by Berg      → printed, and the film is not bad for that alone

It cannot be undone, and nothing read later heals it. The technician whose work it was does not close it.
"""

from __future__ import annotations

from ...basis.sentences import Sentence, say
from ..case import Case, clock
from ..kinds import Event

ROLES = ("engineer", "manager")


def closed(case: Case, done: Event, because: str) -> Sentence | None:
    """What is printed of a breach that was closed; None while its report is open."""
    for event in case.part_job.of("breach.closed"):
        person = case.job.people.get(event.by)
        if event.body.of == done.id and event.at >= done.at and person is not None and person.role in ROLES:
            return say("acts.breach_closed", because=because.rstrip("."), report=event.body.report, by=event.body.closed_by,
                       at=clock(event.at))
    return None
