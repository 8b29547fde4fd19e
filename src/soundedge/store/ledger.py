"""How does an event get into the ledger so that it is there for good, once, and in its place?

    ledger = Ledger.open(folder)                                # makes it when it is not there
    ledger.append("KBW-2031-014", events, now=now)              # on disk when this returns
    ledger.append("KBW-2031-014", [release], now=now, on_head=head_he_saw)
    ledger.record("KBW-2031-014").raw                           # the bytes of record.json

* One transaction, all or nothing; when it returns, the rows are synced (WAL with synchronous=FULL, read
  back at opening; with NORMAL a power cut loses acknowledged rows).
* The same event sent twice is one row and the same answer; the same id with another content is a Conflict.
* ``on_head`` is the digest of the job's last event that the person saw. When somebody was quicker, nothing
  is written and Conflict says so.
* After an error of the disk nothing more is written by this ledger until it is opened, and verified, anew:
  the operating system may have dropped what it could not write.
"""

from __future__ import annotations

import hashlib
import json
import os
import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager, suppress
from datetime import datetime
from pathlib import Path
from typing import Any

from ..basis.errors import BenchError, Conflict, RecordBroken, Unknown, Unreadable
from ..record.entry import NOBODY_BEFORE, Entry, Fact, entry_of, placed, recorded_text, statement
from ..record.verify import verify
from ..record.write import Record, document
from .projections import JOBS, Projection
from .schema import APPLICATION_ID, GUARDS, PRAGMAS, TABLE, VERSION

NO_LINK = bytes(32)
FILE = "ledger.sqlite3"


class NotKept(BenchError):
    """The disk did not take it: nothing of it counts as saved."""

    kind = "not_kept"


class Ledger:
    """The ledger of one shop. One object per thread; several processes may hold the same folder."""

    def __init__(self, connection: sqlite3.Connection, folder: Path, projections: Sequence[Projection]) -> None:
        self._db = connection
        self._projections = projections
        self._stopped = ""
        self.folder = folder

    @classmethod
    def open(
        cls, folder: Path, *, make: bool = True, projections: Sequence[Projection] = (JOBS,), wait_s: float = 20.0
    ) -> Ledger:
        """Open the ledger in ``folder``; make both when they are not there (unless ``make`` is False).

        Raises
        ------
        NotKept
            The disk does not give what the ledger needs (WAL, full sync), or cannot be written.
        RecordBroken
            The guards were taken off, or the file is not a ledger any more.
        Unreadable
            Another program's database, or one written by a newer version.
        """
        path = Path(folder) / FILE
        if not make and not path.is_file():
            raise Unreadable("data", f"There is no ledger in '{folder}'. Name the shop's data folder.")
        try:
            made_folder = not Path(folder).exists()
            Path(folder).mkdir(parents=True, exist_ok=True)
            fresh = not path.exists()
            db = sqlite3.connect(path, timeout=wait_s, isolation_level=None)
        except (OSError, sqlite3.Error, ValueError) as error:
            raise NotKept("data", f"The ledger in '{folder}' cannot be opened: {error}. Check folder and rights.") from None
        try:
            _set_up(db, path)
            ledger = cls(db, Path(folder), tuple(projections))
            ledger._make_projections()
        except sqlite3.Error as error:
            db.close()
            if _is_damage(error):
                raise RecordBroken("ledger", f"The ledger '{path}' is damaged: {error}. Restore a verified backup.") from None
            raise NotKept("data", f"The ledger '{path}' cannot be opened: {error}. Check disk and rights.") from None
        except BaseException:
            db.close()
            raise
        if fresh or not ledger.size():  # nothing is acknowledged before the file's own name is on disk
            try:
                for above in (path.parent, path.absolute().parent.parent)[: 1 + made_folder]:
                    _sync_folder(above)
            except OSError as error:
                db.close()
                raise NotKept("data", f"The folder '{folder}' cannot be synced: {error.strerror}. Check the disk.") from None
        return ledger

    def close(self) -> None:
        """Close the file. What was acknowledged is on disk already."""
        self._db.close()

    def __enter__(self) -> Ledger:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

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
        NotKept
            The disk did not take it. Nothing of it was written.
        """
        says = [statement(job, fact) for fact in facts]
        signatures = signatures or {}
        with self._writing() as db:
            stored: dict[str, Entry] = {}
            for said in says:
                found = db.execute("SELECT entry FROM ledger WHERE job = ? AND id = ?", (job, said["id"])).fetchone()
                if found:
                    stored[said["id"]] = self._the_same(said, signatures.get(said["id"]), found[0])
            last = self._last_of(job)
            head = last.digest if last else NOBODY_BEFORE
            if on_head is not None and on_head != head and any(said["id"] not in stored for said in says):
                said_by = f" by {last.by} ({last.kind})" if last else ""
                raise Conflict(
                    "on_head", f"Job {job} has moved on since it was looked at: its last event is number "
                               f"{last.no if last else 0}{said_by}. Look at it again, then send again.",
                )
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
            here = [row[0] for row in db.execute("SELECT entry FROM ledger WHERE job = ? ORDER BY no", (held.job,))]
            for entry, own in zip(entries, here, strict=False):
                if entry.raw != own:
                    raise Conflict("record", f"Job {held.job} stands here with another event {entry.no} "
                                             f"({entry.kind}). Nothing was taken over; compare the two records.")
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
                raise Conflict("data", "The ledger holds events already; a whole log goes into an empty one.")
            seq, link = 0, NO_LINK
            heads: dict[str, tuple[int, str]] = {}
            for count, raw in enumerate(lines, 1):
                try:
                    entry = _read(raw)
                    sound = heads.get(entry.job, (0, NOBODY_BEFORE)) == (entry.no - 1, entry.prev)
                except RecordBroken:
                    raise RecordBroken(f"line {count}", f"Line {count} of the log is not an event.") from None
                if not sound:
                    raise RecordBroken(f"line {count}", f"Line {count} of the log, event {entry.no} ({entry.kind}) of job "
                                                        f"{entry.job}, is not the next event of its job.")
                heads[entry.job] = (entry.no, entry.digest)
                seq, link = self._insert(db, seq, link, entry)
            for job in heads:
                verify(self.record(job).raw)
        return count

    def rebuild(self) -> None:
        """Throw away everything derived and derive it anew from the entries."""
        with self._writing() as db:
            for projection in self._projections:
                for table in projection.tables:
                    db.execute(f'DELETE FROM "{table}"')
            for (raw,) in self._db.execute("SELECT entry FROM ledger ORDER BY seq").fetchall():
                entry = _read(raw)
                for projection in self._projections:
                    projection.take(db, entry)

    # ------------------------------------------------------------------ reading

    def jobs(self) -> list[str]:
        """The numbers of all jobs, in the order of their first event."""
        return [row[0] for row in self._rows("SELECT job FROM ledger WHERE no = 1 ORDER BY seq")]

    def record(self, job: str) -> Record:
        """The record of one job, from its exact bytes.

        Raises
        ------
        Unknown
            No such job.
        """
        entries = tuple(_read(row[0]) for row in self._rows("SELECT entry FROM ledger WHERE job = ? ORDER BY no", (job,)))
        if not entries:
            raise Unknown("job", f"There is no job '{job[:60]}' in the ledger.")
        return Record(job, entries, document(entries))

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
        return [row[0] for row in self._rows("SELECT leaf FROM ledger WHERE seq <= ? ORDER BY seq", (upto,))]

    def places(self, job: str) -> list[int]:
        """The tree positions (0-based) of a job's events."""
        return [row[0] - 1 for row in self._rows("SELECT seq FROM ledger WHERE job = ? ORDER BY no", (job,))]

    def export_log(self) -> Iterator[bytes]:
        """Every event's bytes in the order of arrival; joined by line ends they are the shop's whole log."""
        for (raw,) in self._rows("SELECT entry FROM ledger ORDER BY seq"):
            yield bytes(raw)

    def seconds_behind(self, now: datetime) -> float:
        """How far the clock stands before the last row's time; 0 when it does not."""
        time = self._last_row()[2]
        if not time:
            return 0.0
        return max(0.0, (datetime.fromisoformat(time) - now).total_seconds())

    def backup(self, file: Path) -> None:
        """Write a whole copy of the ledger, under load too, and verify the copy before saying it is made.

        Raises
        ------
        NotKept
            The copy could not be written.
        RecordBroken
            The copy does not hold.
        """
        temporary = file.with_name(f".{file.name}.part")
        try:
            temporary.unlink(missing_ok=True)
            copy = sqlite3.connect(temporary)
            with self._connection_closed_after(copy):
                self._db.backup(copy)
                copy.execute("PRAGMA journal_mode=DELETE")
            with open(temporary, "rb+") as stream:
                os.fsync(stream.fileno())
            check_file(temporary)
            os.replace(temporary, file)
            _sync_folder(file.parent)
        except (OSError, sqlite3.Error) as error:
            raise NotKept("backup", f"The backup '{file}' was not made: {error}. Free space or choose another disk.") from None
        finally:
            with suppress(OSError):
                temporary.unlink()

    def verify(self) -> str:
        """Check every row against its bytes, both chains, every job, and the file itself.

        Returns
        -------
        str
            One plain sentence.

        Raises
        ------
        RecordBroken
            The first row that does not hold, by job, number and kind.
        """
        return verify_rows(self._db)

    # ------------------------------------------------------------------ inside

    @contextmanager
    def _writing(self) -> Iterator[sqlite3.Connection]:
        if self._stopped:
            raise NotKept("ledger", self._stopped)
        db = self._db
        try:
            db.execute("BEGIN IMMEDIATE")
            try:
                yield db
                db.execute("COMMIT")
            except BaseException:
                if db.in_transaction:
                    db.execute("ROLLBACK")
                raise
        except sqlite3.Error as error:
            if getattr(error, "sqlite_errorname", "") in ("SQLITE_BUSY", "SQLITE_BUSY_SNAPSHOT", "SQLITE_LOCKED"):
                raise Conflict("ledger", "Somebody else is writing to the ledger. Nothing was written; send again.") from None
            self._stopped = (
                f"The ledger is read-only since the disk failed ({error}). Nothing of the last entry was saved. "
                "Check disk and space, restart, and verify the ledger before going on."
            )
            if isinstance(error, (sqlite3.IntegrityError,)):
                self._stopped = ""
                raise RecordBroken("ledger", f"The ledger refused the entry: {error}. Verify the ledger.") from None
            raise NotKept("ledger", self._stopped) from None

    def _rows(self, question: str, values: tuple[Any, ...] = ()) -> Iterator[Any]:
        try:
            yield from self._db.execute(question, values)
        except sqlite3.DatabaseError as error:
            if _is_damage(error):
                raise RecordBroken("ledger", f"The ledger cannot be read: {error}. Restore a verified backup.") from None
            raise NotKept("ledger", f"The ledger cannot be read: {error}. Nothing was written; check the disk.") from None

    def _insert(self, db: sqlite3.Connection, seq: int, link: bytes, entry: Entry) -> tuple[int, bytes]:
        leaf = hashlib.sha256(b"\0" + entry.raw).digest()
        seq, link = seq + 1, hashlib.sha256(link + leaf).digest()
        db.execute("INSERT INTO ledger (seq, job, no, id, entry, leaf, link) VALUES (?, ?, ?, ?, ?, ?, ?)",
                   (seq, entry.job, entry.no, entry.id, entry.raw, leaf, link))
        for projection in self._projections:
            projection.take(db, entry)
        return seq, link

    def _last_of(self, job: str) -> Entry | None:
        for (raw,) in self._rows("SELECT entry FROM ledger WHERE job = ? ORDER BY no DESC LIMIT 1", (job,)):
            return _read(raw)
        return None

    def _last_row(self) -> tuple[int, bytes, str]:
        for seq, link, raw in self._rows("SELECT seq, link, entry FROM ledger ORDER BY seq DESC LIMIT 1"):
            return seq, link, _read(raw).recorded_at
        return 0, NO_LINK, ""

    def _the_same(self, said: dict[str, Any], sig: dict[str, str] | None, raw: bytes) -> Entry:
        entry = _read(raw)
        self._only_once(said, entry)
        if sig is not None and sig != entry.sig:
            raise Conflict("id", f"Event '{said['id']}' of job {said['job']} stands there with another signature. "
                                 "Look at the job again and sign anew under a new id.")
        return entry

    def _only_once(self, said: dict[str, Any], entry: Entry) -> None:
        own = {"at": entry.at, "body": entry.body, "by": entry.by, "id": entry.id, "job": entry.job, "kind": entry.kind}
        if own != said:
            raise Conflict(
                "id", f"Event '{said['id']}' of job {said['job']} stands there with another content (number {entry.no}, "
                      f"{entry.kind}). Nothing was written; give a new event a new id.",
            )

    def _make_projections(self) -> None:
        wanted = [(table, made) for p in self._projections for table, made in p.tables.items()]
        there = {row[0] for row in self._db.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
        missing = [made for table, made in wanted if table not in there]
        if missing:
            with self._writing() as db:
                for made in missing:
                    db.execute(made)
            self.rebuild()

    @contextmanager
    def _connection_closed_after(self, db: sqlite3.Connection) -> Iterator[None]:
        try:
            yield
        finally:
            db.close()


def check_file(path: Path) -> str:
    """Verify a ledger file read-only (a backup, a copy); the sentence of ``Ledger.verify``.

    Raises
    ------
    RecordBroken
        A row or the file itself does not hold.
    """
    db = None
    try:
        db = sqlite3.connect(f"file:{_uri(path)}?mode=ro", uri=True, isolation_level=None)
        return verify_rows(db)
    except sqlite3.Error as error:
        raise RecordBroken("ledger", f"'{path.name}' cannot be read as a ledger: {error}.") from None
    finally:
        if db is not None:
            db.close()


def leaves_in_file(path: Path) -> list[bytes]:
    """Leaf hashes of a ledger file's events, read-only, from the events' own bytes.

    Raises
    ------
    RecordBroken
        The file cannot be read as a ledger.
    """
    db = None
    try:
        db = sqlite3.connect(f"file:{_uri(path)}?mode=ro", uri=True, isolation_level=None)
        return [hashlib.sha256(b"\0" + raw).digest() for (raw,) in db.execute("SELECT entry FROM ledger ORDER BY seq")]
    except (sqlite3.Error, TypeError) as error:
        raise RecordBroken("ledger", f"'{path.name}' cannot be read as a ledger: {error}.") from None
    finally:
        if db is not None:
            db.close()


def verify_rows(db: sqlite3.Connection) -> str:
    """See ``Ledger.verify``; takes any connection that can read."""
    try:
        _verify_shape(db)
        seq, link = 0, NO_LINK
        jobs: dict[str, list[Entry]] = {}
        for row in db.execute("SELECT seq, job, no, id, entry, leaf, link FROM ledger ORDER BY seq"):
            seq += 1
            where = f"{str(row[1])[:60]}, event {row[2]}"
            raw = row[4] if isinstance(row[4], bytes) else b""
            if row[0] != seq:
                raise RecordBroken(f"row {seq}", f"Row {seq} of the ledger is missing; row {row[0]} ({where}) follows.")
            if hashlib.sha256(b"\0" + raw).digest() != row[5]:
                raise _broken_row(seq, where, raw, "its bytes do not give its leaf hash")
            link = hashlib.sha256(link + row[5]).digest()
            if link != row[6]:
                raise _broken_row(seq, where, raw, "its link does not follow from the row before it")
            try:
                entry = _read(raw)
            except RecordBroken:
                raise _broken_row(seq, where, raw, "its bytes are not an event") from None
            if (entry.job, entry.no, entry.id) != row[1:4]:
                raise _broken_row(seq, where, raw, f"its columns name another event than its bytes ({entry.job}, {entry.no})")
            jobs.setdefault(entry.job, []).append(entry)
        for job, entries in jobs.items():
            try:
                verify(document(entries))
            except RecordBroken as fault:
                raise RecordBroken(fault.field, f"Job {job[:60]}: {fault.message}") from None
        _verify_file(db)
    except sqlite3.DatabaseError as error:
        raise RecordBroken("ledger", f"The ledger file is damaged: {error}. Restore a verified backup.") from None
    return f"The ledger holds: {seq} events of {len(jobs)} jobs, chained to {link.hex()[:16]}; the file is sound."


def _verify_shape(db: sqlite3.Connection) -> None:
    made = dict(db.execute("SELECT name, sql FROM sqlite_master WHERE type IN ('table', 'trigger')"))
    if made.get("ledger") != TABLE:
        raise RecordBroken("ledger", "The ledger's table is not the one that was made. Restore a verified backup.")
    for name, text in GUARDS.items():
        if made.get(name) != text:
            raise RecordBroken("ledger", f"The ledger's guard '{name}' was taken off or changed. Find out who did it; "
                                         "restore a verified backup.")
    others = {row[0] for row in db.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")} - set(GUARDS)
    if others:
        raise RecordBroken("ledger", f"The ledger carries a trigger that was not made by it: {sorted(others)[0][:60]}.")


def _verify_file(db: sqlite3.Connection) -> None:
    said = [row[0] for row in db.execute("PRAGMA integrity_check(10)")]
    if said != ["ok"]:
        raise RecordBroken("ledger", f"The ledger file is damaged: {'; '.join(map(str, said))[:300]}.")
    if db.execute("PRAGMA foreign_key_check").fetchone():
        raise RecordBroken("ledger", "The ledger file refers to rows that are not there.")


def _broken_row(seq: int, where: str, raw: bytes, why: str) -> RecordBroken:
    from ..record.verify import kind_at

    kind = kind_at(raw.decode("utf-8", "replace"))
    return RecordBroken(f"row {seq}", f"Row {seq} of the ledger ({where}, {kind}) does not hold: {why}.")


def _read(raw: bytes) -> Entry:
    """An entry from its own bytes. A row that is no event any more is named by ``verify``."""
    try:
        return entry_of(json.loads(raw), bytes(raw))
    except (ValueError, KeyError, TypeError, RecursionError):
        raise RecordBroken("ledger", "A row of the ledger is not an event any more. Verify the ledger to see which.") from None


def _set_up(db: sqlite3.Connection, path: Path) -> None:
    for name, (value, due) in PRAGMAS.items():
        db.execute(f"PRAGMA {name}={value}").fetchone()
        found = db.execute(f"PRAGMA {name}").fetchone()
        if not found or found[0] != due:
            raise NotKept("data", f"The disk under '{path}' does not give {name}={value} (it says {found}). "
                                  "Keep the ledger on a local disk, not on a network share.")
    tables = db.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]
    if not tables:
        db.execute("BEGIN IMMEDIATE")
        if not db.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]:  # another process may have been quicker
            for text in (TABLE, *GUARDS.values()):
                db.execute(text)
            db.execute(f"PRAGMA application_id={APPLICATION_ID}")
            db.execute(f"PRAGMA user_version={VERSION}")
        db.execute("COMMIT")
    mark, version = (db.execute(f"PRAGMA {name}").fetchone()[0] for name in ("application_id", "user_version"))
    if mark != APPLICATION_ID:
        raise Unreadable("data", f"'{path}' is a database, but not a ledger. Name the shop's data folder.")
    if version > VERSION:
        raise Unreadable("data", f"The ledger '{path}' was written by a newer version (format {version}; this one knows "
                                 f"{VERSION}). Use the newer version.")
    _verify_shape(db)


def _is_damage(error: sqlite3.Error) -> bool:
    return getattr(error, "sqlite_errorname", "") in ("SQLITE_CORRUPT", "SQLITE_NOTADB")


def _uri(path: Path) -> str:
    from urllib.parse import quote

    return quote(os.fspath(path.resolve()))


def _sync_folder(folder: Path) -> None:
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)

