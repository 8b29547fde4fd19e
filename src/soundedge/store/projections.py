"""What is kept beside the ledger only so that it is found quickly, and can be thrown away at any time.

A projection is a table that follows from the entries. It is written in the same transaction as the entry
and can be dropped and derived again: the result is the same, byte for byte, in either store.

    JOBS     one row per job: number, events, head, first and last time written down
    BOARD    one row per job: part, tag, polymer, and the bench's own last word while nothing was added to it
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

from ..record.entry import Entry
from ..record.rotation import SHOP


class Answered(Protocol):
    """What the database answered."""

    @property
    def rowcount(self) -> int: ...
    def fetchone(self) -> Any: ...
    def fetchall(self) -> list[Any]: ...
    def __iter__(self) -> Iterator[Any]: ...


class Asked(Protocol):
    """An open transaction of either store. Values stand as ``?``."""

    def execute(self, question: str, values: tuple[Any, ...] = (), /) -> Answered: ...


@dataclass(frozen=True)
class Table:
    """A derived table: column → its type (TEXT or BIGINT, never empty), and the columns that name a row."""

    columns: Mapping[str, str]
    key: tuple[str, ...]

    def as_file(self, name: str) -> str:
        """How SQLite makes it."""
        columns = ", ".join(f"{column} {kind.replace('BIGINT', 'INTEGER')} NOT NULL" for column, kind in self.columns.items())
        return f'CREATE TABLE IF NOT EXISTS "{name}" ({columns}, PRIMARY KEY ({", ".join(self.key)})) STRICT'


@dataclass(frozen=True)
class Projection:
    """Derived tables by name, and what one entry adds to them.

    ``take`` gets the open transaction and the new entry. It must depend on nothing but the entries so far, else a rebuild
    gives something else; and speak SQL that both stores know: no ON CONFLICT, as one of them holds many shops in a table.
    """

    name: str
    tables: Mapping[str, Table]
    take: Callable[[Asked, Entry], None]


def tables_apart(projections: Sequence[Projection]) -> sqlite3.Connection:
    """The tables of projections, empty, in memory: filled there again, they are compared with those beside the ledger."""
    db = sqlite3.connect(":memory:", isolation_level=None)
    for projection in projections:
        for name, table in projection.tables.items():
            db.execute(table.as_file(name))
    return db


def rows_of(db: Asked, projections: Sequence[Projection]) -> dict[str, list[str]]:
    """Table → its rows as text, sorted by it: the same wherever the ledger lies."""
    return {name: sorted(repr(tuple(row)) for row in db.execute(f'SELECT {", ".join(table.columns)} FROM "{name}"'))
            for projection in projections for name, table in sorted(projection.tables.items())}


def _take_job(db: Asked, entry: Entry) -> None:
    more = db.execute("UPDATE jobs SET events = events + 1, head = ?, last_at = ? WHERE job = ?",
                      (entry.digest, entry.recorded_at, entry.job))
    if not more.rowcount:
        db.execute("INSERT INTO jobs (job, events, head, first_at, last_at) VALUES (?, 1, ?, ?, ?)",
                   (entry.job, entry.digest, entry.recorded_at, entry.recorded_at))


JOBS = Projection(
    "jobs",
    {"jobs": Table({"job": "TEXT", "events": "BIGINT", "head": "TEXT", "first_at": "TEXT", "last_at": "TEXT"}, ("job",))},
    _take_job,
)


# What may follow the bench's word without changing what it says.
_AFTER_WORD = ("job.judged", "certificate.issued", "picture.taken")


def _take_line(db: Asked, entry: Entry) -> None:
    if entry.job == SHOP:
        return
    if entry.no == 1:
        db.execute("INSERT INTO board (job, part, tag, polymer, word, outcome) VALUES (?, '', '', '', '', '')", (entry.job,))
    if entry.kind == "part.identified":
        db.execute("UPDATE board SET part = ?, tag = ? WHERE job = ? AND tag = ''",
                   (str(entry.body.get("name", "")), str(entry.body.get("tag", "")), entry.job))
    if entry.kind == "lining.identified":
        db.execute("UPDATE board SET polymer = ? WHERE job = ? AND polymer = ''",
                   (str(entry.body.get("polymer", "")), entry.job))
    if entry.kind == "job.judged":
        word = str(entry.body.get("verdict", ""))
        db.execute("UPDATE board SET word = ?, outcome = ? WHERE job = ?",
                   (word, str(entry.body.get("outcome", word)), entry.job))
    elif entry.kind not in _AFTER_WORD:
        db.execute("UPDATE board SET word = '', outcome = '' WHERE job = ? AND word <> ''", (entry.job,))


BOARD = Projection(
    "board",
    {"board": Table(dict.fromkeys(("job", "part", "tag", "polymer", "word", "outcome"), "TEXT"), ("job",))},
    _take_line,
)
PROJECTIONS = (JOBS, BOARD)
