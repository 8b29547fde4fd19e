"""The board of all jobs, a new job, and one job as a path of trade steps with the next thing to do."""

from __future__ import annotations

import secrets
from typing import Any
from urllib.parse import urlencode

from django.core.paginator import Paginator
from django.http import HttpResponse, HttpResponseRedirect
from django.shortcuts import render

from ...basis.errors import BenchError, Unreadable
from ...basis.sentences import say
from ...basis.unit_table import shown_in
from ...services.desk import board as job_board
from ...services.desk import jobs
from ...services.desk.entry_fields import Field, fields_of, held_as
from ...services.desk.register import register
from ...services.desk.state import state
from ...services.desk.time_axis import time_axis
from ..on_job import job_page
from ..page import READERS, Page
from ..reader import reader

OPENERS = frozenset({"manager", "engineer", "technician"})
LINES, FIND_MAX = 50, 80  # jobs on a leaf of the board; signs that are looked for
# What the sheet of a new job asks of part and lining; the rest is given later or by correction.
PART = ("name", "tag", "drawing", "material", "plate_mm", "radius_mm", "lined_area_mm2", "datum", "bore_d_mm",
        "ring_inner_r_mm", "ring_outer_r_mm", "service", "service_stated_by", "last_service", "last_contact", "decontamination")
LINING = ("polymer", "thickness_um", "grade", "melt_class", "applied", "primer", "conductive_filler", "immersed",
          "bonded_sheet", "bonded_c_max")


def board(request: Any) -> HttpResponse:
    """The jobs of the shop, what is not released first; found by number, part or tag."""
    find, wanted = request.GET.get("find", "").strip()[:FIND_MAX], request.GET.get("only", "")
    lines = job_board.listed(request.data, find)
    if wanted:
        lines = [line for line in lines if line.verdict == wanted]
    leaf = Paginator(lines, LINES).get_page(request.GET.get("page"))
    return render(
        request,
        "jobs/board.html",
        {
            "nav": "jobs",
            "leaf": leaf,
            "only": wanted,
            "find": find,
            "kept": urlencode([(name, value) for name, value in (("only", wanted), ("find", find)) if value]),
            "opens": request.actor.role in OPENERS,
            "verdicts": ("held", "engineering_review", "rejected", "released"),
        },
    )


def new(request: Any) -> HttpResponse:
    """Open a job under an approved procedure."""
    book = register(request.data)
    wrong = ""
    given = request.POST if request.method == "POST" else {}
    if request.method == "POST":
        try:
            opening = _opening(request)
            number = jobs.open_job(request.data, request.actor, opening, id=f"open-{secrets.token_hex(8)}", now=request.now)
            return HttpResponseRedirect(f"/jobs/{number}/")
        except BenchError as fault:
            wrong = fault.message
    sections = [
        (name, [_asked(name, field, request.user.units, given) for field in fields_of(kind) if field.name in wanted])
        for name, kind, wanted in (("part", "part.identified", PART), ("lining", "lining.identified", LINING))
    ]
    return render(
        request,
        "jobs/new.html",
        {
            "nav": "jobs",
            "wrong": wrong,
            "given": given,
            "sections": sections,
            "procedures": [one for one in book.procedures.values() if one.approved and not one.withdrawn],
        },
        status=422 if wrong else 200,
    )


def path(request: Any, job: str) -> HttpResponse:
    """One job: what may be done now, what holds it, the next move, and every step."""
    axis = time_axis(state(request.data, job).outcome, reader(request.user.units), request.now)
    return job_page(request, job, "path", "jobs/path.html", {"axis": axis})


def _asked(section: str, field: Field, units: str, given: Any) -> dict[str, Any]:
    by_unit = shown_in(field.unit, units)
    name = f"{section}.{field.name}"
    return {
        "name": name,
        "id": f"{section}-{field.name}",
        "label": field.label,
        "type": field.type,
        "unit": by_unit.unit,
        "required": field.required,
        "choices": field.choices,
        "value": given.get(name, field.default or ""),
    }


def _opening(request: Any) -> dict[str, Any]:
    form, units = request.POST, request.user.units
    opening: dict[str, Any] = {
        key: form[key].strip() for key in ("number", "site", "customer", "note", "procedure") if form.get(key, "").strip()
    }
    if "/" in opening.get("number", ""):
        raise Unreadable("number", say("web.job_number_slash"))
    for section, kind, wanted in (("part", "part.identified", PART), ("lining", "lining.identified", LINING)):
        opening[section] = {}
        for field in fields_of(kind):
            typed = form.get(f"{section}.{field.name}", "").strip()
            if field.name not in wanted or (not typed and (field.type != "flag" or field.default is None)):
                continue
            opening[section][field.name] = _value(field, typed, units)
    return opening


def _value(field: Field, typed: str, units: str) -> Any:
    if field.type == "flag":
        return typed == "on"
    if field.type != "number":
        return typed
    return held_as(field.label, typed, field.unit, units)


PAGES = (
    Page("", board, "board", READERS),
    Page("jobs/new/", new, "job_new", OPENERS, methods=("GET", "POST")),
    Page("jobs/<job:job>/", path, "job", READERS),
)
