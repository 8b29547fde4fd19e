"""Where has this part been, and is it clean of what was in it? The rule that the judge of the release asks, before the act.

    last service acid, statement DC-2026-118 stands          → nothing to ask
    last service not stated                                  → ask its owner; nobody here knows
    acid seen to weep at the edge                            → the engineer, before any heat
"""

from __future__ import annotations

from collections.abc import Iterator

from ..rules.service import FACTS, service_open
from ..step import Block
from .moment import Moment
from .point import Point


def service(now: Moment, rule: str) -> Iterator[Point]:
    """The last service, the decontamination of a part that was in it, and product at the edge."""
    for one in service_open(now.case):
        yield Point(rule, "P", one.fact, one.state, one.because, one.verb, one.what, one.by,
                    "blocks" if one.holds else "informs", value=one.value, limit=one.limit, source=one.source)


def not_of_service(block: Block) -> bool:
    """Whether a block is said elsewhere than here."""
    return block.rule not in FACTS
