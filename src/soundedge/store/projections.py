"""What is kept beside the ledger only so that it is found quickly, and can be thrown away at any time?

A projection is a table that follows from the entries. It is written in the same transaction as the entry
and can be dropped and derived anew: the result is the same, byte for byte.

    JOBS     one row per job: number, events, head, first and last time written down
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

from ..record.entry import Entry


@dataclass(frozen=True)
class Projection:
    """A derived table: how it is made, and what one entry adds to it.

    ``take`` gets the connection inside the transaction and the new entry. It must depend on nothing but the
    entries so far, else a rebuild gives something else.
    """

    tables: Mapping[str, str]
    take: Callable[[sqlite3.Connection, Entry], None]


def _take_job(db: sqlite3.Connection, entry: Entry) -> None:
    db.execute(
        "INSERT INTO jobs (job, events, head, first_at, last_at) VALUES (?, 1, ?, ?, ?) "
        "ON CONFLICT (job) DO UPDATE SET events = events + 1, head = excluded.head, last_at = excluded.last_at",
        (entry.job, entry.digest, entry.recorded_at, entry.recorded_at),
    )


JOBS = Projection(
    {"jobs": "CREATE TABLE jobs (job TEXT PRIMARY KEY, events INTEGER NOT NULL, head TEXT NOT NULL, "
             "first_at TEXT NOT NULL, last_at TEXT NOT NULL) STRICT"},
    _take_job,
)


def bytes_of(db: sqlite3.Connection, projections: Iterable[Projection]) -> bytes:
    """Everything the projections hold, as bytes that can be compared: rows sorted by their own text."""
    out = []
    for projection in projections:
        for table in sorted(projection.tables):
            rows = sorted(repr(row) for row in db.execute(f'SELECT * FROM "{table}"'))
            out.append(f"{table}\n" + "\n".join(rows))
    return "\n".join(out).encode()
