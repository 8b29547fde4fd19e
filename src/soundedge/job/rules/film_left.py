"""Is the film under a damage that does not reach the steel known? A gouge without a reading on it proves nothing.

    gouge 16 mm wide, read on it 1090 µm                                     → known
    cut 2 mm wide, foot 8 mm, gauge shows 1190 µm                            → not known: the foot bridges it
    its depth by pin 0.42 mm at three places, film beside it 1210 µm         → 790 µm
    "about 1200 left" without an uncertainty, and the guarded rule decides   → read it
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from ...basis.sentences import Sentence, say
from ...disposition.cut import FOOT_MM, LOST, bridges, width_mm
from ...disposition.place import Laid
from ..case import Case
from ..fold import Job
from ..kinds import Event
from .places import laid_on, outline_on, within


@dataclass(frozen=True)
class Unread:
    """One damage under which the film left is not known, why, and what makes it known."""

    letter: str
    because: Sentence
    what: Sentence


def gouges_unread(case: Case, film: Event | None) -> Iterator[Unread]:
    """Damage not through on which no film was read: neither with its outline, nor by its depth, nor by the gauge."""
    shallow = not_through(case.part_job)  # what is left in place is in no repair's own entries
    for letter, event in shallow.items():
        if event.body.depth_mm:
            continue
        only = len({one.body.id for one in case.part_job.of("damage.outlined")}) == 1
        on_it = [] if film is None else spots_on(event, film, laid_on(case.part_job), only=only)
        if bridged(case, event, film):
            yield Unread(letter, say("thickness.cut_bridged", damage=letter, width=round(_width(event), 1),
                                     foot=foot_mm(case.job, film)), say("thickness.cut_by_depth"))
            continue
        stated = event.body.film_left_um is not None and (
            event.body.u_film_um is not None or case.procedure.decision.rule == "simple")
        if not (stated or on_it):
            yield Unread(letter, say("thickness.cut_unread", damage=letter), say("thickness.cut_read"))


def not_through(job: Job) -> dict[str, Event]:
    """The latest outline of each damage that does not reach the steel, by letter."""
    latest = {event.body.id: event for event in job.of("damage.outlined")}
    return {letter: event for letter, event in latest.items() if event.body.through is False}


def left_um(case: Case, film: Event | None) -> list[float]:
    """The film left under each damage that was not filled before the film was read, where it is known, µm: of a repair
    and of what is left in place beside it."""
    found = []
    for letter, event in not_through(case.part_job).items():
        other = case.repair is not None and letter not in (*case.members, *case.left)
        if not other and event.body.left_um is not None and not _filled(case, event, film):
            found.append(event.body.left_um)
    return found


def bridged(case: Case, event: Event, film: Event | None) -> bool:
    """Whether the gauge stands over this damage instead of in it: film is gone there, it is narrow, and nobody filled it."""
    return (event.body.kind in LOST and not _filled(case, event, film)
            and bridges(_width(event), foot_mm(case.job, film)))


def foot_mm(job: Job, film: Event | None) -> float:
    """The foot of the gauge that read the film, or of the smallest film gauge there is; 8 mm when nobody stated one."""
    named = job.instruments.get(film.body.instrument) if film is not None else None
    feet = [named.foot_mm] if named is not None and named.foot_mm else [
        tool.foot_mm for tool in job.instruments.values() if named is None and tool.kind == "film_gauge" and tool.foot_mm]
    return min(feet, default=FOOT_MM)


def u_beside_um(job: Job, beside_um: Sequence[float]) -> float | None:
    """Standard uncertainty of film read beside a cut, µm, from the widest tolerance of the film gauges listed; None: no gauge.

    The tolerance is a half-width: u = a/√3 (JCGM 100:2008, 4.3.7).
    """
    widest = [tool.tol_pct / 100 * max(beside_um) + tool.tol for tool in job.instruments.values() if tool.kind == "film_gauge"]
    return max(widest) / math.sqrt(3) if widest and max(widest) > 0 else None


def spots_on(damage: Event, film: Event, on: Laid, *, only: bool) -> list[str]:
    """The spots read on a damage; one without a place counts for the damage it names, or the only one."""
    body = damage.body
    points = outline_on(body, on)
    found = []
    for spot in film.body.spots:
        if not spot.readings_um:
            continue
        if spot.x is None or spot.y is None:
            if spot.where == "repair" and (spot.repair == body.id or (only and spot.repair is None)):
                found.append(spot.id)
        elif points is not None and within(spot.x, spot.y, points, on.around_mm):
            found.append(spot.id)
    return found


def _filled(case: Case, damage: Event, film: Event | None) -> bool:
    """Whether a layer was fused over it, before the film was read. A case of no single repair has one repair at most."""
    return damage.body.id not in case.left and any(
        layer.at > damage.at and (film is None or layer.at <= film.at)
        and (case.repair is None or layer.body.repair in (None, damage.body.id, *case.members))
        for layer in case.job.of("layer.fused"))


def _width(event: Event) -> float:
    body = event.body
    if body.circle_mm is not None:
        return float(body.circle_mm.d)
    if body.ellipse_mm is not None:
        return float(min(body.ellipse_mm.a, body.ellipse_mm.b))
    return width_mm(body.outline_mm)
