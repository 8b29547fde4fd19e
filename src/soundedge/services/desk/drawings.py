"""What does a page of a job draw and ask of the air, the steel and the repair in section?

The job's steps have asked the rooms already; this only lines up what they said, reading by reading, and draws it.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from ...basis.errors import Unknown
from ...basis.sentences import say
from ...conditions.dew_point import dew_point_c, margin_k, margin_worst_k
from ...conditions.given import ConditionLimits
from ...job.judge import Outcome
from ...job.steps.conditions import typed_air, typed_surface

TOL_K, TOL_RH_PCT = 0.5, 2.0  # as the conditions room takes them when nothing is said


@dataclass(frozen=True)
class AirRow:
    """One reading with what follows from it [°C, %, K], and what held from the reading before to this one."""

    at: datetime
    air_c: float
    rh_pct: float
    steel_c: float
    dew_point_c: float
    margin_k: float
    margin_worst_k: float
    state: str
    because: str
    instrument: str
    by: str


def answer_of(outcome: Outcome, step: str) -> dict[str, Any]:
    """What the room said of this step, the first of its answers; empty when it was not asked."""
    held = outcome.steps.get(step)
    return held.answers[0] if held is not None and held.answers else {}


def air_rows(outcome: Outcome) -> list[AirRow]:
    """The air log, oldest first. ``state`` is good, bad or unknown, or empty at the first reading."""
    said = {one["end"]: one for one in answer_of(outcome, "conditions").get("intervals", [])}
    ends = {_same(end): one for end, one in said.items()}
    rows = []
    for event in outcome.job.of("air.read"):
        body = event.body
        tool = outcome.job.instruments.get(body.instrument or "")
        tol = tool.tol if tool is not None and tool.tol else TOL_K
        held = ends.get(event.at, {})
        rows.append(
            AirRow(
                event.at,
                body.air_c,
                body.rh_pct,
                body.steel_c,
                dew_point_c(body.air_c, body.rh_pct),
                margin_k(body.air_c, body.rh_pct, body.steel_c),
                margin_worst_k(body.air_c, body.rh_pct, body.steel_c, tol_air_k=tol, tol_rh_pct=TOL_RH_PCT, tol_steel_k=tol),
                held.get("state", ""),
                held.get("because", ""),
                body.instrument or "",
                outcome.job.name_of(event.by),
            )
        )
    return rows


def dew_limit_k(outcome: Outcome) -> float:
    """The margin that the procedure asks for, or the room's own where it names none. [K]"""
    value = outcome.case.procedure.value("dew_margin_k")
    return float(value if value is not None else ConditionLimits().dew_margin_k or 0.0)


def air_chart(outcome: Outcome) -> bytes:
    """Steel, dew point and limit over time, as SVG.

    Raises
    ------
    Unknown
        Nothing was read yet.
    """
    from ...conditions.charts import log_chart
    from ...report.charts import chart_svg

    rows = [{"at": row.at.isoformat(), "steel_c": row.steel_c, "dew_point_c": row.dew_point_c} for row in air_rows(outcome)]
    if not rows:
        raise Unknown("chart", say("desk.air_not_read"))
    return chart_svg(log_chart(rows, dew_margin_k=dew_limit_k(outcome)))


def asking_air(outcome: Outcome) -> dict[str, Any]:
    """What the conditions room is asked beside the typed reading."""
    return typed_air(outcome.case)


def asking_surface(outcome: Outcome) -> dict[str, Any]:
    """What the room is asked beside the typed surface."""
    return typed_surface(outcome.case)


def prepared(outcome: Outcome) -> dict[str, Any]:
    """The clock from the last preparation to the first layer: when, until when at the latest, and the layer if there is one."""
    first = outcome.job.first_layer_at()
    events = [event for event in outcome.job.of("surface.prepared") if first is None or event.at <= first]
    if not events:
        return {}
    return {
        "at": events[-1].at,
        "first_layer_at": first,
        "limit_min": outcome.case.procedure.value("prep_to_layer_min_max"),
        "minutes": answer_of(outcome, "conditions").get("prep_minutes"),
    }


def _same(text: Any) -> datetime:
    return text if isinstance(text, datetime) else datetime.fromisoformat(str(text))
