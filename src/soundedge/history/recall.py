"""When a gauge or a lot turns out bad, which jobs depend on it?

Paper is filed by job, not by gauge or lot, so the rule that "all readings since the last good check are suspect" is
seldom followed through. Here every stored job is checked.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Any, NamedTuple

from ..job.fold import Job
from ..job.rules.places import laid_on, outline_on, own_shape


class Standing(NamedTuple):
    """A job that depends on something: its number, part, the entries, and the certificates issued for it."""

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


class Told(NamedTuple):
    """A job's answers to these questions and nothing else, small enough to keep for every job.

    ``checks``: instrument, when, shim and reading. ``films``: entry, instrument, when, and of each spot its readings.
    ``lots``: lot and entry, the layers first.
    """

    job: str
    part: str
    checks: tuple[tuple[str, datetime, float, float], ...] = ()
    films: tuple[tuple[str, str, datetime, tuple[tuple[str, tuple[float, ...]], ...]], ...] = ()
    lots: tuple[tuple[str, str], ...] = ()
    repairs: tuple[Repair, ...] = ()
    certificates: tuple[str, ...] = ()


def told_by(job: Job) -> Told:
    """What a folded job says about gauges, lots and places."""
    part = job.last("part.identified")
    number = job.the("job.opened").number
    return Told(
        number, part.body.tag if part else "",
        tuple((event.body.instrument, event.at, event.body.reference_um, event.body.reading_um)
              for event in job.of("gauge.checked")),
        tuple((event.id, event.body.instrument, event.at,
               tuple((spot.id, tuple(spot.readings_um)) for spot in event.body.spots)) for event in job.of("film.measured")),
        (*((event.body.lot, event.id) for event in job.of("layer.fused")),
         *((event.body.id, event.id) for event in job.of("lot.received"))),
        tuple(_repairs(job, number)), tuple(certificates_of(job)),
    )


def checks_and_readings(jobs: Iterable[Told]) -> dict[str, Any]:
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
        for check in job.checks:
            instrument, at, reference_um, reading_um = check
            checks[check] = {"instrument": instrument, "at": at.isoformat(), "reference_um": reference_um,
                             "reading_um": reading_um}
        issued = {"certificate": job.certificates[-1]} if job.certificates else {}
        for entry, instrument, at, spots in job.films:
            for spot, values in spots:
                for place, value in enumerate(values, 1):
                    readings.append({"id": f"{job.job} {entry} {spot}.{place}", "instrument": instrument,
                                     "at": at.isoformat(), "job": job.job, "value_um": max(0.0, value)} | issued)
    return {"checks": sorted(checks.values(), key=lambda c: c["at"]), "readings": readings}


def standing_on_lot(jobs: Iterable[Told], lot: str) -> list[Standing]:
    """The jobs in which a layer was made from a lot, or which list it."""
    found = ((job, tuple(entry for name, entry in job.lots if name == lot)) for job in jobs)
    return [Standing(job.job, job.part, entries, job.certificates) for job, entries in found if entries]


def standing_on_person(jobs: Iterable[Job], name: str) -> list[Standing]:
    """The jobs in which a person of this full name did something."""
    out = []
    for job in jobs:
        ids = {person for person, body in job.people.items() if body.name == name}
        entries = [event.id for event in job.events if event.by in ids]
        if entries:
            out.append(_standing(job, entries))
    return out


def repairs_of(jobs: Iterable[Told], tag: str) -> list[Repair]:
    """Every repair with layers on the part of this tag, oldest first: where, how large.

    The place is the middle of the last outline and ``d`` its greatest distance from there, doubled.
    """
    return sorted((repair for job in jobs if job.part == tag for repair in job.repairs), key=lambda repair: repair.at)


def certificates_of(job: Job) -> list[str]:
    """The certificates that say a job was released, oldest first, from the bench's own events."""
    return [event.body.certificate for event in job.judged if event.body.verdict == "released"]


def _repairs(job: Job, number: str) -> list[Repair]:
    layers, out = job.of("layer.fused"), []
    latest = {event.body.id: event.body for event in job.of("damage.outlined")} if layers else {}
    on = laid_on(job)
    for body in latest.values():
        shape = outline_on(body, on) or own_shape(body)
        x, y = (sum(point[axis] for point in shape) / len(shape) for axis in (0, 1))
        d = 2 * max(((px - x) ** 2 + (py - y) ** 2) ** 0.5 for px, py in shape)
        out.append(Repair(number, layers[0].at.isoformat(), x, y, d))
    return out


def _standing(job: Job, entries: list[str]) -> Standing:
    return Standing(job.the("job.opened").number, job.the("part.identified").tag, tuple(entries), tuple(certificates_of(job)))
