"""When a gauge or a lot turns out bad, which jobs stand on it?

Paper is filed by job, not by gauge or lot, so the rule that "all readings since the last good check are suspect" is
seldom followed through. Here every kept job is asked.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, NamedTuple

from ..job.fold import Job


class Standing(NamedTuple):
    """A job that stands on something: its number, part, the entries, and the certificates issued for it."""

    job: str
    part: str
    entries: tuple[str, ...]
    certificates: tuple[str, ...]


class Repair(NamedTuple):
    """A repair of a part: job, when the first layer was fused, place and size in the part's own picture (mm)."""

    job: str
    at: str
    x: float
    y: float
    d: float


def checks_and_readings(jobs: Iterable[Job]) -> dict[str, Any]:
    """All shim checks and all film readings of many jobs, as the instruments room asks for them.

    Returns
    -------
    dict
        ``checks`` and ``readings``; a reading's id is ``JOB entry spot.number``. A check that several sheets carry
        (same gauge, moment, shim and value) is one check.
    """
    checks: dict[tuple[Any, ...], dict[str, Any]] = {}
    readings = []
    for job in jobs:
        number = job.the("job.opened").number
        for event in job.of("gauge.checked"):
            b = event.body
            key = (b.instrument, event.at, b.reference_um, b.reading_um)
            checks[key] = {"instrument": b.instrument, "at": event.at.isoformat(), "reference_um": b.reference_um,
                           "reading_um": b.reading_um}
        issued = certificates_of(job)
        for event in job.of("film.measured"):
            for spot in event.body.spots:
                for place, value in enumerate(spot.readings_um, 1):
                    one = {"id": f"{number} {event.id} {spot.id}.{place}", "instrument": event.body.instrument,
                           "at": event.at.isoformat(), "job": number, "value_um": max(0.0, value)}
                    readings.append(one | ({"certificate": issued[-1]} if issued else {}))
    return {"checks": sorted(checks.values(), key=lambda c: c["at"]), "readings": readings}


def standing_on_lot(jobs: Iterable[Job], lot: str) -> list[Standing]:
    """The jobs in which a layer was made from a lot, or which list it."""
    out = []
    for job in jobs:
        entries = [event.id for event in job.of("layer.fused") if event.body.lot == lot]
        entries += [event.id for event in job.of("lot.received") if event.body.id == lot]
        if entries:
            out.append(_standing(job, entries))
    return out


def standing_on_person(jobs: Iterable[Job], name: str) -> list[Standing]:
    """The jobs in which a person of this full name did something."""
    out = []
    for job in jobs:
        ids = {person for person, body in job.people.items() if body.name == name}
        entries = [event.id for event in job.events if event.by in ids]
        if entries:
            out.append(_standing(job, entries))
    return out


def repairs_of(jobs: Iterable[Job], tag: str) -> list[Repair]:
    """Every repair with layers on the part of this tag, oldest first: where, how large.

    The place is the middle of the last outline and ``d`` its greatest distance from there, doubled.
    """
    out = []
    for job in jobs:
        if job.the("part.identified").tag != tag or not job.of("layer.fused"):
            continue
        latest = {event.body.id: event for event in job.of("damage.outlined")}
        for event in latest.values():
            body = event.body
            shape = body.outline_mm or (body.circle_mm or body.ellipse_mm).outline()
            x, y = (sum(point[axis] for point in shape) / len(shape) for axis in (0, 1))
            d = 2 * max(((px - x) ** 2 + (py - y) ** 2) ** 0.5 for px, py in shape)
            out.append(Repair(job.the("job.opened").number, job.of("layer.fused")[0].at.isoformat(), x, y, d))
    return sorted(out, key=lambda repair: repair.at)


def certificates_of(job: Job) -> list[str]:
    """The certificates that say a job was released, oldest first, from the bench's own events."""
    return [event.body.certificate for event in job.judged if event.body.verdict == "released"]


def _standing(job: Job, entries: list[str]) -> Standing:
    return Standing(job.the("job.opened").number, job.the("part.identified").tag, tuple(entries),
                    tuple(certificates_of(job)))
