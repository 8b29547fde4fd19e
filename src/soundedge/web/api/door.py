"""How does an operation of the API say who may call it? With ``operation``; there is no other way to add one.

    router = Router(tags=["jobs"])

    @operation(router, "GET", "/jobs", roles=READERS, answers=list[JobLine])
    def jobs(request): …

The role is asked before anything of the request is read,
then the X-CSRFToken header. ``device``: writing needs an enrolled device.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import wraps
from typing import Any

from django.http import HttpResponse
from ninja import Router, Schema
from ninja.utils import check_csrf

from ...basis.errors import BenchError
from ..middleware import READING, barred
from ..pages.refused import csrf, told
from .problem import problem, problem_of


class Problem(Schema):
    """A refusal (RFC 9457)."""

    type: str
    title: str
    status: int
    detail: str
    kind: str
    field: str
    changed: list[dict[str, Any]] | None = None


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
        JSON Schema of the body, where the view reads ``request.body`` itself (the rooms' own strict reader does).
    produces : str, optional
        Media type of an answer that is not JSON.
    """
    OPERATIONS[method, path] = roles

    def add(view: Callable[..., Any]) -> Callable[..., Any]:
        @wraps(view)
        def at_the_door(request: Any, *args: Any, **kwargs: Any) -> Any:
            refusal = _refusal(request, roles, device) or _foreign(request, body_type)
            if refusal is not None:
                return refusal
            try:
                return view(request, *args, **kwargs)
            except BenchError as fault:
                return problem_of(fault)

        extra: dict[str, Any] = {"responses": {str(code): _PROBLEM for code in _REFUSALS}}
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
            response={200: answers} if answers is not None else None,
            summary=summary or None,
            openapi_extra=extra,
            exclude_unset=False,
            operation_id=_called(method, path),
        )(at_the_door)
        return at_the_door

    return add


def _called(method: str, path: str) -> str:
    """The operation's name in the description: ``post_jobs_job_entries``."""
    return "_".join([method.lower(), *(part for part in re.split(r"[^a-z0-9]+", path) if part)])


def _refusal(request: Any, roles: frozenset[str], device: bool) -> HttpResponse | None:
    user = request.user
    if not user.is_authenticated:
        told(request, "signed out")
        return problem(401, "signed_out", "You are not signed in. Sign in; what waits on this device stays on it.")
    if user.one_time:
        return problem(403, "one_time", "Choose a password of your own first.")
    why = barred(request, roles, device=device)
    if why:
        told(request, "role or device")
        return problem(403, "refused", why, field="role")
    return None


def _foreign(request: Any, body_type: str) -> HttpResponse | None:
    """A request that a page of another place could have sent, or whose body is not what is read here."""
    if request.method in READING:
        return None
    if request.content_type in _FORMS or (body_type == "application/json" and request.content_type != body_type):
        return problem(415, "unreadable", f"The body is {request.content_type[:60] or 'of no type'}; send {body_type}.")
    response = check_csrf(request)
    if response is not None:
        told(request, "csrf")
        return csrf(request)
    return None


_FORMS = ("multipart/form-data", "application/x-www-form-urlencoded")
_REFUSALS = (400, 401, 403, 404, 409, 411, 413, 415, 422, 429, 503, 507)
_PROBLEM = {
    "description": "Refused",
    "content": {
        "application/problem+json": {
            "schema": {
                "type": "object",
                "required": ["type", "title", "status", "detail", "kind", "field"],
                "properties": {
                    "type": {"type": "string"},
                    "title": {"type": "string"},
                    "status": {"type": "integer"},
                    "detail": {"type": "string"},
                    "kind": {"type": "string"},
                    "field": {"type": "string"},
                    "changed": {"type": "array", "items": {"type": "object"}},
                },
            }
        }
    },
}
