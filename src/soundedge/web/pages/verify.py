"""Does this certificate, record or square code still say what it said? The same check as ``soundedge verify``."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.shortcuts import render

from ...basis.errors import BenchError
from ...basis.sentences import Sentence, say
from ...services.desk.verify_upload import check_bytes
from ...services.evidence.verify import verify_page
from ..page import READERS, Page

FILE_MAX_BYTES = 25_000_000


def verify(request: Any) -> HttpResponse:
    """A file, or the text of a square code; nothing of it is kept."""
    said: dict[str, Any] | None = None
    wrong: Sentence | None = None
    if request.method == "POST":
        file, text = request.FILES.get("file"), request.POST.get("text", "").strip()
        try:
            if file is not None and file.size > FILE_MAX_BYTES:
                wrong = say("web.verify_too_large", size_mb=file.size / 1e6, most_mb=FILE_MAX_BYTES / 1e6)
            elif file is not None:
                said = check_bytes(request.data, file.read(), file.name)
            elif text:
                said = check_bytes(request.data, text.encode(), "square code")
            else:
                wrong = say("web.verify_nothing")
        except BenchError as fault:
            wrong = fault.message
    if said and "page_because" in said:  # told on its own, in the reader's language
        said["sentence"] = said["sentence"].removeprefix(said["page_because"])
    return render(request, "verify/verify.html", {"nav": "verify", "said": said, "wrong": wrong}, status=422 if wrong else 200)


def page(request: Any) -> HttpResponse:
    """The one-file page with which an outsider verifies without this bench."""
    answer = HttpResponse(verify_page(), content_type="text/html; charset=utf-8")
    answer.headers["Content-Disposition"] = 'attachment; filename="verify.html"'
    answer.headers["Content-Security-Policy"] = "sandbox; default-src 'none'"
    return answer


PAGES = (
    Page("verify/", verify, "verify", READERS, methods=("GET", "POST"), device=False),
    Page("verify/page.html", page, "verify_page", READERS),
)
