"""The page that says why a request was refused and leads back; it never shows a traceback."""

from __future__ import annotations

import logging
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from ...basis.errors import BenchError
from ...basis.sentences import Sentence, say
from ..problem import problem, status_of

LOG = logging.getLogger("soundedge.web")


def log_refusal(request: Any, kind: str) -> None:
    """A line in the log for access that was refused: who, from where, what. Nothing of it can begin a new line."""
    user = getattr(request, "user", None)
    who = user.login if user is not None and user.is_authenticated else "nobody"
    LOG.warning("refused %s %s to %s from %s: %s", request.method, ascii(request.path[:200]), ascii(who),
                request.META.get("REMOTE_ADDR"), kind)


def refusal_page(request: HttpRequest, status: int, sentence: Sentence, kind: str) -> HttpResponse:
    """A page with one sentence."""
    if status in (401, 403):
        log_refusal(request, kind)
    return render(request, "refused.html", {"status": status, "sentence": sentence, "kind": kind}, status=status)


def answer_to(request: HttpRequest, fault: BenchError) -> HttpResponse:
    """The page for a fault of the bench."""
    return refusal_page(request, status_of(fault), fault.message, fault.kind)


def csrf(request: HttpRequest, reason: str = "") -> HttpResponse:
    """A form that did not come from this bench, or is too old."""
    return _either(request, 403, say("web.form_too_old"), "csrf")


def bad(request: HttpRequest, exception: Any = None) -> HttpResponse:
    """A request that cannot be read."""
    return refusal_page(request, 400, say("web.request_unreadable"), "unreadable")


def forbidden(request: HttpRequest, exception: Any = None) -> HttpResponse:
    """Not for this person."""
    return refusal_page(request, 403, say("web.not_for_you"), "refused")


def not_found(request: HttpRequest, exception: Any = None) -> HttpResponse:
    """Nothing here: the same words for what is not there and for what is another shop's."""
    return _either(request, 404, say("web.nothing_here"), "unknown")


def broken(request: HttpRequest) -> HttpResponse:
    """A fault of ours."""
    return _either(request, 500, say("web.fault"), "fault")


def _either(request: HttpRequest, status: int, sentence: Sentence, kind: str) -> HttpResponse:
    """For a program of the API as JSON, for a person as a page."""
    if request.path.startswith("/api/"):
        return problem(status, kind, sentence)
    return refusal_page(request, status, sentence, kind)
