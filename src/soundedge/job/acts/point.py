"""What does one act's answer consist of? Points, each a fact with its state and one move; and the answer they make together.

    gas  old  "read at 08:40, before the solvent of 09:10"  measure  blocks        → no

A point *blocks*, *warns* or only *informs*. Class P can hurt people, X destroys evidence, Q spoils the repair; they are listed
in that order, and the first is shown large.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, Literal

Class = Literal["P", "X", "Q"]
State = Literal["missing", "old", "dead", "failing", "odd", "waived"]
Verb = Literal["measure", "read_again", "wait_until", "correct", "ask_engineer", "ask_owner", "ask", "stop"]
Weight = Literal["blocks", "warns", "informs"]
Answer = Literal["go", "go_with_warnings", "no"]

ACTS = ("open_part", "wipe", "grind", "heat_on", "first_layer", "next_layer", "restart", "sand", "check_gauge", "measure_film",
        "spark_on", "sign", "release", "return_to_service")
_WEIGHTS, _CLASSES = ("blocks", "warns", "informs"), ("P", "X", "Q")


@dataclass(frozen=True)
class Point:
    """One fact an act stands on, why it is not good, and the one move. ``mark``: own judgement, common practice, or empty."""

    rule: str
    cls: Class
    fact: str
    state: State
    because: str
    verb: Verb
    what: str
    by: str
    weight: Weight = "blocks"
    value: float | str | None = None
    unit: str = ""
    limit: float | None = None
    where: str = ""
    source: str = ""
    mark: str = ""

    def as_plain(self) -> dict[str, Any]:
        """Plain values for ``job may`` and the API."""
        return {"rule": self.rule, "class": self.cls, "fact": self.fact, "state": self.state, "value": self.value,
                "unit": self.unit, "limit": self.limit, "where": self.where, "because": self.because, "verb": self.verb,
                "what": self.what, "by": self.by, "weight": self.weight, "source": self.source, "mark": self.mark}


@dataclass(frozen=True)
class Until:
    """When a *go* ends, and the fact that ends it."""

    at: datetime
    because: str


@dataclass(frozen=True)
class Act:
    """The answer for one act on one repair, and its points in their order."""

    act: str
    repair: str | None
    points: tuple[Point, ...]
    until: Until | None = None
    zone: str | None = None
    hold_point: str | None = None
    entry: str = ""
    figures: dict[str, Any] = field(default_factory=dict)

    @property
    def answer(self) -> Answer:
        """No when a point blocks, go with warnings when one warns, else go."""
        weights = {point.weight for point in self.points}
        return "no" if "blocks" in weights else "go_with_warnings" if "warns" in weights else "go"

    @property
    def first(self) -> Point | None:
        """The point that is shown large: the first that blocks, or that warns."""
        return next((point for point in self.points if point.weight != "informs"), None)

    def as_plain(self) -> dict[str, Any]:
        """Plain values for ``job may`` and the API."""
        until = self.until if self.answer != "no" else None
        return {
            "act": self.act, "repair": self.repair, "zone": self.zone, "hold_point": self.hold_point, "answer": self.answer,
            "valid_until": until.at.isoformat() if until else None, "valid_because": until.because if until else None,
            "points": [point.as_plain() for point in self.points],
        } | ({"entry": self.entry} if self.entry else {}) | ({"figures": self.figures} if self.figures else {})


def ordered(points: list[Point]) -> tuple[Point, ...]:
    """What blocks first, then by class; within one the order of the trade, in which they were asked. None twice."""
    unlike = list({(point.rule, point.fact, point.because): point for point in points}.values())
    return tuple(sorted(unlike, key=lambda point: (_WEIGHTS.index(point.weight), _CLASSES.index(point.cls))))


def soonest(ends: list[Until | None]) -> Until | None:
    """The first of several ends."""
    return min((end for end in ends if end is not None), key=lambda end: end.at, default=None)
