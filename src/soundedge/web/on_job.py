"""What every page of a job carries: the job as it stands, its path, this step, and what may be chosen in its forms."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.shortcuts import render

from ..basis.errors import Unknown
from ..basis.sentences import say
from ..services.desk.may import may_now
from ..services.desk.register import register
from ..services.desk.roles import may_enter
from ..services.desk.state import State, state
from ..services.desk.which_repair import asked_of, letters

OF_ONE_REPAIR = ("buildup", "heat", "thickness", "holiday")  # pages that show one repair at a time
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


def of_the_page(request: Any, outcome: Any) -> tuple[Any, list[str], str]:
    """The job as a page of repair work shows it: of one of several repairs, the one in its address or the first; with the
    letters to choose from and the one that was chosen."""
    found = letters(outcome)
    if not found:
        return outcome, [], ""
    letter = request.GET.get("repair", found[0])
    if letter not in found:
        raise Unknown("repair", say("acts.repair_unknown", repair=letter[:40], known=", ".join(found)))
    return asked_of(outcome, letter), found, letter


def common(request: Any, held: State, step: str) -> dict[str, Any]:
    """What every template of a job is given."""
    here = next((one for one in held.path if one.name == step), None)
    book = register(request.data)
    outcome, letter, choice = held.outcome, "", letters(held.outcome)
    if step in OF_ONE_REPAIR:
        outcome, choice, letter = of_the_page(request, outcome)
    return {
        "nav": "jobs",
        "job": held.number,
        "held": held,
        "before_act": may_now(request.data, held.number),
        "outcome": outcome,
        "letters": choice,
        "letter": letter,
        "named": {"repair": letter} if letter else {},
        "step": here,
        "written": here.entries[-LISTED:] if here else [],
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
