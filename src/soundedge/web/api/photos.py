"""Photos: sent as they are, kept by their digest, shown as a smaller copy, measured where they lie."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse, JsonResponse
from ninja import Router

from ...basis import strict_json
from ...basis.errors import Unreadable
from ...basis.sentences import say
from ...services.desk import photos
from ...services.people import devices
from ..page import READERS, WORKERS
from ..problem import problem
from .door import operation
from .jobs import download

router = Router(tags=["photos"])
PHOTO_MAX_BYTES = 25_000_000
TYPES = {"image/jpeg": "jpg", "image/png": "png"}
_OBJECT = {"type": "object"}


@operation(
    router,
    "POST",
    "/photos",
    roles=WORKERS,
    summary="Send a photo (JPEG or PNG, at most 25 MB and 50 megapixels)",
    body_schema={"type": "string", "format": "binary"},
    body_type="image/jpeg",
)
def send(request: Any) -> HttpResponse:
    """Kept byte for byte under its SHA-256."""
    try:
        size = int(request.headers.get("Content-Length") or -1)
    except ValueError:
        size = -1
    if size < 0:
        return problem(411, "missing", say("web.photo_length_missing"))
    if size > PHOTO_MAX_BYTES:
        return problem(413, "out_of_range", say("desk.photo_too_large", size_mb=size / 1e6, most_mb=PHOTO_MAX_BYTES / 1e6))
    kind = (request.content_type or "").lower()
    if kind not in TYPES:
        return problem(415, "unreadable", say("web.photo_type"))
    devices.photos_left(request.device, now=request.now)
    raw = request.read(PHOTO_MAX_BYTES + 1)
    if len(raw) != size:
        raise Unreadable("photo", say("web.photo_cut_short", n=len(raw), size=size))
    kept = photos.keep(request.data, raw, claimed=kind)
    devices.photo_taken(request.device, size, now=request.now)
    return JsonResponse(kept, status=201)


@operation(
    router,
    "GET",
    "/photos/{sha256}",
    roles=READERS,
    summary="A copy to show: upright, at most 2048 px, no metadata",
    produces="image/jpeg",
)
def shown(request: Any, sha256: str) -> HttpResponse:
    """Never the original: that is only handed out as a file."""
    answer = HttpResponse(photos.display(request.data, sha256, person=request.actor.person), content_type="image/jpeg")
    answer.headers["Cache-Control"] = "private, max-age=604800, immutable"
    answer.headers["Content-Security-Policy"] = "sandbox; default-src 'none'"
    return answer


@operation(router, "GET", "/photos/{sha256}/original", roles=READERS, summary="The photo as it was sent", produces="image/jpeg")
def original(request: Any, sha256: str) -> HttpResponse:
    """The bytes that the digest stands for."""
    raw = photos.original(request.data, sha256)
    kind = "image/png" if raw[:4] == b"\x89PNG" else "image/jpeg"
    return download(raw, f"{sha256[:16]}.{TYPES[kind]}", kind)


@operation(
    router, "POST", "/photos/{sha256}/survey", roles=READERS, device=False, summary="Measure on a photo", body_schema=_OBJECT
)
def survey(request: Any, sha256: str) -> HttpResponse:
    """The room's own question without a file's name: outline and card, or ``{"find_card": true}``."""
    asked = strict_json.loads(request.body, what="The request")
    return JsonResponse(photos.survey(request.data, sha256, asked, person=request.actor.person))


@operation(
    router,
    "POST",
    "/photos/{sha256}/snap",
    roles=READERS,
    device=False,
    summary="Suggest the edge near an outline",
    body_schema=_OBJECT,
)
def snap(request: Any, sha256: str) -> HttpResponse:
    """A suggestion; the person accepts it or keeps their own."""
    asked = strict_json.loads(request.body, what="The request")
    return JsonResponse(photos.snap(request.data, sha256, asked, person=request.actor.person))
