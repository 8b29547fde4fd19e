"""The card for a pen where no screen may go, and the page on which it is typed in afterwards, in the card's own order."""

from __future__ import annotations

from typing import Any

from django.http import Http404, HttpResponse
from django.shortcuts import render

from ...services.desk.paper import SECTIONS, card_pdf, hints
from ...services.desk.register import register
from ...services.desk.roles import may_enter
from ...services.desk.state import state
from ...services.desk.which_repair import letters
from ...services.survey import target_pdf
from ..api.jobs import download
from ..on_job import job_page
from ..page import READERS, Page
from ..templatetags.bench import form_of

SHEETS = ("small", "large", "strips", "corner")
# On the card the box itself says of what; in a list it must be said.
BESIDE = {
    "hint_profile": "profile in µm: ",
    "hint_salts": "soluble salts in mg/m²: ",
    "hint_dust": "dust rating: ",
    "hint_cool": "film in °C before it is measured: ",
}
# What is not on the card: a file's name, what a photo carries, what the bench reads itself.
LEFT_OUT = "file set_aside measured photo photo_sha256 survey outline_mm circle_mm"


def blank(request: Any, job: str) -> HttpResponse:
    """What the card is, what will stand printed on it, and the card itself."""
    said = hints(state(request.data, job).outcome)
    lines = [f"{BESIDE.get(name, '')}{text}" for name, text in said.items() if text]
    return job_page(request, job, "blank", "typed/blank.html", {"hints": lines})


def blank_pdf(request: Any, job: str) -> HttpResponse:
    """The card of a job, with its number and its procedure's limits on it."""
    return download(card_pdf(state(request.data, job).outcome), f"{job}-card.pdf", "application/pdf")


def bare_pdf(request: Any) -> HttpResponse:
    """A card with no job on it."""
    return download(card_pdf(None), "blank-card.pdf", "application/pdf")


def target(request: Any, sheet: str) -> HttpResponse:
    """A target card for photos of damage, to be printed at 100 %."""
    if sheet not in SHEETS:
        raise Http404
    return download(target_pdf(sheet), f"target-card-{sheet}.pdf", "application/pdf")


def typed(request: Any, job: str) -> HttpResponse:
    """Every box of the card as a form, in its order."""
    outcome, book = state(request.data, job).outcome, register(request.data)
    context = {"units": request.user.units, "outcome": outcome, "book": book, "letters": letters(outcome)}
    lots = [one for one in book.lots.values() if one.withdrawn_at is None]
    allowed = may_enter(request.actor.role)
    sections = []
    for section in SECTIONS:
        boxes = []
        for kind in section.kinds:
            if kind not in allowed:
                continue
            boxes.append(form_of(context, kind, job=job, without=LEFT_OUT, lots=lots, when=False))
        if boxes:
            sections.append({"number": section.number, "title": section.title, "boxes": boxes})
    return job_page(request, job, "typed", "typed/typed.html", {"sections": sections})


def no_page(request: Any) -> HttpResponse:
    """Cards without a job: what they are for."""
    return render(request, "typed/blank_card.html", {"nav": "jobs"})


PAGES = (
    Page("jobs/<job:job>/blank/", blank, "blank", READERS),
    Page("jobs/<job:job>/blank-card.pdf", blank_pdf, "blank_job_pdf", READERS),
    Page("jobs/<job:job>/typed/", typed, "typed", READERS),
    Page("blank-card/", no_page, "blank_card", READERS),
    Page("blank-card.pdf", bare_pdf, "blank_pdf", READERS),
    Page("target-card-<str:sheet>.pdf", target, "target_pdf", READERS),
)
