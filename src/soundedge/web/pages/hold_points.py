"""The hold points of a job: what each covers, who signed it, and the form to sign the next."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse

from ...services.desk.breaches import to_report
from ...services.desk.sign import review
from ...services.desk.state import state
from ..on_job import job_page
from ..page import READERS, Page


def hold_points(request: Any, job: str) -> HttpResponse:
    """Every hold point of the procedure, in the order of the job."""
    seen = review(request.data, job, actor=request.actor, now=request.now)
    return job_page(request, job, "hold_points", "hold_points/hold_points.html",
                    {"review": seen, "breaches": {"of": to_report(state(request.data, job).outcome)}})


PAGES = (Page("jobs/<job:job>/hold_points/", hold_points, "hold_points", READERS),)
