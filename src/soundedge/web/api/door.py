"""How an operation of the API says who may call it: with ``operation``; there is no other way to add one.

    router = Router(tags=["jobs"])

    @operation(router, "POST", "/jobs", roles=WORKERS, summary="Open a job")
    def open_job(request: Any, body: Opening) -> HttpResponse: …

The role is asked before anything of the request is read, then the X-CSRFToken header, then the body, strictly.
``device``: writing needs an enrolled device.
"""

from __future__ import annotations

import inspect
import re
from collections.abc import Callable
from functools import wraps
from typing import Any

from django.http import HttpRequest, HttpResponse
from ninja import NinjaAPI, Router
from ninja.errors import ValidationErrorContext
from ninja.parser import Parser
from ninja.utils import check_csrf

from ...basis import strict_json
from ...basis.errors import Conflict, Unreadable
from ...basis.question import as_bench_error
from ...basis.sentences import say
from ..middleware import READING, barred
from ..pages.refused import csrf, log_refusal
from ..problem import Problem, problem


class Api(NinjaAPI):
    """What cannot be read is said by the bench's own sentences; its description holds the one refusal once."""

    def get_openapi_schema(self, **more: Any) -> Any:
        """The description, OpenAPI 3.1."""
        drawn = super().get_openapi_schema(**more)
        content = {"application/problem+json": {"schema": Problem.model_json_schema()}}
        drawn["components"]["responses"] = {"Refused": {"description": "Refused", "content": content}}
        return drawn

    def validation_error_from_error_contexts(self, error_contexts: list[ValidationErrorContext[Any]]) -> Any:
        """The first fault of a body or of a query, as one of the bench's errors."""
        first = error_contexts[0]
        name = getattr(first.model, "__read_from_single_attr__", None)  # a body stands under the name of its parameter
        if name is None:
            return as_bench_error(first.pydantic_validation_error)
        return as_bench_error(first.pydantic_validation_error, first.model.model_fields[name].annotation, under=1)


class StrictBody(Parser):
    """Bodies are JSON objects, read by the house's strict reader."""

    def parse_body(self, request: HttpRequest) -> dict[str, Any]:
        """The body; raises a BenchError."""
        read = strict_json.loads(request.body, what="The request")
        if not isinstance(read, dict):
            raise Unreadable("", say("basis.request_not_an_object"))
        return read


class NotLetIn(Exception):
    """Who calls may not, or not in this way; ``response`` says why."""

    def __init__(self, response: HttpResponse) -> None:
        super().__init__()
        self.response = response


# method + path → the roles that may; tests/web/matrix.toml holds the same once more.
OPERATIONS: dict[tuple[str, str], frozenset[str]] = {}


def operation(
    router: Router,
    method: str,
    path: str,
    *,
    roles: frozenset[str],
    answers: Any = None,
    device: bool = True,
    summary: str = "",
    body_schema: dict[str, Any] | None = None,
    body_type: str = "application/json",
    produces: str = "",
) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    """Add an operation.

    Parameters
    ----------
    roles : frozenset of str
        Who may call it.
    answers : type, optional
        What a 200 carries; refusals are ``Problem`` with 401, 403, 404, 409, 413, 422, 507.
    body_schema : dict, optional
        JSON Schema of the body, where the view has no ``body`` and reads ``request.body`` itself (a room's question, a photo).
    produces : str, optional
        Media type of an answer that is not JSON.
    """
    OPERATIONS[method, path] = roles

    def add(view: Callable[..., Any]) -> Callable[..., Any]:
        def let_in(request: Any) -> bool:
            refusal = _refusal(request, roles, device) or _foreign(request, body_type)
            if refusal is not None:
                raise NotLetIn(refusal)
            return True

        @wraps(view)
        def once(request: Any, *args: Any, **kwargs: Any) -> Any:
            key, body = request.headers.get("Idempotency-Key"), kwargs.get("body")
            if key is not None and key.strip('"') != getattr(body, "id", key.strip('"')):
                raise Conflict("id", say("web.idempotency_key"))
            return view(request, *args, **kwargs)

        once.__signature__ = inspect.signature(view, eval_str=True)  # type: ignore[attr-defined]
        extra: dict[str, Any] = {"responses": {str(code): {"$ref": "#/components/responses/Refused"} for code in _REFUSALS}}
        if body_schema is not None:
            extra["requestBody"] = {"required": True, "content": {body_type: {"schema": body_schema}}}
        if produces:
            extra["responses"]["200"] = {
                "description": "OK",
                "content": {produces: {"schema": {"type": "string", "format": "binary"}}},
            }
        router.api_operation(
            [method],
            path,
            auth=let_in,
            response={200: answers} if answers is not None else None,
            summary=summary or None,
            openapi_extra=extra,
            exclude_unset=False,
            operation_id=_called(method, path),
        )(once)
        return once

    return add


def _called(method: str, path: str) -> str:
    """The operation's name in the description: ``post_jobs_job_entries``."""
    return "_".join([method.lower(), *(part for part in re.split(r"[^a-z0-9]+", path) if part)])


def _refusal(request: Any, roles: frozenset[str], device: bool) -> HttpResponse | None:
    user = request.user
    if not user.is_authenticated:
        log_refusal(request, "signed out")
        return problem(401, "signed_out", say("web.signed_out"))
    if user.one_time:
        return problem(403, "one_time", say("web.one_time_password"))
    why = barred(request, roles, device=device)
    if why:
        log_refusal(request, "role or device")
        return problem(403, "refused", why, field="role")
    return None


def _foreign(request: Any, body_type: str) -> HttpResponse | None:
    """A request that a page of another place could have sent, or whose body is not what is read here."""
    if request.method in READING:
        return None
    if request.content_type in _FORMS or (body_type == "application/json" and request.content_type != body_type):
        given = request.content_type[:60] or say("web.no_type")
        return problem(415, "unreadable", say("web.body_type", given=given, wanted=body_type))
    response = check_csrf(request)
    if response is not None:
        log_refusal(request, "csrf")
        return csrf(request)
    return None


_FORMS = ("multipart/form-data", "application/x-www-form-urlencoded")
_REFUSALS = (400, 401, 403, 404, 409, 411, 413, 415, 422, 429, 503, 507)
