"""Which instruments does this job stand on: calibrated when they were used, checked around the readings?"""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse

from ...services.desk.state import state
from ..on_job import job_page
from ..page import READERS, Page


def instruments(request: Any, job: str) -> HttpResponse:
    """Every instrument the job names, its calibration, what it measured, and the shim checks of its gauges."""
    outcome = state(request.data, job).outcome
    used: dict[str, list[Any]] = {}
    for event in outcome.job.events:
        name = getattr(event.body, "instrument", None)
        if name:
            used.setdefault(name, []).append(event)
    rows = []
    for name, events in used.items():
        tool = outcome.job.instruments.get(name)
        rows.append(
            {
                "id": name,
                "tool": tool,
                "uses": events,
                "lapsed": [e for e in events if tool and not tool.calibrated_on <= e.at <= tool.calibration_due],
            }
        )
    step = outcome.steps["instruments"]
    tolerance = outcome.case.procedure.value("gauge_tol_pct")
    checks = [
        {"event": e, "off_pct": 100 * (e.body.reading_um - e.body.reference_um) / e.body.reference_um}
        for e in outcome.job.of("gauge.checked")
    ]
    for one in checks:
        one["bad"] = tolerance is not None and abs(one["off_pct"]) > tolerance
    return job_page(
        request,
        job,
        "instruments",
        "instruments/instruments.html",
        {
            "rows": rows,
            "checks": checks,
            "tolerance": tolerance,
            "answers": step.answers,
            "films": outcome.job.of("film.measured"),
        },
    )


PAGES = (Page("jobs/<job:job>/instruments/", instruments, "instruments", READERS),)
