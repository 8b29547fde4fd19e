"""Does a file still say what it said?"""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse, JsonResponse
from ninja import Router

from ...basis.errors import RecordBroken
from ...basis.sentences import say
from ...services.desk.verify_upload import check_bytes
from ..page import READERS
from ..problem import problem
from ..reader import in_words
from .door import operation

router = Router(tags=["verify"])
FILE_MAX_BYTES = 25_000_000


@operation(
    router,
    "POST",
    "/verify",
    roles=READERS,
    device=False,
    summary="Verify a certificate, record, log or square code",
    body_schema={"type": "string", "format": "binary"},
    body_type="application/octet-stream",
)
def verify(request: Any) -> HttpResponse:
    """The raw file as the body; nothing of it is kept. Of a certificate ``page_proved`` says whether anything shows that the
    page belongs to the record inside it, and ``counts`` whether it has been replaced."""
    try:
        size = int(request.headers.get("Content-Length") or 0)
    except ValueError:
        size = 0
    if size > FILE_MAX_BYTES:
        return problem(413, "out_of_range", say("web.verify_too_large", size_mb=size / 1e6, most_mb=FILE_MAX_BYTES / 1e6))
    try:
        said = check_bytes(request.data, request.read(FILE_MAX_BYTES), "the file that was sent")
    except RecordBroken as fault:  # of the file, not of this bench
        return problem(422, fault.kind, fault.message, field=fault.field)
    said.pop("shown", None)
    return JsonResponse(in_words(said))
