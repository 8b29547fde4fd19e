"""The release: the whole audit trail to be looked at, what is signed, and then the certificate."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse

from ...services.desk.sign import review
from ..on_job import job_page
from ..page import READERS, Page


def release(request: Any, job: str) -> HttpResponse:
    """What stands, what was corrected, what holds it; the form to sign the release; the certificate."""
    seen = review(request.data, job, actor=request.actor, now=request.now)
    return job_page(request, job, "release", "release/release.html", {"review": seen})


PAGES = (Page("jobs/<job:job>/release/", release, "release", READERS),)
