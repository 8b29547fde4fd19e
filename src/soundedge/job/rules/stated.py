"""What did the owner state of the service of a part, at its opening or on a later paper for its tag?"""

from __future__ import annotations

from ..fold import Job


def stated_service(job: Job) -> str | None:
    """The service as it was stated last; None: nobody said."""
    part = job.the("part.identified")
    said: list[str | None] = [part.service]
    said += [one.body.service for one in job.of("decontamination.stated") if one.body.tag == part.tag and one.body.service]
    return said[-1]
