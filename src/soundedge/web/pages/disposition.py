"""What does the procedure say of every repair, where does it lie on the part, and what did the engineer answer?"""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from ...basis.procedure import LIMITS
from ...basis.unit_table import shown_in
from ...services.desk import part_plan
from ...services.desk.deciding import deciding
from ...services.desk.state import state
from ..on_job import common
from ..page import READERS, Page
from ..templatetags.bench import asked_fields

LINES = {
    "found": gettext_noop("damage as found"), "prepared": gettext_noop("damage as prepared"),
    "hull": gettext_noop("damages judged as one repair"), "footprint": gettext_noop("footprint with the feather"),
    "keep_out": gettext_noop("no repair here"), "earlier": gettext_noop("earlier repair"),
}
KEEP_OUTS = {"sealing_face": gettext_noop("sealing face"), "edge": gettext_noop("edge"), "radius": gettext_noop("radius"),
             "weld": gettext_noop("weld"), "seat": gettext_noop("seat")}
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
    recalled = [(one.body.job, one.body.x, one.body.y, one.body.d) for one in outcome.job.of("repair.recalled")]
    marks = part_plan.marks_of(outcome, recalled)
    context = common(request, held, "disposition") | {
        "answer": answer, "repairs": sorted(map(_repair, answer["repairs"]), key=lambda one: one["name"]) if answer else [],
        "whole_part": [_finding(one) for one in _about_the_part(answer)] if answer else [],
        "growth": answer["growth"] if answer else [], "to_prepare": _to_prepare(outcome.job),
        "drawings": drawings(request, marks, "plan", outcome.job), "lines": lines(marks),
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


def drawings(request: Any, marks: list[part_plan.Mark], name: str, job: Any) -> list[dict[str, str]]:
    """The part as a whole, and closer where the damage is small on it; nothing when there is nothing to draw."""
    if not marks:
        return []
    units = shown_in("mm", request.user.units)
    tag = job.the("part.identified").tag
    desc = described(marks, request.user.units)
    words = {kind: _(said) for kind, said in KEEP_OUTS.items()}
    out = []
    for which, said, box in (("whole", _("The part"), part_plan.around(marks)),
                             ("close", _("Closer"), part_plan.close_up(marks))):
        if box is None:
            continue
        drawn = part_plan.svg(marks, name=f"{name}-{which}", title=f"{said}, {tag}", desc=desc, box=box, unit=units.unit,
                         unit_mm=units.factor, words=words)
        out.append({"name": said, "svg": drawn})
    return out


def described(marks: list[part_plan.Mark], units: str) -> str:
    """The plan in words: what lies where, for whoever cannot see it."""
    by = shown_in("mm", units)
    said = []
    for mark in marks:
        points = mark.rings[0] if mark.rings else []
        if not points or mark.sort == "hull":
            continue
        x, y = ((min(p[axis] for p in points) + max(p[axis] for p in points)) / 2 / by.factor for axis in (0, 1))
        called = _(KEEP_OUTS.get(mark.label, mark.label)) if mark.sort == "keep_out" else mark.label
        place = _("middle at x %(x).0f, y %(y).0f %(unit)s") % {"x": x, "y": y, "unit": by.unit}
        said.append(f"{_(LINES[mark.sort])} {called}: {place}.")
    return " ".join(said)


def lines(marks: list[part_plan.Mark]) -> list[dict[str, str]]:
    """What each sort of line on the plan means, for the sorts that are on it."""
    there = {mark.sort for mark in marks}
    return [{"svg": part_plan.key_line(sort, f"key-{sort.replace('_', '-')}"), "said": _(said)}
            for sort, said in LINES.items() if sort in there]


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
