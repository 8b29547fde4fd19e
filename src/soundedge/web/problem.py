"""What the API answers when something is refused: problem details (RFC 9457) with the bench's own sentence.

{"type": "about:blank", "title": "Unprocessable Content", "status": 422, "kind": "out_of_range", "field": "rh_pct",
 "detail": "Relative humidity is 106 %; it must be above 0 and at most 100 %. …", "id": "basis.…", "params": {…}}

``detail`` is in the reader's language and units; ``id`` and ``params`` are the same for everybody.
"""

from __future__ import annotations

import json
from http import HTTPStatus
from typing import Any

from django.http import HttpResponse
from pydantic import BaseModel

from ..basis.errors import BenchError, Conflict, RecordBroken, Refused, Unknown
from ..basis.sentences import Sentence
from .reader import in_words


class Problem(BaseModel):
    """A refusal (RFC 9457)."""

    type: str
    title: str
    status: int
    detail: str
    kind: str
    field: str
    id: str
    params: dict[str, Any]
    changed: list[dict[str, Any]] = []


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


def problem(status: int, kind: str, message: Sentence, *, field: str = "", **more: Any) -> HttpResponse:
    """A refusal as problem details. ``more``: what a client can use, such as ``changed`` with a 409."""
    try:
        title = HTTPStatus(status).phrase
    except ValueError:
        title = "Refused"
    body = {"type": "about:blank", "title": title, "status": status, "detail": in_words(message), "kind": kind, "field": field,
            **message.as_json(), **more}
    return HttpResponse(
        json.dumps(body, ensure_ascii=False).encode("utf-8", "backslashreplace"),
        status=status,
        content_type="application/problem+json",
    )


def problem_of(fault: BenchError) -> HttpResponse:
    """A fault of the bench as problem details."""
    changed = getattr(fault, "changed", None)
    more = {"changed": changed} if changed is not None else {}
    return problem(status_of(fault), fault.kind, fault.message, field=fault.field, **more)
