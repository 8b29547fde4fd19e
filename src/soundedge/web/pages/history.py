"""What was written down in this job, by whom and when, what was corrected, and what was repaired on this part before?"""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _

from ...basis.errors import Unknown
from ...basis.sentences import say
from ...basis.unit_table import shown_in
from ...services.desk import correctable, place_history
from ...services.desk.part_picture import part_picture
from ...services.desk.state import state
from ..entry_lines import called, lines_of, said_in
from ..on_job import common
from ..page import READERS, WORKERS, Page
from ..reader import reader


def history(request: Any, job: str) -> HttpResponse:
    """All entries in order, and the earlier repairs of the part."""
    held = state(request.data, job)
    folded = held.outcome.job
    context = common(request, held, "history")
    only = request.GET.get("kind", "")
    kinds = sorted({row["kind"] for row in held.events})
    rows = [_row(row, folded, request.user.units) for row in held.events if only in ("", row["kind"])]
    earlier = place_history.earlier_repairs(request.data, folded, now=request.now)
    numbered = [(str(number), one.x, one.y, one.d) for number, one in enumerate(earlier, 1)]
    context |= {
        "rows": rows, "kinds": kinds, "only": only,
        "earlier": [{"number": n, "one": one, "body": one.body()} for n, one in enumerate(earlier, 1)],
        "picture": part_picture(held.outcome, reader(request.user.units), name="place", earlier=numbered) if earlier else None,
        "recalls": context["writes"] and "repair.recalled" in context["may"], "length": shown_in("mm", request.user.units),
    }
    return render(request, "history/history.html", context)


def correct(request: Any, job: str) -> HttpResponse:
    """One entry: which value is wrong, then what it should be."""
    held, event = _entry(request, job)
    values = [_shown(one, request.user.units) for one in correctable.values_of(event)]
    field = request.GET.get("field", "")
    chosen = next((one for one in values if one["field"] == field), None)
    if field and chosen is None:
        raise Unknown("field", say("web.field_not_correctable", field=field[:60]))
    return render(request, "history/correct.html", common(request, held, "history") | {
        "event": event, "by_name": held.outcome.job.name_of(event.by), "values": values, "chosen": chosen,
        "fixed": {"entry": event.id, "field": field, "old": chosen["old"]} if chosen else {},
        "signed": correctable.stands_signed(held.outcome.job), "stays": correctable.why_not_corrected(event.kind),
    })


def void(request: Any, job: str) -> HttpResponse:
    """An entry that must not count: why."""
    held, event = _entry(request, job)
    values = [_shown(one, request.user.units) for one in correctable.values_of(event)]
    return render(request, "history/void.html", common(request, held, "history") | {
        "event": event, "by_name": held.outcome.job.name_of(event.by), "values": values, "fixed": {"entry": event.id},
        "stays": correctable.why_not_voided(event.kind), "signed": correctable.stands_signed(held.outcome.job),
    })


def _entry(request: Any, job: str) -> tuple[Any, Any]:
    """The job and the entry that the address names; Unknown when nothing of that name counts."""
    held = state(request.data, job)
    name = request.GET.get("entry", "")
    event = next((one for one in held.outcome.job.events if one.id == name), None)
    if event is None:
        raise Unknown("entry", say("web.entry_not_counting", entry=name[:60]))
    return held, event


def _row(row: dict[str, Any], job: Any, units: str) -> dict[str, Any]:
    """An entry of the list with its values as this reader reads them, and what may still be done with it."""
    event = next((one for one in job.events if one.id == row["id"]), None)
    lines = lines_of(row, units)
    return {
        "one": row | {"lines": lines}, "corrects": event is not None and bool(correctable.values_of(event)),
        "voids": event is not None and not correctable.why_not_voided(event.kind),
    }


def _shown(one: correctable.Value, units: str) -> dict[str, Any]:
    """A value as this reader reads it, and how the new one is asked."""
    asked = one.asked
    label = str(_(asked.label)) if asked and "." not in one.field else called(one.field, asked)  # as the form asked for it
    out = {"field": one.field, "label": label, "old": one.old, "type": asked.type if asked else "text",
           "choices": asked.choices if asked else (),
           "unit": "", "factor": "1.0", "offset": "0.0", "said": said_in(asked, one.value, units)}
    if asked and asked.type == "number" and one.value is not None:
        by = shown_in(asked.unit, units)
        out |= {"unit": by.unit, "factor": repr(by.factor), "offset": repr(by.offset)}
    elif isinstance(one.value, bool):
        out["type"] = "flag"
    return out


PAGES = (
    Page("jobs/<job:job>/history/", history, "history", READERS),
    Page("jobs/<job:job>/history/correct/", correct, "history_correct", WORKERS),
    Page("jobs/<job:job>/history/void/", void, "history_void", WORKERS),
)
