"""Heat, climate and timeline, on the third page: what the steel and the film saw, how dry it was, and what came after what."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from ..basis.on_paper import words
from ..basis.quantity import shown
from ..job.judge import Outcome
from .plots import heat, margins
from .time_strip import Look, time_strip
from .view import Picture, Section, Table

STRIP_PX = 790.0  # over 170 mm its letters of 13 px are 2.8 mm
_STEEL = ("painted_dot", "ground_steel")


def heat_page(outcome: Outcome) -> Section | None:
    """What heat and air were, and the whole job on one time axis; None where nothing of it was recorded."""
    pictures = [*_logs(outcome), *_air(outcome), *_strip(outcome)]
    tables = [*_layers(outcome)]
    if not pictures and not tables:
        return None
    lines = [f"{words(name).capitalize()}: {outcome.steps[name].because}" for name in ("heat", "conditions", "hazards")
             if name in outcome.steps and outcome.steps[name].because]
    return Section(text=tuple(lines), pictures=tuple(pictures), tables=tuple(tables))


def _logs(outcome: Outcome) -> list[Picture]:
    pictures = []
    for answer, letter, asked in _answers(outcome, "heat"):
        log = [(float(row["time_s"]), float(row["reading_c"]), "steel" if row["aimed_at"] in _STEEL else "film")
               for row in asked.get("log", []) if row["aimed_at"] in (*_STEEL, "polymer")]
        if not log:
            continue
        of = f"Repair {letter}: " if letter else ""
        drawn = heat(log, fusion_c=answer.get("fusion_c"), surface_c=answer.get("surface_limit_c"))
        over = f"{shown(round(answer['bond_dwell_s']))} s above fusion" if answer.get("bond_dwell_s") is not None else ""
        hottest = f"hottest film surface {answer['surface_high_c']:.0f} °C" if answer.get("surface_high_c") is not None else ""
        pictures.append(Picture(
            drawn.encode(), f"{of}Heat log: film surface and steel against both limits. {answer['because']}",
            f"{of}Heat log as it was read: " + "; ".join(filter(None, ("film surface open, steel filled", over, hottest)))))
    return pictures


def _air(outcome: Outcome) -> list[Picture]:
    pictures = []
    for answer, letter, asked in _answers(outcome, "conditions"):
        spans = answer.get("intervals") or []
        points = [(_moment(one["start"]), float(one["margin_start_k"])) for one in spans[:1]]
        points += [(_moment(one["end"]), float(one["margin_end_k"])) for one in spans]
        if len(points) < 2:
            continue
        of = f"Repair {letter}: " if letter else ""
        said = f"{of}Steel above the dew point at each reading of the air; times in UTC"
        pictures.append(Picture(margins(points, asked.get("limits", {}).get("dew_margin_k")).encode(),
                                f"{said}. {outcome.steps['conditions'].because}", said))
    return pictures[:1] if len({picture.data for picture in pictures}) == 1 else pictures


def _strip(outcome: Outcome) -> list[Picture]:
    drawn = time_strip(outcome, Look(wide_px=STRIP_PX, name="strip"))
    said = "The whole job on one axis; hours in which nothing happened are folded, times in UTC"
    return [Picture(drawn.encode(), f"{said}. {outcome.because}", said, width_mm=170)] if drawn else []


def _layers(outcome: Outcome) -> list[Table]:
    rows = tuple(
        (f"{event.body.repair} {event.body.number}" if event.body.repair else f"{event.body.number}", f"{event.at:%H:%M}",
         event.body.lot, f"{shown(event.body.powder_g)} g" if event.body.powder_g is not None else "",
         outcome.job.name_of(event.by), event.body.remark or "")
        for event in outcome.job.of("layer.fused"))
    kept = [n for n in range(6) if n == 0 or any(row[n] for row in rows)]
    head = ("Layer", "Fused", "Lot", "Powder", "By", "Remark")
    cut = tuple(tuple(row[n] for n in kept) for row in rows)
    return [Table(tuple(head[n] for n in kept), cut, caption="Layers; times in UTC")] if rows else []


def _answers(outcome: Outcome, name: str) -> list[tuple[dict[str, Any], str, dict[str, Any]]]:
    """Each answer of a step with the letter of its repair and what was asked; none where the step is not needed."""
    step = outcome.steps.get(name)
    if step is None:
        return []
    return [(answer, letter, asked) for (answer, letter), asked in zip(step.lettered(), step.asked, strict=True)]


def _moment(text: Any) -> datetime:
    return text if isinstance(text, datetime) else datetime.fromisoformat(str(text).replace("Z", "+00:00"))
