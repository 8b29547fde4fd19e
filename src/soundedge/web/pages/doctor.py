"""Is the shop's record in good health? The same questions as ``soundedge doctor``, each with what to do."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

from django.http import HttpResponse
from django.shortcuts import render

from ...services.desk.shop_place import shop_key_folder
from ...services.evidence.doctor import examine
from ..page import READERS, Page


def doctor(request: Any) -> HttpResponse:
    """Saved, verified, backed up, witnessed, clock, keys."""
    keys = shop_key_folder(request.data)
    looks = examine(request.data, now=request.now, folder=keys)
    if request.actor.role != "manager":  # where things lie on that machine is the manager's to know
        looks = [replace(look, said=_without(look.said, keys, request.data)) for look in looks]
    return render(request, "doctor/doctor.html", {"nav": "doctor", "looks": looks, "well": all(look.well for look in looks)})


def _without(said: str, keys: Path, data: Path) -> str:
    for place in (keys, data, keys.parent, data.parent.parent):
        said = said.replace(str(place), "…")
    return said


PAGES = (Page("doctor/", doctor, "doctor", READERS),)
