"""Film readings: taken with gloves, judged while they come in, written down as one entry; what they prove and what not."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse, JsonResponse
from django.utils.translation import get_language

from ...basis.errors import BenchError, Missing, NotEnough, OutOfRange
from ...basis.sentences import say
from ...services.desk import measuring
from ...services.desk.register import register
from ...services.desk.state import state
from ...services.thickness import film_readings
from ..on_job import job_page, of_the_page
from ..page import READERS, Page
from ..problem import problem_of

FILE_MAX_BYTES = 2_000_000
VERDICTS = ("conforms", "does_not_conform", "indeterminate", "not_measured")
BAUDS = (1200, 2400, 4800, 9600, 19200, 38400, 57600, 115200)


def thickness(request: Any, job: str) -> HttpResponse:
    """The pad, the gates before it, and what was read last."""
    outcome, _, _ = of_the_page(request, state(request.data, job).outcome)
    book = register(request.data)
    titles = measuring.rule_titles((get_language() or "en")[:2])
    question = measuring.film_question(outcome, book) | {"titles": titles}
    step = outcome.steps["thickness"]
    answer = step.answers[0] if step.answers else None
    cooled, checked = outcome.job.last("film.cooled"), outcome.job.last("gauge.checked")
    drawn = measuring.map_of(outcome)
    return job_page(
        request,
        job,
        "thickness",
        "thickness/thickness.html",
        {
            "question": question,
            "gauges": measuring.tools_for("film.measured", outcome, book),
            "plan": measuring.ground_plan(outcome),
            "earlier": measuring.places_read(outcome),
            "answer": answer,
            "rules": _rules(answer, titles),
            "cooled": cooled,
            "checked": checked,
            "cool_max": outcome.case.procedure.value("cool_c_max", 40.0),
            "verdict_words": VERDICTS,
            "bauds": BAUDS,
            "map_says": drawn[1] if drawn else "",
            "film": outcome.job.last("film.measured"),
            "upper_pct": None
            if not answer or answer["thin_fraction_upper_95"] is None
            else 100 * answer["thin_fraction_upper_95"],
        },
    )


def from_file(request: Any, job: str) -> HttpResponse:
    """A table chosen on the device, read by the rules of the bench; it is only answered, nothing is written down."""
    state(request.data, job)
    try:
        given = request.FILES.get("file")
        if given is None:
            raise Missing("file", say("web.file_missing"))
        if given.size > FILE_MAX_BYTES:
            raise OutOfRange(
                "file",
                say("web.file_too_large", size_mb=given.size / 1000000.0, most_mb=FILE_MAX_BYTES / 1000000.0),
            )
        unit = request.POST.get("unit") or None
        read = film_readings(given.read(), what=f"'{given.name[:80]}'", field="file", unit=unit)
    except BenchError as fault:
        return problem_of(fault)
    return JsonResponse(read | {"file": given.name[:120]})


def readings_svg(request: Any, job: str) -> HttpResponse:
    """The readings by spot, drawn on the bench."""
    return drawing(measuring.readings_svg(of_the_page(request, state(request.data, job).outcome)[0]))


def map_svg(request: Any, job: str) -> HttpResponse:
    """The thin-spot map, drawn on the bench."""
    found = measuring.map_of(of_the_page(request, state(request.data, job).outcome)[0])
    if found is None:
        raise NotEnough("map", say("web.map_missing"))
    return drawing(found[0])


def drawing(svg: bytes) -> HttpResponse:
    """A drawing for an <img>; nothing in it can run."""
    answer = HttpResponse(svg, content_type="image/svg+xml")
    answer.headers["Content-Security-Policy"] = "sandbox; default-src 'none'; style-src 'unsafe-inline'; font-src data:"
    return answer


def _rules(answer: Any, titles: dict[str, str]) -> list[dict[str, Any]]:
    """Every rule's answer with what the reader calls it, the governing one first."""
    if not answer:
        return []
    names = sorted(answer["by_rule"], key=lambda name: name != answer["governing"])
    return [answer["by_rule"][name] | {"title": titles.get(name, name), "governs": name == answer["governing"]}
            for name in names]


PAGES = (
    Page("jobs/<job:job>/thickness/", thickness, "thickness", READERS),
    Page("jobs/<job:job>/thickness/file/", from_file, "thickness_file", READERS, methods=("POST",), device=False),
    Page("jobs/<job:job>/thickness/readings.svg", readings_svg, "thickness_readings", READERS),
    Page("jobs/<job:job>/thickness/map.svg", map_svg, "thickness_map", READERS),
)
