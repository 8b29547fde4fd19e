"""What is done to the part besides preparing and fusing: opened, heated, paused, sanded, given back to service.

Each names its ``repair`` where it belongs to one; none means the only repair, or the whole part. ``looked`` is what was only
looked at and has no value.
"""

from __future__ import annotations

from typing import Literal

from pydantic import model_validator

from ...basis.on_paper import when, words
from ...basis.quantity import Instant, Prose, Word
from ...basis.question import Request, refuse
from ...basis.sentences import say
from .kind import ENGINEER, EVERYBODY, INSPECTOR, MANAGER, TECHNICIAN, Kind
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


class ServiceLimited(Request):
    """For how long, and for what, the part may go back: written by the engineer, before the release or after a new look.

    ``conditions`` are the service it was proved for: medium, temperature, pressure or vacuum, and who keeps it so.
    """

    service_class: Literal["permanent", "to_next_outage", "temporary"]
    expires: Instant | None = None
    first_look: Instant | None = None
    conditions: Prose | None = None
    because: Prose | None = None

    @model_validator(mode="after")
    def _until(self) -> ServiceLimited:
        if self.service_class != "permanent" and self.expires is None:
            raise refuse("missing", say("job.limited_without_end", kind=words(self.service_class)))
        return self


def _limited(body: ServiceLimited) -> str:
    said = [words(body.service_class), f"until {when(body.expires)}" if body.expires else "", body.conditions or "",
            f"first look {when(body.first_look)}" if body.first_look else ""]
    return ", ".join(part for part in said if part)


_HOT = frozenset({TECHNICIAN})

KINDS = (
    Kind("part.opened", PartOpened, "Part opened", lambda b: f"isolation {b.isolation or 'not stated'}",
         section="opened", act="open_part", part_wide=True, step="disposition", roles=EVERYBODY, box="7j"),
    Kind("heat.started", HeatStarted, "Heat on", lambda b: words(b.by_what) + (f", repair {b.repair}" if b.repair else ""),
         section="heat_start", act="heat_on", step="hazards", page="heat", roles=_HOT, box="7k"),
    Kind("heat.paused", HeatPaused, "Heat off for a pause", lambda b: b.because or "reason not stated",
         section="heat_pause", step="hazards", page="heat", roles=_HOT, box="7l"),
    Kind("film.sanded", FilmSanded, "Film sanded", lambda b: words(b.zone) + (f", repair {b.repair}" if b.repair else ""),
         names_repair=True, section="sanded", act="sand", step="thickness", roles=_HOT, box="7m"),
    Kind("service.limited", ServiceLimited, "Limits of its service", _limited,
         section="limited", part_wide=True, step="release", roles=frozenset({ENGINEER}), after_release=True, box="7s"),
    Kind("service.returned", ServiceReturned, "Given back to service", lambda b: f"to {b.taken_by}",
         section="returned", act="return_to_service", part_wide=True, step="release",
         roles=frozenset({INSPECTOR, MANAGER}), after_release=True, box="7n"),
)
