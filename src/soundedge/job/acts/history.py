"""Where has this part been, and is it clean of what was in it? The rule that the judge of the release asks, before the act.

    last service acid, statement DC-2026-118 stands          → nothing to ask
    last service not stated                                  → ask its owner; nobody here knows
    acid seen to weep at the edge                            → the engineer, before any heat
"""

from __future__ import annotations

from collections.abc import Iterator

from ...basis.sentences import say
from ..rules.service import FACTS, SOURCE, service_open
from ..step import Block
from .moment import Moment
from .point import Point


def service(now: Moment, rule: str) -> Iterator[Point]:
    """The last service, the decontamination of a part that was in it, and product at the edge."""
    for one in service_open(now.case):
        yield Point(rule, "P", one.fact, one.state, one.because, one.verb, one.what, one.by,
                    "blocks" if one.holds else "informs", value=one.value, limit=one.limit, source=one.source)
    stated = now.job.last("decontamination.stated")
    if stated is not None and stated.body.residual_hazard:
        yield Point(rule, "P", "decontamination", "failing",
                    say("acts.residual_hazard", number=stated.body.number, hazard=stated.body.residual_hazard), "ask",
                    say("acts.residual_hazard_then"), "site_safety", "warns", source=SOURCE)


def not_of_service(block: Block) -> bool:
    """Whether a block is said elsewhere than here."""
    return block.rule not in FACTS
