"""Puts events into the ledger, each permanently, once, and in its place.

    ledger = SqliteLedger.open(folder)                          # makes it when it is not there (sqlite.py)
    ledger.append("KBW-2031-014", events, now=now)              # on disk when this returns
    ledger.append("KBW-2031-014", [release], now=now, on_head=head_seen)
    ledger.record("KBW-2031-014").raw                           # the bytes of record.json

* One transaction, all or nothing; when it returns, the rows are on disk, and the store was asked whether it syncs.
* The same event sent twice is one row and the same answer; the same id with another content is a Conflict.
* ``on_head`` is the digest of the job's last event that the person saw. When somebody was quicker, nothing
  is written and Conflict says so.
* After an error of the disk nothing more is written by this ledger until it is opened, and verified, anew:
  the operating system may have dropped what it could not write.

This file holds what is the same wherever the ledger lies. A store (sqlite.py, postgres.py) adds what differs: opening and
closing, ``_rows`` (asking), ``_writing`` (one transaction, alone), ``_put`` (one row), the tables of the projections,
``verify``, and ``kept`` (how it is synced).
"""

from __future__ import annotations

import hashlib
import json
import os
import secrets
from abc import ABC, abstractmethod
from collections.abc import Iterable, Iterator, Sequence
from contextlib import AbstractContextManager, closing, suppress
from datetime import datetime
from itertools import islice
from pathlib import Path
from typing import Any, Self

from ..basis.errors import BenchError, Conflict, RecordBroken, Refused, Unknown
from ..basis.file_names import check_new_name
from ..basis.sentences import Sentence, say
from ..record.entry import NOBODY_BEFORE, Entry, Fact, entry_of, placed, recorded_text, statement
from ..record.verify import verify
from ..record.write import Record, document
from .durable import move
from .projections import Asked, Projection, rows_of, tables_apart
from .schema import OWN_WORK

NO_LINK = bytes(32)
FILE = "ledger.sqlite3"  # a ledger as one file: a shop's own, and every backup


class NotKept(BenchError):
    """The disk did not take it: nothing of it counts as saved."""

    kind = "not_kept"


class Ledger(ABC):
    """The ledger of one shop. One object per thread; several processes may hold the same one."""

    _stopped: Sentence | None = None

    def __init__(self, folder: Path, projections: Sequence[Projection]) -> None:
        self._projections = tuple(projections)
        self.folder = folder

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    # ------------------------------------------------------------------ what a store adds

    @abstractmethod
    def close(self) -> None:
        """Let go of the store. What was acknowledged is on disk already."""

    @abstractmethod
    def verify(self) -> str:
        """Check every row against its bytes, both chains, every job, and the store itself.

        Returns
        -------
        str
            One plain sentence.

        Raises
        ------
        RecordBroken
            The first row that does not hold, by job, number and kind.
        """

    @abstractmethod
    def kept(self) -> str:
        """How this store keeps what it acknowledges, for ``soundedge doctor``: "the ledger writes with …"."""

    @abstractmethod
    def _rows(self, what: str, where: str, values: tuple[Any, ...] = ()) -> Iterator[Any]:
        """Columns ``what`` of this shop's rows ``where``; values stand as ``?``. Damage and a lost store are told apart."""

    @abstractmethod
    def _derived_rows(self, question: str) -> list[Any]:
        """What is derived, asked by one question without values."""

    @abstractmethod
    def _writing(self) -> AbstractContextManager[Asked]:
        """One transaction, nobody else writes to this ledger meanwhile; committed, and on disk, when it is left."""

    @abstractmethod
    def _put(self, db: Asked, row: tuple[int, str, int, str, bytes, bytes, bytes]) -> None:
        """One row (seq, job, no, id, entry, leaf, link)."""

    @abstractmethod
    def _lacking(self) -> list[Projection]:
        """The projections whose tables are not filled yet."""

    @abstractmethod
    def _make(self, db: Asked, projection: Projection) -> None:
        """Make or mark the tables of a projection."""

    # ------------------------------------------------------------------ writing

    def append(
        self, job: str, facts: Iterable[Fact], *, now: datetime, on_head: str | None = None,
        signatures: dict[str, dict[str, str]] | None = None,
    ) -> tuple[Entry, ...]:
        """Add events to a job.

        Parameters
        ----------
        job : str
            The job's number.
        facts : iterable of Fact
            In the order in which they count; floats become decimal strings.
        now : datetime
            When they are written down; put after the last row when the clock was set back.
        on_head : str, optional
            Digest of the job's last event that the author saw; 64 zeros for a job that is not there yet.
        signatures : dict, optional
            Fact id → ``{"key", "value"}`` for events signed by a person (see record/sign.py).

        Returns
        -------
        tuple of Entry
            One per fact, as stored; those that were there already are given back as they stand.

        Raises
        ------
        Conflict
            An id that is there with another content; a head that has moved on; somebody is writing for long.
        Unreadable, Contradiction
            The number of a new job that some file system would not keep apart (basis/file_names.py).
        NotKept
            The disk did not take it. Nothing of it was written.
        """
        says = [statement(job, fact) for fact in facts]
        signatures = signatures or {}
        with self._writing() as db:
            last = self._last_of(job)
            head = last.digest if last else NOBODY_BEFORE
            moved = on_head is not None and on_head != head
            stored: dict[str, Entry] = {}
            fault: Conflict | None = None
            for said in says:
                for (raw,) in self._rows("entry", "job = ? AND id = ?", (job, said["id"])):
                    try:
                        stored[said["id"]] = self._the_same(said, signatures.get(said["id"]), raw)
                    except Conflict as differs:
                        fault = fault or differs
            if moved and (fault or any(said["id"] not in stored for said in says)):  # whoever looks again sees the other entry
                said_by = say("store.moved_by", by=last.by, kind=last.kind) if last else ""
                raise Conflict("on_head", say("store.job_moved_on", job=job, no=last.no if last else 0, said_by=said_by))
            if fault is not None:
                raise fault
            if last is None:
                check_new_name("number", "the job number", job, self.jobs())
            seq, link, time = self._last_row()
            for said in says:
                if said["id"] in stored:
                    self._only_once(said, stored[said["id"]])
                    continue
                entry = placed(
                    said, no=last.no + 1 if last else 1, prev=last.digest if last else NOBODY_BEFORE,
                    recorded_at=recorded_text(now, not_before=max(time, last.recorded_at if last else "")),
                    sig=signatures.get(said["id"]),
                )
                seq, link = self._insert(db, seq, link, entry)
                stored[said["id"]] = last = entry
                time = max(time, entry.recorded_at)
        return tuple(stored[said["id"]] for said in says)

    def import_record(self, raw: bytes) -> int:
        """Take over the record of one job, byte for byte; entries that stand already must be the same.

        Returns
        -------
        int
            How many entries were added.

        Raises
        ------
        RecordBroken
            The record does not hold.
        Conflict
            The job stands here already and its events differ.
        """
        held = verify(raw)
        entries = list(held.entries())
        with self._writing() as db:
            here = [row[0] for row in self._rows("entry", "job = ? ORDER BY no", (held.job,))]
            for entry, own in zip(entries, here, strict=False):
                if entry.raw != own:
                    raise Conflict("record", say("store.record_contradicts_ledger", job=held.job, no=entry.no, kind=entry.kind))
            seq, link, _ = self._last_row()
            for entry in entries[len(here):]:
                seq, link = self._insert(db, seq, link, entry)
        return max(0, len(entries) - len(here))

    def import_log(self, lines: Iterable[bytes]) -> int:
        """Take over a whole log (``export_log``) into an empty ledger, in its order.

        Raises
        ------
        Conflict
            The ledger is not empty.
        RecordBroken
            A line is not the next event of its job.
        """
        count = 0
        with self._writing() as db:
            if self._last_row()[0]:
                raise Conflict("data", say("store.ledger_not_empty"))
            seq, link = 0, NO_LINK
            heads: dict[str, tuple[int, str]] = {}
            for count, raw in enumerate(lines, 1):
                try:
                    entry = read_entry(raw)
                    sound = heads.get(entry.job, (0, NOBODY_BEFORE)) == (entry.no - 1, entry.prev)
                except RecordBroken:
                    raise RecordBroken(f"line {count}", say("store.log_line_not_an_entry", line=count)) from None
                if not sound:
                    raise RecordBroken(f"line {count}", say("store.log_line_out_of_order", line=count, no=entry.no,
                                                            kind=entry.kind, job=entry.job))
                heads[entry.job] = (entry.no, entry.digest)
                seq, link = self._insert(db, seq, link, entry)
            for job in heads:
                verify(self.record(job).raw)
        return count

    def rebuild(self) -> None:
        """Throw away everything derived and derive it again from the entries."""
        with self._writing() as db:
            self._derive(db, self._projections)

    # ------------------------------------------------------------------ reading

    def jobs(self) -> list[str]:
        """The numbers of all jobs, in the order of their first event."""
        return [row[0] for row in self._rows("job", "no = 1 ORDER BY seq")]

    def firsts(self, kind: str) -> Iterator[Entry]:
        """The first entry of a kind in each job that has one."""
        for job in self.jobs():
            entries = (read_entry(raw) for (raw,) in self._rows("entry", "job = ? ORDER BY no", (job,)))
            yield from islice((entry for entry in entries if entry.kind == kind), 1)

    def record(self, job: str) -> Record:
        """The record of one job, from its exact bytes.

        Raises
        ------
        Unknown
            No such job.
        """
        entries = tuple(read_entry(row[0]) for row in self._rows("entry", "job = ? ORDER BY no", (job,)))
        if not entries:
            raise Unknown("job", say("store.job_unknown", job=job[:60]))
        return Record(job, entries, document(entries))

    def entries(self, job: str, *, after: int = 0) -> list[Entry]:
        """A job's events after number ``after``, in their order; none when there are none."""
        return [read_entry(row[0]) for row in self._rows("entry", "job = ? AND no > ? ORDER BY no", (job, after))]

    def head(self, job: str) -> str:
        """Digest of the job's last event; 64 zeros when there is none."""
        last = self._last_of(job)
        return last.digest if last else NOBODY_BEFORE

    def size(self) -> int:
        """How many events there are, over all jobs."""
        return self._last_row()[0]

    def link(self) -> str:
        """The running chain's last value, 64 hex digits."""
        return self._last_row()[1].hex()

    def leaves(self, size: int | None = None) -> list[bytes]:
        """Leaf hashes of the first ``size`` rows (all when left out): what a checkpoint's tree stands on."""
        upto = self.size() if size is None else size
        return [row[0] for row in self._rows("leaf", "seq <= ? ORDER BY seq", (upto,))]

    def places(self, job: str) -> list[int]:
        """The tree positions (0-based) of a job's events."""
        return [row[0] - 1 for row in self._rows("seq", "job = ? ORDER BY no", (job,))]

    def export_log(self) -> Iterator[bytes]:
        """Every event's bytes in the order of arrival; joined by line ends they are the shop's whole log."""
        for (raw,) in self._rows("entry", "true ORDER BY seq"):
            yield bytes(raw)

    def seconds_behind(self, now: datetime) -> float:
        """How far the clock stands before the last row's time; 0 when it does not."""
        time = self._last_row()[2]
        if not time:
            return 0.0
        return max(0.0, (datetime.fromisoformat(time) - now).total_seconds())

    def heads(self) -> dict[str, str]:
        """Every job with the digest of its last entry."""
        return dict(self._derived_rows("SELECT job, head FROM jobs"))

    def lines(self) -> list[tuple[Any, ...]]:
        """Every job: number, entries, head, last time, part, tag, polymer, the bench's word and outcome while they stand."""
        return self._derived_rows("SELECT j.job, j.events, j.head, j.last_at, b.part, b.tag, b.polymer, b.word, b.outcome "
                                  "FROM jobs j JOIN board b ON b.job = j.job")

    def derived(self) -> bytes:
        """Everything the projections hold, as bytes that can be compared: rows sorted by their own text."""
        with self._writing() as db:
            return "\n".join(f"{name}\n" + "\n".join(rows) for name, rows in rows_of(db, self._projections).items()).encode()

    def check_derived(self) -> None:
        """Hold what the projections keep against what the entries give; most of it while others may write.

        Raises
        ------
        RecordBroken
            A table that was emptied or changed by hand. No entry is affected.
        """
        seen = self.size()
        with closing(tables_apart(self._projections)) as anew:
            self._take_rows(anew, self._projections, "seq <= ? ORDER BY seq", seen)
            with self._writing() as db:
                self._take_rows(anew, self._projections, "seq > ? ORDER BY seq", seen)
                due, held = rows_of(anew, self._projections), rows_of(db, self._projections)
        for name, rows in due.items():
            if rows != held[name]:
                raise RecordBroken("derived", say("store.derived_differs", table=name, held=len(held[name]), due=len(rows)))

    def backup(self, file: Path) -> None:
        """Write a whole copy of the ledger as one file, under load too, and verify the copy before saying it is made.

        The copy is the same kind of file wherever the ledger lies: it can be verified and restored into either store.

        Raises
        ------
        NotKept
            The copy could not be written.
        RecordBroken
            The copy does not hold.
        """
        temporary = file.with_name(f".{file.name}.{secrets.token_hex(4)}.part")
        try:
            temporary.unlink(missing_ok=True)
            self._copy_to(temporary)
            with open(temporary, "rb+") as stream:
                os.fsync(stream.fileno())
            move(temporary, file)
        except OSError as error:
            raise NotKept("backup", say("store.backup_file_not_made", file=file, why=error)) from None
        finally:
            with suppress(OSError):
                temporary.unlink()

    @abstractmethod
    def _copy_to(self, file: Path) -> None:
        """Write all rows into a new ledger file (sqlite.py) and verify it."""

    # ------------------------------------------------------------------ inside

    def _insert(self, db: Asked, seq: int, link: bytes, entry: Entry) -> tuple[int, bytes]:
        leaf = hashlib.sha256(b"\0" + entry.raw).digest()
        seq, link = seq + 1, hashlib.sha256(link + leaf).digest()
        self._put(db, (seq, entry.job, entry.no, entry.id, entry.raw, leaf, link))
        for projection in self._projections:
            projection.take(db, entry)
        return seq, link

    def _last_of(self, job: str) -> Entry | None:
        for (raw,) in self._rows("entry", "job = ? ORDER BY no DESC LIMIT 1", (job,)):
            return read_entry(raw)
        return None

    def _last_row(self) -> tuple[int, bytes, str]:
        for seq, link, raw in self._rows("seq, link, entry", "true ORDER BY seq DESC LIMIT 1"):
            return seq, link, read_entry(raw).recorded_at
        return 0, NO_LINK, ""

    def _the_same(self, said: dict[str, Any], sig: dict[str, str] | None, raw: bytes) -> Entry:
        entry = read_entry(raw)
        self._only_once(said, entry)
        if sig is not None and sig != entry.sig:
            raise Conflict("id", say("store.entry_signature_differs", id=said['id'], job=said['job']))
        return entry

    def _only_once(self, said: dict[str, Any], entry: Entry) -> None:
        own = {"at": entry.at, "body": entry.body, "by": entry.by, "id": entry.id, "job": entry.job, "kind": entry.kind}
        if own != said:
            raise Conflict("id", say("store.entry_id_taken", id=said['id'], job=said['job'], no=entry.no, kind=entry.kind))

    def _fill_projections(self) -> None:
        if self._lacking():
            with self._writing() as db:
                lacking = self._lacking()  # another process may have been quicker
                for projection in lacking:
                    self._make(db, projection)
                self._derive(db, lacking)

    def _derive(self, db: Asked, projections: Sequence[Projection]) -> None:
        for projection in projections:
            for table in projection.tables:
                db.execute(f'DELETE FROM "{table}"')
        self._take_rows(db, projections, "true ORDER BY seq")

    def _take_rows(self, db: Asked, projections: Sequence[Projection], where: str, *values: int) -> None:
        for (raw,) in list(self._rows("entry", where, values)):
            entry = read_entry(raw)
            for projection in projections:
                projection.take(db, entry)


def read_entry(raw: bytes) -> Entry:
    """An entry from its own bytes. A row that is no longer an event is named by ``verify``."""
    try:
        return entry_of(json.loads(raw), bytes(raw))
    except (ValueError, KeyError, TypeError, RecursionError):
        raise RecordBroken("ledger", say("store.row_no_longer_an_entry")) from None


def told_by_guard(reason: str) -> BenchError:
    """What a guard of the table said, as a sentence for people."""
    if OWN_WORK in reason:
        return Refused(
            "release.signed", say("store.release_of_own_work"),
        )
    return RecordBroken("ledger", say("store.entry_refused_by_guard", why=reason))
