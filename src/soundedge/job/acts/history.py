"""Where has this part been, and is it clean of what was in it?

    last service acid, statement DC-2026-118 stands          → nothing to ask
    last service not stated                                  → ask its owner; nobody here knows
"""

from __future__ import annotations

from collections.abc import Iterator

from ...basis.sentences import Sentence, say
from .moment import Moment
from .point import Point, State, Weight


def service(now: Moment, rule: str) -> Iterator[Point]:
    """The last service, and the decontamination of a part that was in it: any text counts, a statement by its tag and day."""
    part = now.job.the("part.identified")
    if part.service == "never":
        return
    stated = now.job.last("decontamination.stated")
    weight: Weight = "informs" if (now.job.the("job.opened").rules or 1) < 2 and part.service is None else "blocks"
    if part.service in (None, "unknown") and part.last_service is None:
        yield _asked_of_owner(rule, "service", "missing", say("acts.service_missing"), say("acts.service_ask"), weight)
    elif stated is None and part.decontamination is None:
        yield _asked_of_owner(rule, "decontamination", "missing", say("acts.decontamination_missing"),
                              say("acts.decontamination_ask"), weight)
    if stated is None:
        return
    body = stated.body
    if body.tag != part.tag:
        yield _asked_of_owner(rule, "decontamination", "failing",
                              say("acts.decontamination_other_tag", number=body.number, stated=body.tag, tag=part.tag),
                              say("acts.decontamination_ask"))
    if part.last_contact is not None and body.stated_on < part.last_contact:
        yield _asked_of_owner(rule, "decontamination", "dead",
                              say("acts.decontamination_before_contact", number=body.number,
                                  stated=f"{body.stated_on:%Y-%m-%d}", contact=f"{part.last_contact:%Y-%m-%d}"),
                              say("acts.decontamination_ask"))


def _asked_of_owner(rule: str, fact: str, state: State, because: Sentence, what: Sentence, weight: Weight = "blocks") -> Point:
    return Point(rule, "P", fact, state, because, "ask_owner", what, "owner", weight, source="common practice, no source")
