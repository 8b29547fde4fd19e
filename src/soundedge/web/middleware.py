"""Checks who sends each request and whether they may open the page, and sets what every answer carries.

``Door`` runs before every view. A route says who may open it (page.py, api/door.py); a route that says nothing opens to
nobody. A view finds the person as ``request.actor``, their shop's data folder as ``request.data`` and their device as
``request.device``; there is no other way to any of them, so nothing of another shop can be named.
"""

from __future__ import annotations

import hashlib
import logging
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from pathlib import Path
from typing import Any
from urllib.parse import quote

from django.conf import settings
from django.contrib.auth import logout
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.utils import translation

from .. import __version__
from ..basis.errors import BenchError
from ..basis.sentences import Sentence, say
from ..services.desk.roles import listed, said
from ..services.desk.write_gate import stopped
from ..services.people import accounts, devices, setting
from .page import OPEN, Page
from .pages.refused import answer_to, refusal_page
from .reader import answering

LOG = logging.getLogger("soundedge.web")
Answer = Callable[[HttpRequest], HttpResponse]
DEVICE_COOKIE = "__Host-device"
LOOPBACK = ("localhost", "127.0.0.1", "[::1]")
READING = ("GET", "HEAD", "OPTIONS")
BY_ITSELF = ("/api/v1/stream", "/api/v1/me")  # an open page asks these with nobody in front of it


def address(request: HttpRequest) -> str:
    """The other end of the socket. What a client writes into a header is not asked."""
    return str(request.META.get("REMOTE_ADDR") or "unknown")


class Headers:
    """What every answer carries, refusals and files too."""

    def __init__(self, get_response: Answer) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Add the headers that Django does not."""
        response = self.get_response(request)
        response.headers.setdefault("Cross-Origin-Resource-Policy", "same-origin")
        if request.META.get("HTTP_HOST", "").rsplit(":", 1)[0] in LOOPBACK:
            response.headers.pop("Strict-Transport-Security", None)  # it would lock out every other program on this machine
        response.headers.setdefault("Permissions-Policy", "camera=(self), serial=(self), geolocation=(), microphone=()")
        if not request.path.startswith(settings.STATIC_URL) and "Cache-Control" not in response.headers:
            response.headers["Cache-Control"] = "no-store"
        return response


class Door:
    """Lets in, or sends to sign in, or refuses."""

    def __init__(self, get_response: Answer) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """One request: find who it is, let the view work, turn a fault of the bench into its page."""
        request.now = datetime.now(UTC)  # type: ignore[attr-defined]
        _known(request)
        user = request.user
        tongue = user.language if user.is_authenticated else _asked_language(request)
        with answering(tongue, user.units if user.is_authenticated else "metric"):
            request.LANGUAGE_CODE = tongue  # type: ignore[attr-defined]
            response = self.get_response(request)
            response.headers.setdefault("Content-Language", tongue)
        return response

    def process_view(self, request: HttpRequest, view: Any, args: Any, kwargs: Any) -> HttpResponse | None:
        """None lets in."""
        page: Page | None = getattr(view, "page", None)
        if page is None:
            if _is_api(request):
                return None  # every operation has its own door: api/door.py
            return refusal_page(request, 403, say("web.route_closed"), "route")
        if request.method not in (*page.methods, "HEAD", "OPTIONS"):
            return refusal_page(request, 405, say("web.method_not_taken"), "method")
        if page.roles is OPEN:
            return None
        if not request.user.is_authenticated:
            return HttpResponseRedirect(f"{settings.LOGIN_URL}?next={quote(request.get_full_path())}")
        if request.user.one_time and not page.one_time:
            return HttpResponseRedirect("/password/")
        why = barred(request, page.roles_for(request.method), device=page.device)
        return refusal_page(request, 403, why, "refused") if why else None

    def process_exception(self, request: HttpRequest, fault: Exception) -> HttpResponse | None:
        """A fault of the bench becomes a page that says it; anything else is a page without its text, and a line in the log."""
        return answer_to(request, fault) if isinstance(fault, BenchError) and not _is_api(request) else None


def barred(request: Any, roles: frozenset[str], *, device: bool = True) -> Sentence | None:
    """Why this signed-in person may not do this, one sentence; None when they may."""
    if request.actor.role not in roles:
        return say("web.not_for_role", roles=listed(roles), role=said(request.actor.role))
    if device and request.method not in READING and request.stopped:
        return request.stopped  # type: ignore[no-any-return]
    if device and request.method not in READING and request.device is None:
        return say("web.device_not_enrolled")
    return None


def around(request: Any) -> dict[str, Any]:
    """What every template may use."""
    user = getattr(request, "user", None)
    signed_in = user is not None and user.is_authenticated
    return {
        "actor": getattr(request, "actor", None),
        "device": getattr(request, "device", None),
        "shop": user.shop if user and signed_in else None,
        "units": user.units if user and signed_in else "metric",
        "signed_in": signed_in,
        "stopped": getattr(request, "stopped", None),
        "now": getattr(request, "now", None),
        "build": build(),
    }


@lru_cache(maxsize=1)
def build() -> str:
    """A short name of this version's own files, for caches: another file, another name."""
    digest = hashlib.sha256(__version__.encode())
    for file in sorted((Path(__file__).parent / "static").rglob("*")):
        if file.is_file():
            digest.update(file.read_bytes())
    return f"{__version__}-{digest.hexdigest()[:12]}"


def _known(request: Any) -> None:
    request.actor = request.data = request.device = None
    request.stopped = None
    user = request.user
    if not user.is_authenticated:
        return
    if _too_long(request) or (user.one_time and user.one_time_until and user.one_time_until < request.now):
        session = request.session
        since = session.get("began_at")
        LOG.warning("the session of %s has ended: last seen %s, began %s", user.person, session.seen_at, since)
        logout(request)
        return
    request.device = devices.device_with(user.shop, request.COOKIES.get(DEVICE_COOKIE, ""))
    request.actor = accounts.actor_of(user, request.device)
    request.data = setting.data_of(user.shop)
    request.stopped = stopped(request.data)


def _too_long(request: Any) -> bool:
    """Whether the session stood idle, or lasted, too long. Writing it down each minute is enough.

    What a page asks by itself is no use of the session: a board left open would keep it for a whole shift.
    """
    session = request.session
    try:
        began, seen = datetime.fromisoformat(session["began_at"]), session.seen_at
    except (KeyError, ValueError):
        return True
    if seen is None or request.now - seen > timedelta(seconds=settings.IDLE_S):
        return True
    if request.now - began > timedelta(seconds=settings.ABSOLUTE_S):
        return True
    if request.now - seen > timedelta(seconds=60) and request.path not in BY_ITSELF:
        session.seen(request.now)
    return False


def _asked_language(request: Any) -> str:
    return translation.get_language_from_request(request)


def _is_api(request: Any) -> bool:
    return bool(request.path.startswith("/api/"))

