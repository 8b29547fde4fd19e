"""Puts a typed job into the shop's ledger, so that what was kept is only ever added to.

A sheet may grow from day to day. What was kept stays: an entry that was changed on the sheet afterwards, or taken
off it, is refused; it needs a ``[[correction]]`` or a ``[[void]]`` with its reason.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

from ...basis.errors import Conflict, Refused, Unknown, Unreadable
from ...basis.question import read
from ...basis.sentences import say
from ...job import edition
from ...job.judge import Outcome
from ...job.kinds import BENCH_KINDS, WRITTEN_BY_THE_BENCH, Event
from ...record.canonical import plain
from ...record.entry import Entry, Said
from ...record.write import Record as Written
from ...store.ledger import Ledger
from .ledger_place import files_of, open_ledger
from .new_part import check_new_part
from .originals import Originals
from .records import BENCH, Record, facts_of, next_judgement, released_by_other, said_by, says_now
from .shop_chain import write

CLOCK_SLACK_S = 2.0  # two machines of one shop may differ by that much; own estimate


def keep(data: Path, files: Originals, events: Sequence[Event], outcome: Outcome, *, now: datetime) -> Record:
    """Add what is new to the ledger, with the judgement when there is a new one, and give the job's record.

    Parameters
    ----------
    data : Path
        The shop's data folder; made when it is not there.

    Raises
    ------
    Conflict
        A kept entry was changed on the sheet, or is no longer on it.
    NotKept
        The disk did not take it.
    """
    number = outcome.job.the("job.opened").number
    with open_ledger(data) as ledger:
        _clock(ledger, now)
        kept = _entries(ledger, number)
        facts = facts_of(as_kept(events, kept))
        _nothing_changed(kept, facts)
        if not kept:
            check_new_part(ledger, outcome.job.the("part.identified").tag)
        blobs = files_of(data)
        for raw in files.originals.values():
            blobs.put(raw)
        before = {entry.id for entry in kept}
        fresh = [fact for fact in facts if fact.id not in before]
        judged = [entry for entry in kept if entry.kind == "job.judged"]
        if not fresh and released_by_other(kept) is not None:
            word = edition.told(edition.judged_by(judged[-1].body))
            raise Refused("rules", say("evidence.released_by_other_edition", number=number, told=word))
        if fresh or not judged or said_by(judged[-1]) != says_now(outcome):
            fresh.append(next_judgement(judged, outcome, now=now))
        if fresh:
            ledger.append(number, fresh, now=now, on_head=kept[-1].digest if kept else None)
        return _as_record(ledger.record(number))


def as_kept(events: Sequence[Event], kept: Sequence[Entry]) -> list[Event]:
    """The events of a sheet with what the bench wrote into their entries when it kept them: the rules and the program that
    opened the job, and what a model said."""
    before = {(entry.id, entry.kind): entry.body for entry in kept}
    return [event if (event.id, event.kind) not in before else
            replace(event, body=_as_written(event.body, before[event.id, event.kind])) for event in events]


def kept_of(data: Path, number: str) -> list[Entry]:
    """The entries of a job in the ledger of ``data``; none without a ledger."""
    try:
        with open_ledger(data, make=False) as ledger:
            return _entries(ledger, number)
    except Unreadable:
        return []


def _as_written(body: Any, written: dict[str, Any]) -> Any:
    own = [name for name in WRITTEN_BY_THE_BENCH if name in type(body).model_fields]
    if not own:
        return body
    told = read(type(body), written, from_record=True)
    return body.model_copy(update={name: getattr(told, name) for name in own})


def _clock(ledger: Ledger, now: datetime) -> None:
    """A clock that stands before the last entry is itself an entry; the new ones are put after the last all the same."""
    behind = ledger.seconds_behind(now)
    if behind > CLOCK_SLACK_S:
        note_clock(ledger, now)


def note_clock(ledger: Ledger, now: datetime) -> None:
    """Write down that the clock stands before the ledger's last entry, and by how much."""
    write(ledger, "clock.found_behind", {"seconds": math.ceil(ledger.seconds_behind(now))}, now=now, at=now)


def rebuild(data: Path) -> str:
    """Rebuild everything that is derived from the entries; one sentence."""
    with open_ledger(data, make=False) as ledger:
        ledger.rebuild()
        return f"Rebuilt. {ledger.verify()}"


def jobs_in_ledger(data: Path) -> list[tuple[str, int, str]]:
    """Number, count of entries and head of every job in the ledger."""
    with open_ledger(data, make=False) as ledger:
        return [(job, len(ledger.record(job).entries), ledger.head(job)) for job in ledger.jobs()]


def exported(data: Path, job: str) -> bytes:
    """The bytes of one job's ``record.json``."""
    with open_ledger(data, make=False) as ledger:
        return ledger.record(job).raw


def _entries(ledger: Ledger, number: str) -> list[Entry]:
    try:
        return list(ledger.record(number).entries)
    except Unknown:
        return []


def _nothing_changed(kept: Sequence[Entry], facts: Sequence[Said]) -> None:
    typed = {fact.id: fact for fact in facts}
    for entry in kept:
        if entry.kind in BENCH_KINDS:
            continue
        fact = typed.get(entry.id)
        if fact is None:
            raise Conflict(entry.id, say("evidence.entry_left_the_sheet", entry=entry.id, kind=entry.kind))
        if plain(fact.body) != entry.body or fact.by != entry.by or plain(fact.at) != entry.at:
            raise Conflict(entry.id, say("evidence.entry_changed_on_sheet", entry=entry.id, kind=entry.kind))


def _as_record(written: Written) -> Record:
    last = next(entry for entry in reversed(written.entries) if entry.kind == "job.judged" and entry.by == BENCH)
    return Record(written.raw, written.digest, written.head, len(written.entries),
                  datetime.fromisoformat(last.recorded_at), str(last.body["certificate"]))
