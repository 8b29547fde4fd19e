"""What was repaired on this part before. The shop's own ledger is asked by the part's tag; older repairs are written down.

A repair that is found here counts only when it stands in the job: the record must say by itself what it was judged on.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from math import pi
from pathlib import Path
from typing import Any

from .affected import by_part

DAYS_PER_MONTH = 365.2425 / 12


@dataclass(frozen=True)
class Earlier:
    """An earlier repair of the part: ``x``, ``y``, ``d`` in mm, age in months; whether job and ledger have it."""

    job: str
    x: float
    y: float
    d: float
    months_ago: float
    at: str = ""
    in_job: bool = False
    in_ledger: bool = False

    @property
    def area_mm2(self) -> float:
        """Area of the circle round the repair, mm²."""
        return pi / 4 * self.d**2

    def body(self) -> dict[str, Any]:
        """What ``repair.recalled`` keeps of it."""
        return {"job": self.job, "x": round(self.x, 2), "y": round(self.y, 2), "d": round(self.d, 2),
                "months_ago": round(self.months_ago, 1)}


def months_between(early: datetime, late: datetime) -> float:
    """Months of mean length; never below 0.

    >>> from datetime import datetime, UTC
    >>> round(months_between(datetime(2025, 1, 1, tzinfo=UTC), datetime(2026, 1, 1, tzinfo=UTC)), 1)
    12.0
    """
    return max(0.0, (late - early).total_seconds() / 86400 / DAYS_PER_MONTH)


def earlier_repairs(data: Path, job: Any, *, now: datetime) -> list[Earlier]:
    """What the job has written down, and what the shop's ledger knows of the same tag beside it.

    Parameters
    ----------
    job : job.fold.Job
        The folded job; its own repairs are not among them.
    """
    number, tag = job.the("job.opened").number, job.the("part.identified").tag
    known = [one for one in by_part(data, tag) if one["job"] != number]
    left = list(known)
    out = []
    for event in job.of("repair.recalled"):
        body = event.body
        match = next((one for one in left if _same(body, one)), None)
        if match is not None:
            left.remove(match)
        at = match["at"] if match else ""
        out.append(Earlier(body.job, body.x, body.y, body.d, body.months_ago, at, True, match is not None))
    for one in left:
        age = months_between(datetime.fromisoformat(one["at"]), now)
        out.append(Earlier(one["job"], one["x"], one["y"], one["d"], age, one["at"], False, True))
    return sorted(out, key=lambda one: -one.months_ago)


def _same(body: Any, one: dict[str, Any]) -> bool:
    return body.job == one["job"] and all(abs(getattr(body, key) - one[key]) < 1.0 for key in ("x", "y"))
