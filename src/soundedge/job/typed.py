"""What did people type on the job sheet, and which events does that make?

A job sheet (``job.toml``) is a list of entries by section; every entry is one event. ``at`` says when
and ``by`` who; both stand beside the values. An entry's name is its section and its place there:
``air-2`` is the second ``[[air]]``. Corrections and voids point at entries by that name.

    [job]                                   → job.opened
    [[air]]                                 → air.read
    at = 2031-05-04T08:10:00Z
    by = "ines"
    air_c = 19.6
    rh_pct = 58
    steel_c = 17.9
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

from ..basis.errors import Contradiction, Missing, Unknown, Unreadable
from ..basis.quantity import NotThat, read_instant
from ..basis.sentences import say
from .edition import opening
from .kinds import SECTIONS, WRITTEN_BY_THE_BENCH, Event, Kind, body_of

# What the bench writes where no person acted; no person can have this name.
NOBODY = ("sheet", "bench")
ENTRIES_MAX = 20_000


def events_of(sheet: dict[str, Any]) -> list[Event]:
    """The events of a job sheet, in order of time.

    Parameters
    ----------
    sheet : dict
        The sheet as plain values; files it names are already read into it.

    Returns
    -------
    list of Event
        Sorted by ``at``; entries of the same moment stay in the order of ``SECTIONS``.

    Raises
    ------
    BenchError
        An unknown section or key, a value beyond its fence, a person nobody named, a missing time.
        ``field`` says which entry: ``air[2].rh_pct``.
    """
    unknown = sorted(set(sheet) - set(SECTIONS))
    if unknown:
        raise Unknown(str(unknown[0])[:60], say("job.section_unknown", section=str(unknown[0])[:60], known=', '.join(SECTIONS)))
    if "job" not in sheet:
        raise Missing("job", say("job.sheet_without_job"))
    if not isinstance(sheet["job"], dict):
        raise Unreadable("job", say("job.job_in_double_brackets"))
    opened_at = _when(sheet["job"], "job")
    found: list[tuple[datetime, int, int, Event]] = []
    for rank, (name, kind) in enumerate(SECTIONS.items()):
        if name not in sheet:
            continue
        for number, entry in enumerate(_entries(name, kind, sheet[name]), 1):
            spot = f"{name}[{number}]" if kind.many else name
            if not isinstance(entry, dict):
                raise Unreadable(spot, say("job.entry_not_a_table", spot=spot, section=name))
            at = _when(entry, spot) if (kind.acted or "at" in entry) else opened_at
            by = _who(entry, spot, kind)
            body = {key: value for key, value in entry.items() if key not in ("at", "by")}
            _not_typed(body, spot)
            if name == "job":
                body |= opening()
            entry_id = f"{name}-{number}" if kind.many else name
            event = Event(entry_id, kind.name, by, at, body_of(kind.name, body, where=spot))
            found.append((at, rank, number, event))
    if len(found) > ENTRIES_MAX:
        raise Contradiction("", say("job.sheet_too_long", n=len(found), most=ENTRIES_MAX))
    found.sort(key=lambda item: item[:3])
    events = [item[3] for item in found]
    _people_are_named(events)
    return events


def _not_typed(body: dict[str, Any], spot: str) -> None:
    for key in WRITTEN_BY_THE_BENCH:
        if key in body:
            raise Unknown(f"{spot}.{key}", say("job.written_by_the_bench", spot=spot, key=key))


def _entries(name: str, kind: Kind, given: Any) -> list[Any]:
    if kind.many:
        if isinstance(given, dict):
            raise Unreadable(name, say("job.section_in_single_brackets", section=name))
        if not isinstance(given, list):
            raise Unreadable(name, say("job.section_not_a_list", section=name))
        return given
    if not isinstance(given, dict):
        raise Unreadable(name, say("job.section_in_double_brackets", section=name))
    return [given]


def _when(entry: dict[str, Any], spot: str) -> datetime:
    if "at" not in entry:
        raise Missing(f"{spot}.at", say("job.time_missing", spot=spot))
    try:
        return read_instant(entry["at"])
    except NotThat as bad:
        raise Unreadable(f"{spot}.at", bad.message) from None


def _who(entry: dict[str, Any], spot: str, kind: Kind) -> str:
    if "by" not in entry:
        if kind.acted:
            raise Missing(f"{spot}.by", say("job.person_missing", spot=spot))
        return "sheet"
    if not isinstance(entry["by"], str) or not 0 < len(entry["by"].strip()) <= 120:
        raise Unreadable(f"{spot}.by", say("job.person_not_an_id", spot=spot))
    if entry["by"] in NOBODY:
        raise Unknown(f"{spot}.by", say("job.person_unknown", spot=spot, by=entry['by']))
    return entry["by"]


def _people_are_named(events: list[Event]) -> None:
    people: set[str] = set()
    names: dict[str, str] = {}
    for event in events:
        if event.kind == "person.named":
            if event.body.id in people:
                raise Contradiction(f"person.{event.body.id}", say("job.person_twice", id=event.body.id))
            if event.body.id in NOBODY:
                raise Contradiction(f"{event.id}.id", say("job.person_id_reserved", id=event.body.id))
            name = " ".join(event.body.name.casefold().split())
            if name in names:
                raise Contradiction(
                    f"{event.id}.name",
                    say("job.person_called_twice", first=names[name], second=event.body.id, name=event.body.name),
                )
            names[name] = event.body.id
            people.add(event.body.id)
    for event in events:
        if event.by != "sheet" and event.by not in people:
            raise Unknown(
                f"{event.id}.by",
                say("job.person_not_named", id=event.id, by=event.by, known=', '.join(sorted(people))),
            )
