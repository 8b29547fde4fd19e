"""Where does each placement of a layer go, said from the middle of the spot, and what does the repair look like drawn?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from ...basis.errors import Unknown
from ...basis.sentences import say
from ...buildup.ask import FORMS
from ...job.judge import Outcome


@dataclass(frozen=True)
class Place:
    """One placement: its number in working order, its ring from the outside (1 is the outermost), and where it lies from
    the middle of the bare spot [mm], ``right`` and ``up`` positive as on the part seen from the lined side."""

    order: int
    ring: int
    right_mm: float
    up_mm: float
    x: float
    y: float
    r_mm: float


@dataclass(frozen=True)
class Repair:
    """One repair of the disposition with the room's answer and its placements in working order."""

    number: int
    answer: dict[str, Any]
    centre: tuple[float, float]
    places: tuple[Place, ...]
    rings: int

    @property
    def name(self) -> str:
        """What tells its plan from every other: placements laid for another outline do not count for this one."""
        import hashlib

        said = repr([(p.order, round(p.x, 2), round(p.y, 2)) for p in self.places])
        return hashlib.sha256(said.encode()).hexdigest()[:12]


def repairs(outcome: Outcome) -> list[Repair]:
    """Every repair to build; none when the disposition asks for none, or the procedure cannot plan it."""
    step = outcome.steps.get("buildup")
    out = []
    for number, answer in enumerate(step.answers if step is not None else [], 1):
        cx, cy = middle(answer["outline_mm"])
        places = tuple(
            Place(p["order"], p["ring"] + 1, p["x"] - cx, p["y"] - cy, p["x"], p["y"], p["r_mm"])
            for p in sorted(answer["placements"], key=lambda one: one["order"])
        )
        out.append(Repair(number, answer, (cx, cy), places, max((p.ring for p in places), default=0)))
    return out


def middle(outline: list[Any]) -> tuple[float, float]:
    """Centre of area of an outline, mm.

    >>> middle([(0, 0), (4, 0), (4, 2), (0, 2)])
    (2.0, 1.0)
    """
    area = sx = sy = 0.0
    for (x0, y0), (x1, y1) in zip(outline, [*outline[1:], outline[0]], strict=True):
        cross = x0 * y1 - x1 * y0
        area, sx, sy = area + cross, sx + (x0 + x1) * cross, sy + (y0 + y1) * cross
    if abs(area) < 1e-9:
        return sum(p[0] for p in outline) / len(outline), sum(p[1] for p in outline) / len(outline)
    return sx / (3 * area), sy / (3 * area)


def drawing(outcome: Outcome, number: int, which: str) -> bytes:
    """The section or the plan of a repair as SVG.

    Raises
    ------
    Unknown
        There is no such repair.
    """
    step = outcome.steps.get("buildup")
    if step is None or not 1 <= number <= len(step.asked) or which not in ("section", "plan"):
        raise Unknown("drawing", say("desk.drawing_unknown", drawing=which, repair=number))
    title = f"{outcome.job.the('job.opened').number}, repair {number}"
    drawn = outcome.case.ask(FORMS, step.asked[number - 1] | {"drawing": True, "title": title})
    return str(drawn.section_svg if which == "section" else drawn.plan_svg).encode()
