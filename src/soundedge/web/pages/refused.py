"""What does a person see when something was refused? The sentence, and the way back; never a trace."""

from __future__ import annotations

import logging
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from ...basis.errors import BenchError, Conflict, RecordBroken, Refused, Unknown
from ...basis.sentences import say

LOG = logging.getLogger("soundedge.web")


def status_of(fault: BenchError) -> int:
    """The HTTP status of a fault of the bench."""
    if isinstance(fault, Conflict):
        return 409
    if fault.kind == "not_kept":
        return 507
    if isinstance(fault, RecordBroken):
        return 503
    if fault.kind == "locked":
        return 429
    if fault.kind == "not_yours" or (isinstance(fault, Refused) and fault.field in ("role", "shop")):
        return 403
    if isinstance(fault, Unknown) and fault.field == "job":
        return 404
    return 422


def told(request: Any, kind: str) -> None:
    """A line in the log for access that was refused: who, from where, what. Nothing of it can begin a new line."""
    user = getattr(request, "user", None)
    who = user.login if user is not None and user.is_authenticated else "nobody"
    LOG.warning("refused %s %s to %s from %s: %s", request.method, ascii(request.path[:200]), ascii(who),
                request.META.get("REMOTE_ADDR"), kind)


def refused(request: HttpRequest, status: int, sentence: str, kind: str) -> HttpResponse:
    """A page with one sentence."""
    if status in (401, 403):
        told(request, kind)
    return render(request, "refused.html", {"status": status, "sentence": sentence, "kind": kind}, status=status)


def answer_to(request: HttpRequest, fault: BenchError) -> HttpResponse:
    """The page for a fault of the bench."""
    return refused(request, status_of(fault), fault.message, fault.kind)


def csrf(request: HttpRequest, reason: str = "") -> HttpResponse:
    """A form that did not come from this bench, or is too old."""
    sentence = "The form was not sent from a page of this bench, or the page is too old. Load the page again, then send."
    if request.path.startswith("/api/"):
        from ..api.problem import problem

        return problem(403, "csrf", sentence)
    return refused(request, 403, sentence, "csrf")


def bad(request: HttpRequest, exception: Any = None) -> HttpResponse:
    """A request that cannot be read."""
    return refused(request, 400, say("web.request_read"), "unreadable")


def forbidden(request: HttpRequest, exception: Any = None) -> HttpResponse:
    """Not for this person."""
    return refused(request, 403, say("web.you"), "refused")


def not_found(request: HttpRequest, exception: Any = None) -> HttpResponse:
    """Nothing here: the same words for what is not there and for what is another shop's."""
    if request.path.startswith("/api/"):
        from ..api.problem import problem

        return problem(404, "unknown", "There is nothing at this address.")
    return refused(request, 404, say("web.there_nothing_address"), "unknown")


def broken(request: HttpRequest) -> HttpResponse:
    """A fault of ours."""
    if request.path.startswith("/api/"):
        from ..api.problem import problem

        return problem(500, "fault", "The bench has a fault here. Nothing was kept; it is in the log.")
    return refused(request, 500, say("web.bench_fault_here"), "fault")
