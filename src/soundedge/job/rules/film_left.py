"""Is the film under a damage that does not reach the steel known? A gouge without a reading on it proves nothing."""

from __future__ import annotations

from ..fold import Job
from ..kinds import Event


def gouges_unread(job: Job, film: Event | None) -> list[str]:
    """The letters of damage not through the film on which no film was read, neither with its outline nor by the gauge."""
    latest = {event.body.id: event for event in job.of("damage.outlined")}
    return [letter for letter, event in latest.items()
            if event.body.through is False and event.body.film_left_um is None
            and (film is None or not _read_on(event, film, only=len(latest) == 1))]


def _read_on(damage: Event, film: Event, *, only: bool) -> bool:
    """Whether a reading lies on the damage; one without a place counts for the damage it names, or the only one."""
    body = damage.body
    points = body.outline_mm or (body.circle_mm or body.ellipse_mm).outline()
    xs, ys = zip(*((x, y) for x, y in points))
    for spot in film.body.spots:
        if not spot.readings_um:
            continue
        if spot.x is None or spot.y is None:
            if spot.where == "repair" and (spot.repair == body.id or (only and spot.repair is None)):
                return True
        elif min(xs) <= spot.x <= max(xs) and min(ys) <= spot.y <= max(ys):
            return True
    return False
