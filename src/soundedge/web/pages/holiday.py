"""The test voltage: the window over this film, every published rule beside it, and the test as it was done."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse

from ...basis.errors import NotEnough
from ...basis.quantity import NotThat, Quantity
from ...services.desk import measuring
from ...services.desk.state import state
from ...services.holiday import test_sheet
from ..api.jobs import download
from ..on_job import job_page, of_the_page
from ..page import READERS, Page
from .thickness import drawing

STATED = Quantity("Test voltage", "V", at_least=5, at_most=60000)
VERDICTS = ("conforms", "does_not_conform", "indeterminate", "not_measured")


def holiday(request: Any, job: str) -> HttpResponse:
    """Cautions first, then the window of each zone, the rules, the live answer and the form of the test."""
    outcome, _, _ = of_the_page(request, state(request.data, job).outcome)
    stated = _stated(request)
    try:
        question = measuring.test_question(outcome)
    except NotEnough as lacking:
        return job_page(
            request,
            job,
            "holiday",
            "holiday/holiday.html",
            {"lacking": lacking.message, "cautions": _cautions(outcome)},
        )
    zones, whole = measuring.windows(question, stated), measuring.whole_film(question, stated)
    return job_page(
        request,
        job,
        "holiday",
        "holiday/holiday.html",
        {
            "question": {"ground": question["ground"], "zones": question["zones"]},
            "zones": zones,
            "whole": whole,
            "cautions": zones["cautions"],
            "stated": stated,
            "plan": measuring.ground_plan(outcome),
            "verdict_words": VERDICTS,
            "sponge": whole["method"] == "wet_sponge",
            "pairs": list(zip(question["zones"], zones["zones"], strict=True)),
            "test": outcome.job.last("holiday.tested"),
            "chart_says": _chart_says(whole),
        },
    )


def window_svg(request: Any, job: str) -> HttpResponse:
    """The window against film, drawn on the bench."""
    outcome, _, _ = of_the_page(request, state(request.data, job).outcome)
    return drawing(measuring.window_svg(measuring.test_question(outcome), _stated(request)))


def sheet_pdf(request: Any, job: str) -> HttpResponse:
    """The written test sheet to take to the part."""
    question = measuring.test_question(of_the_page(request, state(request.data, job).outcome)[0])
    answer = measuring.windows(question, _stated(request))
    return download(test_sheet(answer, number=job, now=request.now), f"{job}-test-sheet.pdf", "application/pdf")


def _stated(request: Any) -> float | None:
    text = request.GET.get("v", "").strip()
    if not text:
        return None
    try:
        return STATED.read(float(text.replace(",", ".")), decimal_strings=False)
    except (ValueError, NotThat):
        return None


def _cautions(outcome: Any) -> list[str]:
    """The same cautions when there is no film yet: they stand before any voltage."""
    from ...services.ask import ask

    readings = outcome.job.of("vapour.read")
    asked: dict[str, Any] = {"film_um": {"min": 1000, "max": 1000}}
    return list(ask("holiday", asked | ({"lel_pct": readings[-1].body.lel_pct} if readings else {}))["cautions"])


def _chart_says(whole: dict[str, Any]) -> str:
    film = whole["film_um"]
    if whole["window_empty"]:
        said = "No voltage serves all of this film: the window is empty"
    else:
        top = "an upper side that is not known" if whole["high_v"] is None else f"{whole['high_v']:.0f} V"
        said = f"Window from {whole['low_v']:.0f} V to {top}"
    return (
        f"{said}, over film of {film['min']:g} to {film['max']:g} µm, against the published rules; the same "
        "numbers stand in the table."
    )


PAGES = (
    Page("jobs/<job:job>/holiday/", holiday, "holiday", READERS),
    Page("jobs/<job:job>/holiday/window.svg", window_svg, "holiday_window", READERS),
    Page("jobs/<job:job>/holiday/sheet.pdf", sheet_pdf, "holiday_sheet", READERS),
)
