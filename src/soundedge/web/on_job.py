"""What every page of a job carries: the job as it stands, its path, this step, and what may be chosen in its forms."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.shortcuts import render

from ..services.desk.may import may_now
from ..services.desk.register import register
from ..services.desk.roles import may_enter
from ..services.desk.state import State, state
from .entry_lines import lines_of

LISTED = 40  # entries of a step on its page, the newest; the history has all


def job_page(
    request: Any, job: str, step: str, template: str, more: dict[str, Any] | None = None, *, status: int = 200
) -> HttpResponse:
    """The page of one step of one job.

    ``held`` is the job as it stands (desk/state.py), ``step`` this step of its path, ``may`` the kinds of entry that this
    person may write down here, ``book`` the shop's register. ``more`` is the page's own.
    """
    held = state(request.data, job)
    context = common(request, held, step) | (more or {})
    return render(request, template, context, status=status)


def common(request: Any, held: State, step: str) -> dict[str, Any]:
    """What every template of a job is given."""
    here = next((one for one in held.path if one.name == step), None)
    book = register(request.data)
    outcome = held.outcome
    return {
        "nav": "jobs",
        "job": held.number,
        "held": held,
        "before_act": may_now(request.data, held.number),
        "outcome": outcome,
        "step": here,
        "written": [row | {"lines": lines_of(row, request.user.units)} for row in here.entries[-LISTED:]] if here else [],
        "earlier_written": max(0, len(here.entries) - LISTED) if here else 0,
        "step_name": step,
        "book": book,
        "part": outcome.job.the("part.identified"),
        "lining": outcome.job.the("lining.identified"),
        "procedure": outcome.case.procedure,
        "may": may_enter(request.actor.role),
        "on_head": held.head,
        "writes": request.device is not None and request.actor.role != "auditor",
    }
