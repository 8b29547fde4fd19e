"""Conditions: the air log with its margins, the prepared surface, and the clock from preparation to the first layer."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from django.http import HttpResponse

from ...services.desk import drawings
from ...services.desk.measuring import tools_for
from ...services.desk.state import state
from ..on_job import LISTED
from ..page import READERS, Page
from ..worked import svg, work_page


def conditions(request: Any, job: str) -> HttpResponse:
    """What the room says of the air, the steel and the surface; the forms for all three."""
    return work_page(request, job, "conditions", "conditions/conditions.html", _more)


def _more(request: Any, outcome: Any, book: Any) -> dict[str, Any]:
    rows, prepared = drawings.air_rows(outcome), drawings.prepared(outcome)
    limit = prepared.get("limit_min")
    return {
        "rows": list(reversed(rows if request.GET.get("all") else rows[-LISTED:])),
        "n_rows": len(rows),
        "last": rows[-1] if rows else None,
        "said": drawings.answer_of(outcome, "conditions"),
        "limit_k": drawings.dew_limit_k(outcome),
        "prepared": prepared,
        "prepared_until": prepared["at"] + timedelta(minutes=limit) if limit else None,
        "ask_air": drawings.asking_air(outcome),
        "ask_surface": drawings.asking_surface(outcome),
        "air_tols": {name: tool.tol for name, tool in tools_for("air.read", outcome, book).items() if tool.tol},
    }


def chart(request: Any, job: str) -> HttpResponse:
    """Steel, dew point and limit over time."""
    return svg(drawings.air_chart(state(request.data, job).outcome))


PAGES = (
    Page("jobs/<job:job>/conditions/", conditions, "conditions", READERS),
    Page("jobs/<job:job>/conditions/chart.svg", chart, "conditions_chart", READERS),
)
