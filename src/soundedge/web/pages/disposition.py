"""What does the procedure say of every repair, where does it lie on the part, and what did the engineer answer?"""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _

from ...basis.procedure import LIMITS
from ...basis.unit_table import shown_in
from ...services.desk.deciding import deciding
from ...services.desk.part_picture import part_picture
from ...services.desk.state import state
from ..on_job import common
from ..page import READERS, Page
from ..reader import reader
from ..templatetags.bench import asked_fields

# Rules whose value is an area, a length, a depth …: the unit as it stands in a finding → the house's name for it.
UNITS = {"mm²": "mm2", "µm": "um"}


def disposition(request: Any, job: str) -> HttpResponse:
    """The step's page."""
    held = state(request.data, job)
    outcome = held.outcome
    step = outcome.steps["disposition"]
    answer = step.answers[0] if step.answers else None
    decisions = [{"event": event, "by": outcome.job.name_of(event.by),
                  "limits": [{"name": _(LIMITS[key].name), "value": value, "unit": LIMITS[key].unit}
                             for key, value in (event.body.limits or {}).items()]}
                 for event in outcome.job.of("escalation.decided")]
    asked = deciding(outcome)
    context = common(request, held, "disposition") | {
        "answer": answer, "repairs": sorted(map(_repair, answer["repairs"]), key=lambda one: one["name"]) if answer else [],
        "whole_part": [_finding(one) for one in _about_the_part(answer)] if answer else [],
        "growth": answer["growth"] if answer else [], "to_prepare": _to_prepare(outcome.job),
        "picture": part_picture(outcome, reader(request.user.units), name="plan"),
        "decisions": decisions, "wanted": asked.wanted,
        "decides": asked.wanted and request.actor.role == "engineer" and request.device is not None,
        "choices": asked.choices, "limits": [_limit(key, outcome, request.user.units) for key in asked.limits],
        "owner_asked": asked.owner,
        "old_film": asked_fields("escalation.decided", ("old_film_um_min",), request.user.units) if asked.old_film else [],
    }
    return render(request, "disposition/disposition.html", context)


def _limit(key: str, outcome: Any, units: str) -> dict[str, Any]:
    """A limit as it is asked: what it is called, its unit as this person reads it, and what the procedure says."""
    rule, held = LIMITS[key], outcome.case.procedure.value(key)
    by = shown_in(rule.unit, units)
    return {"key": key, "name": _(rule.name), "unit": by.unit, "house_unit": rule.unit, "factor": by.factor,
            "offset": by.offset, "held": held}


def _repair(one: dict[str, Any]) -> dict[str, Any]:
    return one | {"name": ", ".join(one["members"]), "rules": [_finding(finding) for finding in one["findings"]]}


def _finding(one: dict[str, Any]) -> dict[str, Any]:
    return one | {"house_unit": UNITS.get(one.get("unit", ""), one.get("unit", ""))}


def _about_the_part(answer: dict[str, Any]) -> list[dict[str, Any]]:
    """The findings that no single repair has."""
    own = [finding for repair in answer["repairs"] for finding in repair["findings"]]
    return [finding for finding in answer["findings"] if finding not in own]


def _to_prepare(job: Any) -> list[str]:
    """Damages that were outlined as found and not yet as prepared."""
    stages: dict[str, set[str]] = {}
    for event in job.of("damage.outlined"):
        stages.setdefault(event.body.id, set()).add(event.body.stage)
    return [name for name, seen in stages.items() if seen == {"as_found"}]


PAGES = (Page("jobs/<job:job>/disposition/", disposition, "disposition", READERS),)
