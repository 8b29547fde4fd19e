"""For how long, and for what, may the part go back? What the engineer wrote with the release, and who may write it anew.

    temporary until 30 September, asked on 4 October                     → expired, however good it looks
    written anew by the engineer after a look that accepted it           → until the new day
    written anew without a look                                          → does not count
"""

from __future__ import annotations

from datetime import datetime

from ..case import Case
from ..kinds import Event


def limits_of(case: Case, at: datetime | None = None) -> Event | None:
    """The engineer's limits of service that count: those at the release, or written anew by ``at`` after a look."""
    job = case.part_job
    release = job.last("release.signed")
    counts: Event | None = None
    for event in job.of("service.limited"):
        person = job.people.get(event.by)
        if person is None or person.role != "engineer" or (at is not None and event.at > at):
            continue
        if release is None or event.at <= release.at:
            counts = event
        elif at is not None and any(look.body.accepted and look.body.stage == "end" and release.at < look.at <= event.at
                                    for look in job.of("visual.looked")):
            counts = event
    return counts
