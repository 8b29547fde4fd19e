"""Where on the part, and what was seen there? Map, as found, prepared and finished, beside each other on the first page.

The map and the close looks are the part's own drawing (part_drawing.py), in the marks of the screen; a photo stands for a close
look where one was taken.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from ..basis.on_paper import words
from ..job.judge import Outcome
from ..job.kinds import Event
from .part_drawing import View, close_up, part_drawing
from .part_layers import marks_of, part_frame
from .part_marks import DAMAGE, Mark, lines, middle
from .view import Picture

WIDE_PX, HIGH_PX = 224.0, 188.0  # 51 by 43 mm of paper; letters of 13 px are then 3 mm
STAGES = (("as_found", "As found"), ("as_prepared", "Prepared"))
_ON_MAP = ("no_repair", "earlier", "found", "prepared", "footprint", "hull")


def places(outcome: Outcome) -> str:
    """Each damage by clock and distance, as it lies on the map."""
    frame = part_frame(outcome)
    said: dict[str, str] = {}
    for mark in marks_of(outcome):
        if mark.sort in ("prepared", "found") and any(mark.rings):
            said.setdefault(mark.label, frame.place(*middle(mark.rings[0])).said)
    return "; ".join(f"{letter}: {place}" for letter, place in said.items())


def looks(
    outcome: Outcome, photos: Mapping[tuple[str, str], bytes], finished: tuple[bytes, str, datetime] | None
) -> list[Picture]:
    """At most four pictures.

    Parameters
    ----------
    photos : mapping
        Damage and stage → its rectified photo.
    finished : (bytes, caption, datetime), optional
        A photo of the finished film.
    """
    marks, frame = marks_of(outcome), part_frame(outcome)
    shown = [mark for mark in marks if mark.sort in _ON_MAP]
    if not any(mark.sort in ("found", "prepared") for mark in shown):
        return []
    view = View(name="map", title="The part", desc=" ".join(map(str, lines(frame, shown))), wide_px=WIDE_PX, high_px=HIGH_PX)
    more = [said for sort, said in (("no_repair", "Hatched wide: no repair."), ("earlier", "Dotted ring: earlier repair."))
            if any(mark.sort == sort for mark in shown)]
    side = "From the flange, unrolled." if frame.around_mm is not None else "From the lined side, 12 on top."
    out = [Picture(part_drawing(frame, shown, view).encode(), view.desc, " ".join(["Where.", side, *more]))]
    for stage, said in STAGES:
        events = [event for event in outcome.job.of("damage.outlined") if event.body.stage == stage]
        if events:
            out.append(_close(outcome, marks, events, said, photos))
    if finished is not None:
        out.append(Picture(finished[0], finished[1], f"Finished {finished[2]:%H:%M}. {finished[1]}"))
    return out


def _close(
    outcome: Outcome, marks: list[Mark], events: list[Event], said: str, photos: Mapping[tuple[str, str], bytes]
) -> Picture:
    """The photo of the first damage that has one; else all of them, drawn."""
    for event in events:
        body = event.body
        if (body.id, body.stage) in photos:
            return Picture(photos[body.id, body.stage], f"{said}: rectified photo of damage {body.id} with its outline",
                           f"{said} {event.at:%H:%M}. {body.id}: {words(body.kind)}, {body.depth_said}")
    sorts = {"found"} if events[0].body.stage == "as_found" else {"prepared", "footprint", "hull"}
    near, frame = [mark for mark in marks if mark.sort in sorts], part_frame(outcome)
    box = close_up(frame, [mark for mark in marks if mark.sort in DAMAGE])
    view = View(name=f"close-{events[0].body.stage.replace('_', '-')}", title=said, wide_px=WIDE_PX, high_px=HIGH_PX, box=box,
                desc=" ".join(map(str, lines(frame, near))))
    told = "; ".join(f"{event.body.id}: {words(event.body.kind)}, {event.body.depth_said}" for event in events)
    return Picture(part_drawing(frame, near, view).encode(), view.desc or said, f"{said} {events[0].at:%H:%M}, drawn. {told}")
