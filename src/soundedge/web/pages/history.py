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
from ..entry_lines import called, said_in
from ..on_job import common
from ..page import READERS, WORKERS, Page
from ..reader import reader

LEAF = 50  # entries on one leaf of the history


def history(request: Any, job: str) -> HttpResponse:
    """The entries in order, a leaf at a time (the last one unless another is asked for), and earlier repairs of the part."""
    held = state(request.data, job)
    folded = held.outcome.job
    context = common(request, held, "history")
    only = request.GET.get("kind", "")
    kinds = sorted({row["kind"] for row in held.events})
    found = [row for row in held.events if only in ("", row["kind"])]
    leaf, leaves = _leaf(request, found)
    of_leaf = found if leaf is None else found[(leaf - 1) * LEAF:leaf * LEAF]
    events = {event.id: event for event in folded.events}
    rows = [_row(row, events.get(row["id"])) for row in of_leaf]
    earlier = place_history.earlier_repairs(request.data, folded, now=request.now)
    numbered = [(str(number), one.x, one.y, one.d) for number, one in enumerate(earlier, 1)]
    context |= {
        "rows": rows, "kinds": kinds, "only": only, "leaf": leaf, "leaves": leaves if len(leaves) > 1 else [],
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


def _leaf(request: Any, found: list[dict[str, Any]]) -> tuple[int | None, list[dict[str, Any]]]:
    """Which leaf is shown (None: all of them), and all leaves, each with the days of its first and last entry."""
    last = max(1, -(-len(found) // LEAF))
    wanted = request.GET.get("leaf", "")
    place = next((place for place, row in enumerate(found) if row["id"] == request.GET.get("at")), None)
    leaves = [{"number": n, "first": (n - 1) * LEAF + 1, "last": min(n * LEAF, len(found)),
               "day": found[(n - 1) * LEAF]["at"][:10] if found else ""} for n in range(1, last + 1)]
    if request.GET.get("all"):
        return None, leaves
    if place is not None:
        return place // LEAF + 1, leaves
    if wanted and not (wanted.isascii() and wanted.isdigit() and len(wanted) < 9 and 1 <= int(wanted) <= last):
        raise Unknown("leaf", say("web.leaf_unknown", leaf=wanted[:20], last=last))
    return int(wanted or last), leaves


def _row(row: dict[str, Any], event: Any) -> dict[str, Any]:
    """An entry of the list, and what may still be done with it while it counts."""
    return {
        "one": row, "corrects": event is not None and bool(correctable.values_of(event)),
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
