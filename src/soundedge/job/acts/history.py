"""Where has this part been, and is it clean of what was in it?

    last service acid, statement DC-2026-118 stands          → nothing to ask
    last service not stated                                  → ask its owner; nobody here knows
"""

from __future__ import annotations

from collections.abc import Iterator

from ...basis.sentences import say
from .moment import Moment
from .point import Point


def service(now: Moment, rule: str) -> Iterator[Point]:
    """The last service, and the decontamination of a part that was in it."""
    part = now.job.the("part.identified")
    if getattr(part, "never_in_service", None) is True:
        return
    old = (now.job.the("job.opened").rules or 1) < 2
    if part.last_service is None:
        yield Point(rule, "P", "service", "missing", say("acts.service_missing"), "ask_owner", say("acts.service_ask"), "owner",
                    "informs" if old else "blocks", source="common practice, no source")
    elif part.decontamination is None:
        yield Point(rule, "P", "decontamination", "missing", say("acts.decontamination_missing"), "ask_owner",
                    say("acts.decontamination_ask"), "owner", "informs" if old else "blocks",
                    source="common practice, no source")
