"""The release: the whole audit trail to be looked at, what is signed, and then the certificate."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse

from ...services.desk import issue
from ...services.desk.sign import review
from ..api.jobs import NOT_MADE
from ..on_job import job_page
from ..page import READERS, WORKERS, Page


def release(request: Any, job: str) -> HttpResponse:
    """What stands, what was corrected, what holds it; the form to sign the release; the certificate."""
    seen = review(request.data, job, actor=request.actor, now=request.now)
    there = issue.made(request.data, job, now=request.now)
    makes = request.actor.role in WORKERS and request.device is not None and not request.stopped
    more = {"review": seen, "page_there": there, "makes": makes, "not_made": NOT_MADE}
    return job_page(request, job, "release", "release/release.html", more)


PAGES = (Page("jobs/<job:job>/release/", release, "release", READERS),)
