"""The ledger as one file on the shop's own disk.

    with SqliteLedger.open(folder) as ledger:      # makes folder and file when they are not there
        ledger.append("KBW-2031-014", events, now=now)
    check_file(backup / FILE)

WAL with synchronous=FULL, read back at opening: with NORMAL a power cut loses acknowledged rows.
"""

from __future__ import annotations

import hashlib
import os
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any, Self

from ..basis.errors import Conflict, RecordBroken, Unreadable
from ..basis.sentences import say
from .durable import sync_folder
from .ledger import FILE, Ledger, NotKept, told_by_guard
from .projections import PROJECTIONS, Asked, Projection
from .row_check import COLUMNS, check_rows
from .schema import APPLICATION_ID, BEFORE, GUARDS, PRAGMAS, TABLE, VERSION

_DAMAGED = (sqlite3.Error, UnicodeDecodeError)  # the second: what the file says of itself is no text


class SqliteLedger(Ledger):
    """The ledger of one shop in one file."""

    def __init__(self, connection: sqlite3.Connection, folder: Path, projections: Sequence[Projection]) -> None:
        super().__init__(folder, projections)
        self._db = connection

    @classmethod
    def open(
        cls, folder: Path, *, make: bool = True, projections: Sequence[Projection] = PROJECTIONS, wait_s: float = 20.0
    ) -> Self:
        """Open the ledger in ``folder``; make both when they are not there (unless ``make`` is False).

        Raises
        ------
        NotKept
            The disk does not give what the ledger needs (WAL, full sync), or cannot be written.
        RecordBroken
            The guards were removed, or the file is no longer a ledger.
        Unreadable
            Another program's database, or one written by a newer version.
        """
        path = Path(folder) / FILE
        if not make and not path.is_file():
            raise Unreadable("data", say("store.ledger_missing", folder=folder))
        try:
            made_folder = not Path(folder).exists()
            Path(folder).mkdir(parents=True, exist_ok=True)
            fresh = not path.exists()
            db = sqlite3.connect(path, timeout=wait_s, isolation_level=None)
        except (OSError, sqlite3.Error, ValueError) as error:
            raise NotKept("data", say("store.ledger_folder_not_opened", folder=folder, why=error)) from None
        try:
            _set_up(db, path)
            ledger = cls(db, Path(folder), projections)
            ledger._fill_projections()
        except _DAMAGED as error:
            db.close()
            if _is_damage(error):
                raise RecordBroken("ledger", say("store.ledger_damaged", path=path, why=error)) from None
            raise NotKept("data", say("store.ledger_not_opened", path=path, why=error)) from None
        except BaseException:
            db.close()
            raise
        if fresh or not ledger.size():  # nothing is acknowledged before the file's own name is on disk
            try:
                for above in (path.parent, path.absolute().parent.parent)[: 1 + made_folder]:
                    sync_folder(above)
            except OSError as error:
                db.close()
                raise NotKept("data", say("store.folder_not_synced", folder=folder, why=error.strerror)) from None
        return ledger

    def close(self) -> None:
        """Close the file. What was acknowledged is on disk already."""
        self._db.close()

    def verify(self) -> str:
        """See ``Ledger.verify``; the file's own structure is checked too."""
        return verify_rows(self._db)

    def kept(self) -> str:
        """Read back at opening, else it is refused."""
        return "the ledger writes with full sync (WAL)"

    def _copy_to(self, file: Path) -> None:
        copy = None
        try:
            copy = sqlite3.connect(file)
            self._db.backup(copy)
            copy.execute("PRAGMA journal_mode=DELETE")
        except sqlite3.Error as error:
            raise NotKept("backup", say("store.backup_not_made", why=error)) from None
        finally:
            if copy is not None:
                copy.close()
        check_file(file)

    @contextmanager
    def _writing(self) -> Iterator[Asked]:
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
        except sqlite3.IntegrityError as error:
            raise told_by_guard(str(error)) from None
        except sqlite3.Error as error:
            if getattr(error, "sqlite_errorname", "") in ("SQLITE_BUSY", "SQLITE_BUSY_SNAPSHOT", "SQLITE_LOCKED"):
                raise Conflict("ledger", say("store.ledger_busy")) from None
            self._stopped = say("store.disk_failed", why=str(error))
            raise NotKept("ledger", self._stopped) from None

    def _rows(self, what: str, where: str, values: tuple[Any, ...] = ()) -> Iterator[Any]:
        try:
            yield from self._db.execute(f"SELECT {what} FROM ledger WHERE {where}", values)
        except _DAMAGED as error:
            if _is_damage(error):
                raise RecordBroken("ledger", say("store.ledger_unreadable", why=error)) from None
            raise NotKept("ledger", say("store.disk_unreadable", why=error)) from None

    def _derived_rows(self, question: str) -> list[Any]:
        try:
            return self._db.execute(question).fetchall()
        except _DAMAGED as error:
            raise RecordBroken("derived", say("store.ledger_unreadable", why=error)) from None

    def _put(self, db: Asked, row: tuple[int, str, int, str, bytes, bytes, bytes]) -> None:
        db.execute("INSERT INTO ledger (seq, job, no, id, entry, leaf, link) VALUES (?, ?, ?, ?, ?, ?, ?)", row)

    def _lacking(self) -> list[Projection]:
        there = {row[0] for row in self._db.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
        return [one for one in self._projections if not set(one.tables) <= there]

    def _make(self, db: Asked, projection: Projection) -> None:
        for name, table in projection.tables.items():
            db.execute(table.as_file(name))


def check_file(path: Path) -> str:
    """Verify a ledger file read-only (a backup, a copy); the sentence of ``Ledger.verify``.

    Raises
    ------
    RecordBroken
        A row or the file itself does not hold.
    """
    try:
        with _reading(path) as db:
            return verify_rows(db)
    except _DAMAGED as error:
        raise _no_ledger(path, error) from None


def leaves_in_file(path: Path) -> list[bytes]:
    """Leaf hashes of a ledger file's events, read-only, from the events' own bytes.

    Raises
    ------
    RecordBroken
        The file cannot be read as a ledger.
    """
    try:
        return [hashlib.sha256(b"\0" + raw).digest() for raw in entries_in_file(path)]
    except TypeError as error:
        raise _no_ledger(path, error) from None


def entries_in_file(path: Path) -> Iterator[bytes]:
    """Every event's bytes of a ledger file, read-only, in the order of arrival: what ``Ledger.import_log`` takes.

    Raises
    ------
    RecordBroken
        The file cannot be read as a ledger.
    """
    try:
        with _reading(path) as db:
            for (raw,) in db.execute("SELECT entry FROM ledger ORDER BY seq"):
                yield raw
    except _DAMAGED as error:
        raise _no_ledger(path, error) from None


def verify_rows(db: sqlite3.Connection) -> str:
    """See ``Ledger.verify``; takes any connection that can read."""
    try:
        with _one_moment(db):
            _verify_shape(db)
            said = check_rows(lambda order: db.execute(f"SELECT {COLUMNS} FROM ledger ORDER BY {order}"))
            _verify_file(db)
    except _DAMAGED as error:
        raise RecordBroken("ledger", say("store.ledger_file_unreadable", why=error)) from None
    return f"{said}; the file is sound."


# ---------------------------------------------------------------------------- inside


@contextmanager
def _reading(path: Path) -> Iterator[sqlite3.Connection]:
    from urllib.parse import quote

    db = sqlite3.connect(f"file:{quote(os.fspath(path.resolve()))}?mode=ro", uri=True, isolation_level=None)
    try:
        yield db
    finally:
        db.close()


def _no_ledger(path: Path, error: Exception) -> RecordBroken:
    return RecordBroken("ledger", say("store.file_not_a_ledger", file=path.name, why=error))


def _guards(db: sqlite3.Connection) -> dict[str, str]:
    """The guards a file of its format must have."""
    version = db.execute("PRAGMA user_version").fetchone()[0]
    return {name: GUARDS[name] for name in BEFORE.get(version, tuple(GUARDS))}


def _verify_shape(db: sqlite3.Connection) -> None:
    made = dict(db.execute("SELECT name, sql FROM sqlite_master WHERE type IN ('table', 'trigger')"))
    if made.get("ledger") != TABLE:
        raise RecordBroken("ledger", say("store.table_changed"))
    guards = _guards(db)
    for name, text in guards.items():
        if made.get(name) != text:
            raise RecordBroken("ledger", say("store.guard_changed", guard=name))
    others = {row[0] for row in db.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")} - set(guards)
    if others:
        raise RecordBroken("ledger", say("store.trigger_foreign", trigger=sorted(others)[0][:60]))


def _verify_file(db: sqlite3.Connection) -> None:
    said = [row[0] for row in db.execute("PRAGMA integrity_check(10)")]
    if said != ["ok"]:
        raise RecordBroken("ledger", say("store.ledger_file_damaged", why='; '.join(map(str, said))[:300]))
    if db.execute("PRAGMA foreign_key_check").fetchone():
        raise RecordBroken("ledger", say("store.ledger_rows_missing"))


def _set_up(db: sqlite3.Connection, path: Path) -> None:
    db.execute("PRAGMA trusted_schema=OFF")  # until its tables and guards were held against ours, nothing of them runs
    for name, (value, due) in PRAGMAS.items():
        db.execute(f"PRAGMA {name}={value}").fetchone()
        found = db.execute(f"PRAGMA {name}").fetchone()
        if not found or found[0] != due:
            raise NotKept("data", say("store.disk_not_suited", path=path, setting=name, value=value, found=found))
    if not db.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]:
        with _alone(db):
            if not db.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]:  # another process may have been quicker
                for text in (TABLE, *GUARDS.values()):
                    db.execute(text)
                db.execute(f"PRAGMA application_id={APPLICATION_ID}")
                db.execute(f"PRAGMA user_version={VERSION}")
    mark, version = (db.execute(f"PRAGMA {name}").fetchone()[0] for name in ("application_id", "user_version"))
    if mark != APPLICATION_ID:
        raise Unreadable("data", say("store.not_a_ledger", path=path))
    if version > VERSION:
        raise Unreadable("data", say("store.ledger_format_newer", path=path, found=version, known=VERSION))
    _verify_shape(db)
    db.execute("PRAGMA trusted_schema=ON")  # the guard that keeps duties apart reads JSON
    if version < VERSION:
        _brought_up(db)


def _brought_up(db: sqlite3.Connection) -> None:
    """An older format gets the guards it came without; its rows stay as they are."""
    with _alone(db):
        held = _guards(db)  # another process may have been quicker
        for name, text in GUARDS.items():
            if name not in held:
                db.execute(text)
        db.execute(f"PRAGMA user_version={VERSION}")


@contextmanager
def _one_moment(db: sqlite3.Connection) -> Iterator[None]:
    """What is read meanwhile is of one moment, however much others write."""
    if db.in_transaction:
        yield
        return
    db.execute("BEGIN")
    try:
        yield
    finally:
        with suppress(sqlite3.Error):
            db.execute("ROLLBACK")  # it has only read


@contextmanager
def _alone(db: sqlite3.Connection) -> Iterator[None]:
    db.execute("BEGIN IMMEDIATE")
    try:
        yield
        db.execute("COMMIT")
    except BaseException:
        with suppress(sqlite3.Error):
            db.execute("ROLLBACK")
        raise


def _is_damage(error: Exception) -> bool:
    return (isinstance(error, UnicodeDecodeError) or "decode to UTF-8" in str(error)
            or getattr(error, "sqlite_errorname", "") in ("SQLITE_CORRUPT", "SQLITE_NOTADB"))
