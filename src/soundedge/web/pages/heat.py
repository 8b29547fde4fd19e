"""Heat: the plan with its estimate, the card beside the gun, the log while the gun runs, and the cooling after it."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse, HttpResponseRedirect
from django.shortcuts import render

from ...basis.errors import Unknown
from ...services.desk import dangers, heat_plan
from ...services.desk.state import state
from ...services.heat import work_card
from ..page import READERS, Page
from ..worked import work_page


def heat(request: Any, job: str) -> HttpResponse:
    """Plan, log, cooling."""
    return work_page(request, job, "heat", "heat/heat.html", _more)


def _more(request: Any, outcome: Any, book: Any) -> dict[str, Any]:
    job, procedure = outcome.job, outcome.case.procedure
    plans, logs = job.of("heat.planned"), job.of("heat.logged")
    base = heat_plan.request_of(outcome)
    step = outcome.steps.get("heat")
    judged = (
        [answer for asked, answer in zip(step.asked, step.answers, strict=False) if "log" in asked] if step is not None else []
    )
    typed = {key: value for key, value in base.items() if key not in ("gun", "ambient_c", "part_start_c", "back")}
    cooled = job.last("film.cooled")
    limits = heat_plan.limits_of(outcome)
    return {
        "planned": plans[-1] if plans else None,
        "not_recorded": heat_plan.NOT_RECORDED,
        "ask_typed": typed,
        "ask_plan": base,
        "ask_log": heat_plan.log_request(outcome),
        "plan_values": plans[-1].body.model_dump(exclude={"estimate"}) if plans else {},
        "logs": logs,
        "judged": judged[-1] if judged else {},
        "points": [row.model_dump() for event in logs for row in event.body.readings],
        "fusion_c": limits[0],
        "limit_c": limits[1],
        "cooled": cooled,
        "cool_max": procedure.value("cool_c_max"),
        "clocks": dangers.clocks(outcome),
        "watcher": {"watched_by": request.actor.person},
        "aims": ("back_contact", "polymer", "painted_dot", "ground_steel"),
        "asked": request.GET.get("plan", "")[:32],
        "polymer": job.the("lining.identified").polymer,
    }


def start(request: Any, job: str) -> HttpResponse:
    """Begin to work out the plan; the page asks again at the address that this answers with."""
    held = state(request.data, job)
    asked = heat_plan.PLANNER.start(request.data, held.number, heat_plan.plan_request(held.outcome))
    return _progress(request, held.number, asked, status=202)


def progress(request: Any, job: str, name: str) -> HttpResponse:
    """How far it is, in words; the plan when it is there."""
    held = state(request.data, job)
    try:
        asked = heat_plan.PLANNER.look(request.data, held.number, name)
    except Unknown:  # another process of the bench was asked, or it was restarted: the same question has the same name
        question = heat_plan.plan_request(held.outcome)
        if heat_plan.digest(question) != name:
            raise
        asked = heat_plan.PLANNER.start(request.data, held.number, question)
    return _progress(request, held.number, asked)


def _progress(request: Any, job: str, asked: heat_plan.Asked, status: int = 200) -> HttpResponse:
    running = asked.state in ("waiting", "working")
    return render(
        request,
        "heat/progress.html",
        {
            "job": job,
            "asked": asked,
            "running": running,
            "seconds": asked.seconds(request.now),
            "answer": asked.answer,
        },
        status=status if running else 200,
    )


def card(request: Any, job: str) -> HttpResponse:
    """The work card as PDF; while its plan is being worked out, back to the page, which says how far it is."""
    held = state(request.data, job)
    asked = heat_plan.PLANNER.start(request.data, held.number, heat_plan.plan_request(held.outcome))
    if asked.state in ("waiting", "working") or asked.answer is None:
        return HttpResponseRedirect(f"/jobs/{held.number}/heat/?plan={asked.id}#card")
    part = held.outcome.job.the("part.identified")
    raw = work_card(asked.answer, number=held.number, part=f"{part.name} {part.tag}", now=asked.ended_at)
    answer = HttpResponse(raw, content_type="application/pdf")
    answer.headers["Content-Disposition"] = 'attachment; filename="heat-card.pdf"'
    answer.headers["Content-Security-Policy"] = "sandbox; default-src 'none'"
    return answer


PAGES = (
    Page("jobs/<job:job>/heat/", heat, "heat", READERS),
    Page("jobs/<job:job>/heat/plan/", start, "heat_plan", READERS, methods=("POST",), device=False),
    Page("jobs/<job:job>/heat/plan/<slug:name>/", progress, "heat_plan_progress", READERS),
    Page("jobs/<job:job>/heat/card.pdf", card, "heat_card", READERS),
)
