"""Every route of the bench: the pages of each module in ``pages/`` and the API."""

from __future__ import annotations

import pkgutil
from importlib import import_module

from django.urls import path, register_converter

from . import pages
from .api import api


class JobNumber:
    """A job's number in an address: anything but a slash."""

    regex = "[^/]{1,120}"

    def to_python(self, value: str) -> str:
        """As it stands."""
        return value

    def to_url(self, value: str) -> str:
        """As it stands."""
        return str(value)


register_converter(JobNumber, "job")

PAGES = tuple(
    page
    for module in sorted(info.name for info in pkgutil.iter_modules(pages.__path__))
    for page in getattr(import_module(f"{pages.__name__}.{module}"), "PAGES", ())
)

urlpatterns = [*(page.pattern() for page in PAGES), path("api/v1/", api.urls)]
handler400 = "soundedge.web.pages.refused.bad"
handler403 = "soundedge.web.pages.refused.forbidden"
handler404 = "soundedge.web.pages.refused.not_found"
handler500 = "soundedge.web.pages.refused.broken"
