"""Hazards: the cautions in full, solvent vapour, the meter before heat, the permit, the fire watch, hot metal and fume."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse

from ...services.desk import dangers
from ..page import READERS, Page
from ..worked import work_page


def hazards(request: Any, job: str) -> HttpResponse:
    """What can hurt somebody at this job, and what was measured against it."""
    return work_page(request, job, "hazards", "hazards/hazards.html", _more)


def _more(request: Any, outcome: Any, book: Any) -> dict[str, Any]:
    read = outcome.job.of("vapour.read")
    return {
        "cautions": dangers.cautions(),
        "lessons": dangers.lessons(),
        "solvent_keys": {"solvent": dangers.solvent_keys()},
        "ask_vapour": dangers.asking_vapour(outcome),
        "lel_limit": dangers.lel_limit_pct(outcome),
        "reading": read[-1] if read else None,
        "used": outcome.job.of("solvent.used"),
        "clocks": dangers.clocks(outcome),
        "fume": dangers.fume(outcome),
        "ask_touch": dangers.asking_touch(outcome),
        "watcher": {"watched_by": request.actor.person},
        "said_before": outcome.steps["hazards"].answers if "hazards" in outcome.steps else [],
        "polymer": outcome.job.the("lining.identified").polymer,
    }


PAGES = (Page("jobs/<job:job>/hazards/", hazards, "hazards", READERS),)
