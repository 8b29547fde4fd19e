"""What is done to the part besides preparing and fusing: opened, heated, paused, sanded, given back to service.

Each names its ``repair`` where it belongs to one; none means the only repair, or the whole part. ``looked`` is what was only
looked at and has no value.
"""

from __future__ import annotations

from typing import Literal

from ...basis.on_paper import words
from ...basis.quantity import Instant, Prose, Word
from ...basis.question import Request
from .kind import EVERYBODY, INSPECTOR, MANAGER, TECHNICIAN, Kind
from .values import Looked, Zone


class PartOpened(Request):
    """A part opened from service: under which isolation number of its owner, and with what it is rinsed."""

    isolation: Word | None = None
    rinse: Prose | None = None
    place: Literal["open_hall", "enclosed"] | None = None
    looked: list[Looked] = []


class HeatStarted(Request):
    """Heat switched on, and by what; the watch and the extraction were looked at, or not."""

    by_what: Literal["gun", "second_gun", "oven", "blanket"] = "gun"
    repair: Word | None = None
    watched_by: Word | None = None
    looked: list[Looked] = []


class HeatPaused(Request):
    """Heat switched off before the last layer."""

    repair: Word | None = None
    because: Prose | None = None


class FilmSanded(Request):
    """Film dressed back; readings and tests of that zone made before no longer count."""

    repair: Word | None = None
    zone: Zone = "repair"
    remark: Prose | None = None


class ServiceReturned(Request):
    """The part given back to its owner: who took it, and when it is to be looked at first."""

    taken_by: Word
    first_look: Instant | None = None


_HOT = frozenset({TECHNICIAN})

KINDS = (
    Kind("part.opened", PartOpened, "Part opened", lambda b: f"isolation {b.isolation or 'not stated'}",
         section="opened", step="disposition", roles=EVERYBODY, box="7j"),
    Kind("heat.started", HeatStarted, "Heat on", lambda b: words(b.by_what) + (f", repair {b.repair}" if b.repair else ""),
         section="heat_start", step="hazards", page="heat", roles=_HOT, box="7k"),
    Kind("heat.paused", HeatPaused, "Heat off for a pause", lambda b: b.because or "reason not stated",
         section="heat_pause", step="hazards", page="heat", roles=_HOT, box="7l"),
    Kind("film.sanded", FilmSanded, "Film sanded", lambda b: words(b.zone) + (f", repair {b.repair}" if b.repair else ""),
         names_repair=True, section="sanded", step="thickness", roles=_HOT, box="7m"),
    Kind("service.returned", ServiceReturned, "Given back to service", lambda b: f"to {b.taken_by}",
         section="returned", step="release", roles=frozenset({INSPECTOR, MANAGER}), after_release=True, box="7n"),
)
