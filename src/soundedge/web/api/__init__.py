"""The HTTP API: the same requests and answers as every other door, for the pages and for other programs of the shop."""

from __future__ import annotations

import pkgutil
from importlib import import_module
from typing import Any

from django.conf import settings
from django.core.exceptions import RequestDataTooBig
from django.http import Http404, HttpResponse, UnreadablePostError
from ninja.errors import HttpError

from ...basis.errors import BenchError
from ...basis.sentences import say
from ..problem import problem, problem_of
from .door import Api, NotLetIn, StrictBody


def _signed_in(view: Any) -> Any:
    """The description of the API is for people who are signed in."""

    def guarded(request: Any, *args: Any, **kwargs: Any) -> HttpResponse:
        if not request.user.is_authenticated:
            return problem(401, "signed_out", say("web.signed_out"))
        if request.user.one_time:
            return problem(403, "one_time", say("web.one_time_password"))
        return view(request, *args, **kwargs)

    return guarded


api = Api(
    parser=StrictBody(),
    title="Sound Edge",
    version="1",
    docs_url=None,
    openapi_url="/openapi.json",
    docs_decorator=_signed_in,
    description="Find, decide, plan, do, prove, release: the bench's own questions and answers. Session cookie and "
    "X-CSRFToken header; refusals are problem details (RFC 9457).",
)


@api.exception_handler(NotLetIn)
def _not_let_in(request: Any, fault: NotLetIn) -> HttpResponse:
    return fault.response


@api.exception_handler(BenchError)
def _refused(request: Any, fault: BenchError) -> HttpResponse:
    return problem_of(fault)


@api.exception_handler(Http404)
def _nothing(request: Any, fault: Http404) -> HttpResponse:
    return problem(404, "unknown", say("web.nothing_here"))


@api.exception_handler(RequestDataTooBig)
def _too_big(request: Any, fault: RequestDataTooBig) -> HttpResponse:
    most = settings.DATA_UPLOAD_MAX_MEMORY_SIZE / 1e6
    return problem(413, "out_of_range", say("web.request_too_large", most_mb=most))


@api.exception_handler(UnreadablePostError)
def _cut_off(request: Any, fault: UnreadablePostError) -> HttpResponse:
    return problem(400, "unreadable", say("web.request_cut_short"))


@api.exception_handler(HttpError)
def _http(request: Any, fault: HttpError) -> HttpResponse:
    if isinstance(fault.__cause__, BenchError):  # the body's own fault, which the framework has wrapped
        return problem(422, fault.__cause__.kind, fault.__cause__.message, field=fault.__cause__.field)
    return problem(fault.status_code, "unreadable", say("web.request_unreadable"))


for _info in sorted(pkgutil.iter_modules(__path__), key=lambda info: info.name):
    _router = getattr(import_module(f"{__name__}.{_info.name}"), "router", None)
    if _router is not None:
        api.add_router("", _router)
