"""Is the shop's record in good health? The same questions as ``soundedge doctor``, each with what to do."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.shortcuts import render

from ...services.desk.place import keys_of
from ...services.doctor import examine
from ..page import READERS, Page


def doctor(request: Any) -> HttpResponse:
    """Saved, verified, backed up, witnessed, clock, keys."""
    looks = examine(request.data, now=request.now, folder=keys_of(request.data))
    return render(request, "doctor/doctor.html", {"nav": "doctor", "looks": looks, "well": all(look.well for look in looks)})


PAGES = (Page("doctor/", doctor, "doctor", READERS),)
