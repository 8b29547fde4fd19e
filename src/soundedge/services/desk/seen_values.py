"""What does a signer see before the password: every value that is covered against its limit, the worst first, and the pictures.

    film, spot 4   1012 ± 31 µm, at least 1000 µm   → before 1190 ± 36 µm, as it lies nearer to its limit
    test voltage   not measured                     → before all that conforms

A value is drawn as a bar: its place, its ± (k = 2) and the limit, in percent of the bar's width.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from ...basis.finding import Finding
from ...job.acts.signing import SIGNED_STEPS
from ...job.asked import Asked
from ...job.case import Case
from ...job.judge import Outcome

_WORST = ("does_not_conform", "not_measured", "indeterminate", "conforms")
_EDGE = 8.0  # percent of the bar that stays free on either side


@dataclass(frozen=True)
class Bar:
    """Places on a bar, % of its width: the value, both ends of its ±, the limit."""

    value: float
    low: float
    high: float
    limit: float

    @property
    def wide(self) -> float:
        """How wide the ± is drawn, %."""
        return round(self.high - self.low, 2)


@dataclass(frozen=True)
class Value:
    """One comparison that a signature covers, and how it is drawn; ``bar`` is None where nothing was measured."""

    found: Finding
    bar: Bar | None

    @property
    def twice_u(self) -> float:
        """The expanded uncertainty, k = 2, in the unit of the value."""
        return 2 * (self.found.u or 0.0)


def values_of(outcome: Outcome, point: str, case: Case, repair: str) -> list[Value]:
    """The values of one hold point, worst first; of one repair where there are several."""
    asked = Asked(case) if repair else None
    steps = [asked.step(name) if asked else outcome.steps[name] for name in SIGNED_STEPS[point] if name in outcome.steps]
    found = [finding for step in steps for finding in step.findings]
    return [Value(one, bar(one)) for one in sorted(found, key=lambda one: (_WORST.index(one.verdict), _room(one)))]


def bar(found: Finding) -> Bar | None:
    """Where value, ± and limit stand on a bar.

    >>> bar(Finding(rule="film", value=1100, u=50, limit=1000, sense="at_least", unit="um", as_written="conforms",
    ...             verdict="conforms", because="-", next_move="", source="-"))
    Bar(value=50.0, low=8.0, high=92.0, limit=8.0)
    """
    if found.value is None or found.limit is None:
        return None
    spread = 2 * (found.u or 0.0)
    low, high = min(found.value - spread, found.limit), max(found.value + spread, found.limit)
    span = (high - low) or 1.0

    def at(value: float) -> float:
        return round(_EDGE + (100 - 2 * _EDGE) * (value - low) / span, 2)

    return Bar(at(found.value), at(found.value - spread), at(found.value + spread), at(found.limit))


def photos_of(outcome: Outcome, letters: Iterable[str]) -> list[dict[str, Any]]:
    """The measured photos of some damage, as found and as prepared: entry, letter, stage."""
    mine = set(letters)
    return [{"entry": event.id, "letter": event.body.id, "stage": event.body.stage}
            for event in (*outcome.job.replaced, *outcome.job.of("damage.outlined"))
            if event.body.photo_sha256 and event.body.survey and (not mine or event.body.id in mine)]


def _room(found: Finding) -> float:
    """How far from its limit a value lies, as a share of the limit; nothing measured lies on it."""
    if found.value is None or found.limit is None:
        return 0.0
    return abs(found.value - found.limit) / (abs(found.limit) or 1.0)
