"""How do the events of a job become its record?

>>> record = write("KBW-2031-014", [Said("air-1", "air.read", "ines", "2031-05-04T07:00:00Z", {"air_c": 19.8})],
...                now=datetime(2031, 5, 4, 7, 1, tzinfo=UTC))
>>> record.raw.decode()[:104]
'{"events":[{"at":"2031-05-04T07:00:00Z","body":{"air_c":"19.8"},"by":"ines","id":"air-1","job":"KBW-2031'
>>> record.raw[-1:], len(record.digest)
(b'}', 64)
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime  # noqa: F401  UTC: in the worked case

from ..basis.errors import Contradiction, NotEnough
from ..basis.sentences import say
from .canonical import canonical
from .entry import FORMAT, NOBODY_BEFORE, START, Entry, Fact, Said, placed, recorded_text, statement  # noqa: F401


@dataclass(frozen=True)
class Record:
    """The record of one job: its entries and its exact bytes (``record.json``)."""

    job: str
    entries: tuple[Entry, ...]
    raw: bytes

    @property
    def digest(self) -> str:
        """SHA-256 of the whole file, 64 hex digits: the name under which a certificate cites it."""
        return hashlib.sha256(self.raw).hexdigest()

    @property
    def head(self) -> str:
        """SHA-256 of the last event: what a signer signs on top of."""
        return self.entries[-1].digest


def write(job: str, facts: Iterable[Fact], *, now: datetime, after: Sequence[Entry] = ()) -> Record:
    """Chain facts and write the record.

    Parameters
    ----------
    job : str
        The job's number, 1 to 120 characters.
    facts : iterable of Fact
        In the order in which they are written down: anything with id, kind, by, at and body
        (``job.events.Event`` is one). Floats become decimal strings.
    now : datetime
        When they are written down.
    after : sequence of Entry
        Entries that stand already, from the same job.

    Returns
    -------
    Record

    Raises
    ------
    Contradiction
        Two facts under one id.
    NotEnough
        No fact at all.
    BenchError
        A fact that has no form in a record; see ``canonical``.
    """
    entries = list(after)
    ids = {entry.id for entry in entries}
    for fact in facts:
        said = statement(job, fact)
        if said["id"] in ids:
            raise Contradiction("id", say("record.entry_id_twice_in_job", job=job, id=said['id']))
        ids.add(said["id"])
        last = entries[-1] if entries else None
        entries.append(
            placed(
                said,
                no=len(entries) + 1,
                prev=last.digest if last else NOBODY_BEFORE,
                recorded_at=recorded_text(now, not_before=last.recorded_at if last else ""),
            )
        )
    return Record(job, tuple(entries), document(entries))


def document(entries: Sequence[Entry]) -> bytes:
    """The bytes of ``record.json`` of entries that are chained already.

    Raises
    ------
    NotEnough
        No entry.
    """
    if not entries:
        raise NotEnough("events", say("record.record_empty"))
    return b"".join(
        (START.encode(), b",".join(entry.raw for entry in entries),
         tail(entries[-1].job, len(entries), entries[-1].digest).encode())
    )


def tail(job: str, events: int, digest: str) -> str:
    """What follows the last event: the format and the head."""
    head = {"digest": digest, "events": events, "job": job}
    check = hashlib.sha256(canonical(head)).hexdigest()
    whole = canonical({"format": FORMAT, "head": head | {"check": check}}).decode()
    return "]," + whole[1:]
