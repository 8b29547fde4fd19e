"""What a browser fetches around the pages: the service worker, the manifest, the page without network, the authority."""

from __future__ import annotations

from typing import Any

from django.contrib.staticfiles import finders
from django.http import Http404, HttpResponse, JsonResponse
from django.shortcuts import render

from ...services.people.tls import authority_der
from ..page import OPEN, Page


def worker(request: Any) -> HttpResponse:
    """The service worker, allowed for the whole bench."""
    found = finders.find("outbox/sw.js")
    if not found:
        raise Http404
    with open(found, "rb") as file:
        answer = HttpResponse(file.read(), content_type="text/javascript; charset=utf-8")
    answer.headers["Service-Worker-Allowed"] = "/"
    answer.headers["Cache-Control"] = "no-cache"
    return answer


def manifest(request: Any) -> HttpResponse:
    """What a tablet needs to put the bench on its first screen."""
    return JsonResponse(
        {
            "name": "Sound Edge",
            "short_name": "Sound Edge",
            "start_url": "/",
            "scope": "/",
            "display": "standalone",
            "background_color": "#f8f4ea",
            "theme_color": "#f8f4ea",
            "icons": [
                {"src": "/static/icons/mark.svg", "sizes": "any", "type": "image/svg+xml"},
                {"src": "/static/icons/mark-192.png", "sizes": "192x192", "type": "image/png"},
                {"src": "/static/icons/mark-512.png", "sizes": "512x512", "type": "image/png"},
            ],
        },
        content_type="application/manifest+json",
    )


def offline(request: Any) -> HttpResponse:
    """What is shown when a page was never seen on this device and there is no network."""
    answer = render(request, "outbox/offline.html")
    answer.headers["Cache-Control"] = "no-cache"
    return answer


def authority(request: Any) -> HttpResponse:
    """The shop's own authority, to be installed on tablets after its fingerprint was compared."""
    raw = authority_der()
    if raw is None:
        raise Http404
    answer = HttpResponse(raw, content_type="application/x-x509-ca-cert")
    answer.headers["Content-Disposition"] = 'attachment; filename="sound-edge-authority.cer"'
    return answer


PAGES = (
    Page("sw.js", worker, "worker", OPEN),
    Page("manifest.webmanifest", manifest, "manifest", OPEN),
    Page("offline/", offline, "offline", OPEN),
    Page("authority.cer", authority, "authority", OPEN),
)
