"""What the four pages of repair work share: the job's page with what the desk lined up for it, and a drawing as a file."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.http import HttpResponse
from django.shortcuts import render

from ..services.desk.state import state
from .on_job import common

VERDICTS = ("conforms", "does_not_conform", "indeterminate", "not_measured")


def work_page(
    request: Any, job: str, step: str, template: str, more: Callable[[Any, Any, Any], dict[str, Any]]
) -> HttpResponse:
    """The page of one step; ``more`` is given the request, the judged job and the register. The job is read once."""
    held = state(request.data, job)
    context = common(request, held, step)
    context |= {"verdict_words": VERDICTS} | more(request, context["outcome"], context["book"])
    return render(request, template, context)


def svg(drawn: bytes) -> HttpResponse:
    """An SVG that is only looked at: it may load and run nothing. Its address carries the job's head, so a copy may be kept."""
    answer = HttpResponse(drawn, content_type="image/svg+xml")
    answer.headers["Cache-Control"] = "private, max-age=86400"
    answer.headers["Content-Security-Policy"] = "default-src 'none'; style-src 'unsafe-inline'; sandbox"
    return answer
