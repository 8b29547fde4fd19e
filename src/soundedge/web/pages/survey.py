"""Photograph the damage with the card, tap its edge, say what it is; or type its shape. And every outline so far."""

from __future__ import annotations

import math
import string
from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _

from ...basis import strict_json
from ...basis.errors import Missing, Unreadable
from ...basis.sentences import say
from ...basis.unit_table import shown_in
from ...services.desk import photos
from ...services.desk.damage_picture import damage_picture
from ...services.desk.entry_fields import fields_of
from ...services.desk.state import state
from ..on_job import common
from ..page import READERS, WORKERS, Page
from ..templatetags.bench import asked_fields

STAGES = ("as_found", "as_prepared")
FILM_LEFT = ("film_left_um", "u_film_um", "beside_um", "depth_mm", "u_depth_mm")
# What a person may know of the card they hold; kept on their device.
CARD = ("bar_x_mm", "bar_y_mm", "thickness_mm")


def survey(request: Any, job: str) -> HttpResponse:
    """The step's page."""
    held = state(request.data, job)
    folded = held.outcome.job
    damages = _damages(folded)
    names = sorted({one["id"] for one in damages})
    stage = request.GET.get("stage", "")
    wanted = request.GET.get("damage", "")
    fresh = next_name(names)
    if stage not in STAGES:
        stage = "as_prepared" if folded.of("surface.prepared") and names else "as_found"
    chosen = wanted if wanted in names else names[0] if stage == "as_prepared" and names else fresh
    context = common(request, held, "survey") | {
        "damages": damages, "names": names, "fresh": fresh, "chosen": chosen, "stage": stage, "stages": STAGES,
        "kinds": next(field.choices for field in fields_of("damage.outlined") if field.name == "kind"),
        "pictures": [event for event in folded.of("picture.taken")],
        "length": shown_in("mm", request.user.units), "area_factor": shown_in("mm2", request.user.units).factor,
        **_places(folded.the("part.identified")),
        "film_left": asked_fields("damage.outlined", FILM_LEFT, request.user.units),
    }
    return render(request, "survey/survey.html", context)


def card(request: Any, job: str) -> HttpResponse:
    """Whether the photo that was just sent can be measured, as a piece of the page."""
    asked = _asked(request)
    find = {"find_card": True, "card": asked.get("card") or {}}
    answer = photos.survey(request.data, _digest(asked), find, person=request.actor.person)
    plane = {"plane": answer.get("plane_px_to_mm"), "window": answer.get("window_px"), "photo": answer.get("photo_px")}
    return render(request, "survey/_card.html", {"answer": answer, "plane": plane, "good": not answer.get("refused")})


def measured(request: Any, job: str) -> HttpResponse:
    """What an outline measures, before it is written down, as a piece of the page."""
    asked = _asked(request)
    request_of_room = {"outline": asked.get("outline"), "card": asked.get("card") or {}}
    answer = photos.survey(request.data, _digest(asked), request_of_room, person=request.actor.person)
    return render(request, "survey/_answer.html", {"answer": answer, "parts": parts_of(answer)})


def picture(request: Any, job: str, entry: str) -> HttpResponse:
    """The outline of one entry on its photo."""
    drawn = damage_picture(request.data, state(request.data, job).outcome.job, entry, person=request.actor.person)
    answer = HttpResponse(drawn, content_type="image/jpeg")
    answer.headers["Cache-Control"] = "private, max-age=604800, immutable"
    answer.headers["Content-Security-Policy"] = "sandbox; default-src 'none'"
    return answer


def _places(part: Any) -> dict[str, str]:
    """How the part's places are asked for: along its bore, by the clock where it names a datum or a ring, else by x and y."""
    clock = part.datum or part.ring_inner_r_mm is not None or part.ring_outer_r_mm is not None
    return {"places": "bore" if part.bore_d_mm is not None else "clock" if clock else "xy", "datum": part.datum or ""}


def _called(place: Any) -> str:
    """A place as it was said, in the reader's language."""
    if place is None:
        return ""
    way = place.clock or f"{place.angle_deg:g}°"
    if place.along_mm is not None:
        return _("%(way)s, %(mm)g mm along the bore") % {"way": way, "mm": place.along_mm}
    return _("%(way)s, radius %(mm)g mm") % {"way": way, "mm": place.radius_mm}


def next_name(names: list[str]) -> str:
    """The first letter no damage has yet; A1, B1 … after Z."""
    letters = string.ascii_uppercase
    return next(f"{letter}{turn or ''}" for turn in range(100) for letter in letters if f"{letter}{turn or ''}" not in names)


def parts_of(answer: dict[str, Any]) -> list[dict[str, Any]]:
    """The budget of an area, the largest part first."""
    return sorted(answer.get("budget") or [], key=lambda row: -row["u_pct"])


def _damages(job: Any) -> list[dict[str, Any]]:
    """Every outline that counts: name, stage, area, how it was measured."""
    from ...basis.shape import area_mm2

    out = []
    for event in job.of("damage.outlined"):
        body = event.body
        if body.circle_mm:
            area = math.pi / 4 * body.circle_mm.d ** 2
        elif body.ellipse_mm:
            area = math.pi / 4 * body.ellipse_mm.a * body.ellipse_mm.b
        else:
            area = area_mm2(body.outline_mm)
        answer = body.survey or {}
        if body.measured == "photo" and answer.get("area_mm2"):
            area = float(answer["area_mm2"])
        out.append({
            "entry": event.id, "id": body.id, "place": _called(body.place), "stage": body.stage, "kind": body.kind,
            "area_mm2": area,
            "u_area_mm2": body.u_area_mm2,
            "through": body.through, "film_left_um": body.left_um, "pit_depth_mm": body.pit_depth_mm,
            "by": job.name_of(event.by), "at": event.at,
            "photo": bool(body.photo_sha256 and body.survey), "answer": answer,
        })
    return out


def _asked(request: Any) -> dict[str, Any]:
    raw = strict_json.loads(request.body, what="The request")
    if not isinstance(raw, dict):
        raise Unreadable("", say("desk.body_not_object"))
    return raw


def _digest(asked: dict[str, Any]) -> str:
    digest = asked.get("sha256")
    if not isinstance(digest, str) or not digest:
        raise Missing("sha256", say("web.photo_missing"))
    return digest


PAGES = (
    Page("jobs/<job:job>/survey/", survey, "survey", READERS),
    Page("jobs/<job:job>/survey/card/", card, "survey_card", WORKERS, methods=("POST",), device=False),
    Page("jobs/<job:job>/survey/measured/", measured, "survey_measured", WORKERS, methods=("POST",), device=False),
    Page("jobs/<job:job>/survey/<job:entry>.jpg", picture, "survey_picture", READERS),
)
