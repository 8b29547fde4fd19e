"""The ledger kept in PostgreSQL, for shops that have one already or several machines that write at once.

    prepare(owner_url, "soundedge_app")                              # once, by the database's owner (postgres_schema.py)
    with PostgresLedger.new(url, folder) as ledger: ...              # a new shop's; ledger.tenant names it
    with PostgresLedger.open(url, folder, tenant=named) as ledger: ...

Each transaction that writes names its tenant, waits its turn for that tenant's ledger, and asks whether the server syncs; with
``synchronous_commit``, ``fsync`` or ``full_page_writes`` off nothing is written: a power cut would lose acknowledged rows.
"""

from __future__ import annotations

import secrets
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any, LiteralString, Self, cast

import psycopg
from psycopg.pq import TransactionStatus

from ..basis.errors import BenchError, Conflict, RecordBroken, Unreadable
from ..basis.sentences import say
from .connections import given_back, made, taken
from .ledger import Ledger, NotKept, told_by_guard
from .postgres_schema import TENANT, check_format, check_role, check_shape, prepare
from .projections import PROJECTIONS, Answered, Asked, Projection
from .row_check import COLUMNS, Row, check_rows
from .sqlite import SqliteLedger

__all__ = ["PostgresLedger", "prepare"]

SYNCED = ("fsync", "full_page_writes", "synchronous_commit")
_WAITED = (psycopg.errors.LockNotAvailable, psycopg.errors.SerializationFailure, psycopg.errors.DeadlockDetected,
           psycopg.errors.QueryCanceled)
_GUARDED = (psycopg.errors.RaiseException, psycopg.errors.IntegrityError)
_DAMAGED = (psycopg.errors.DataCorrupted, psycopg.errors.IndexCorrupted)


class PostgresLedger(Ledger):
    """The ledger of one shop among others in a PostgreSQL database."""

    def __init__(
        self, connection: psycopg.Connection[Any], folder: Path, projections: Sequence[Projection], tenant: str, wait_s: float
    ) -> None:
        super().__init__(folder, projections)
        self._db, self._wait_s, self.tenant = connection, wait_s, tenant
        self._url = ""

    @classmethod
    def open(
        cls, url: str, folder: Path, *, tenant: str, projections: Sequence[Projection] = PROJECTIONS, wait_s: float = 20.0
    ) -> Self:
        """Open the ledger of a tenant.

        Parameters
        ----------
        url : str
            Address of the database with the program's role.
        folder : Path
            The shop's data folder.
        tenant : str
            32 hex digits, from ``new``.

        Raises
        ------
        NotKept
            The database cannot be reached, or does not sync what it is given.
        Refused
            The role could change or take away what was written.
        RecordBroken
            Table or guards are not what they were made.
        Unreadable
            The database is not prepared, or does not hold this tenant.
        """
        ledger = cls._connected(url, folder, tenant, projections, wait_s)
        try:
            if not ledger._ask("SELECT 1 FROM soundedge.tenants WHERE tenant = %s", (tenant,)):
                raise Unreadable("data", say("store.database_of_another_ledger", folder=folder))
            ledger._fill_projections()
        except BaseException:
            ledger.close()
            raise
        return ledger

    @classmethod
    def new(cls, url: str, folder: Path, *, wait_s: float = 20.0) -> Self:
        """The empty ledger of a new shop; ``tenant`` is what its folder has to remember. Raises as ``open``."""
        ledger = cls._connected(url, folder, secrets.token_hex(16), (), wait_s)
        try:
            with ledger._writing() as db:
                db.execute("INSERT INTO soundedge.tenants VALUES (?, now())", (ledger.tenant,))
        except BaseException:
            ledger.close()
            raise
        return ledger

    @classmethod
    def _connected(cls, url: str, folder: Path, tenant: str, projections: Sequence[Projection], wait_s: float) -> Self:
        assert len(tenant) == 32 and not set(tenant) - set("0123456789abcdef"), tenant
        db = taken(url)
        if db is not None:
            try:
                _looked_at(db)
            except psycopg.OperationalError:  # closed by the server while it lay idle
                db = None
        if db is None:
            try:
                db = made(url)
            except (psycopg.Error, UnicodeError) as error:
                raise NotKept("database", say("store.database_not_reached", why=_line(error))) from None
            try:
                _looked_at(db)
            except psycopg.Error as error:
                raise NotKept("database", say("store.database_answers_wrong", why=_line(error))) from None
        ledger = cls(db, Path(folder), projections, tenant, wait_s)
        ledger._url = url
        return ledger

    def close(self) -> None:
        """Give the connection back. What was acknowledged is on disk already."""
        if self._url:
            given_back(self._url, self._db)
            self._url, self._db = "", cast(Any, None)  # it may be another's from now on

    def verify(self) -> str:
        """See ``Ledger.verify``; table, guards and row security are held against what was made."""
        try:
            with self._reading("ISOLATION LEVEL REPEATABLE READ READ ONLY") as db:
                check_shape(db)
                for way in ("indexscan", "indexonlyscan", "bitmapscan"):
                    db.execute(f"SET LOCAL enable_{way} = off")  # the rows themselves, not an index
                said = check_rows(lambda order: self._streamed(db, order))
        except psycopg.Error as error:
            raise _unread(error) from None
        return f"{said}; its table, guards and row security in the database are as they were made."

    def _streamed(self, db: psycopg.Connection[Any], order: str) -> Iterator[Row]:
        with db.cursor(f"by_{order[:3]}") as rows:
            rows.itersize = 1000
            rows.execute(f"SELECT {COLUMNS} FROM soundedge.ledger WHERE tenant = %s ORDER BY {order}", (self.tenant,))
            yield from rows

    def kept(self) -> str:
        """Read back at opening and in each transaction that writes, else it is refused."""
        how = ", ".join(f"{name} {value}" for name, value in zip(SYNCED, self._ask(_HOW)[0], strict=True))
        return f"the ledger is kept by PostgreSQL {self._db.info.server_version // 10000} with {how}"

    def _copy_to(self, file: Path) -> None:
        self.verify()
        with tempfile.TemporaryDirectory(prefix=".copy-", dir=file.parent) as place, SqliteLedger.open(Path(place)) as copy:
            copy.import_log(self.export_log())
            copy._copy_to(file)

    @contextmanager
    def _writing(self) -> Iterator[Asked]:
        if self._stopped:
            raise NotKept("ledger", self._stopped)
        db, asked = self._db, False
        try:
            db.execute("BEGIN ISOLATION LEVEL READ COMMITTED READ WRITE")
            try:
                db.execute(f"SELECT set_config('{TENANT}', %s, true), set_config('search_path', 'soundedge, pg_temp', true), "
                           "set_config('lock_timeout', %s, true)", (self.tenant, f"{int(self._wait_s * 1000)}ms"))
                _synced(db.execute(_HOW).fetchone())
                db.execute("SELECT pg_advisory_xact_lock(hashtextextended('soundedge ledger ' || %s, 0))", (self.tenant,))
                yield _Session(db)
                asked = True
                done = db.execute("COMMIT")
                assert done.statusmessage == "COMMIT", done.statusmessage
            except BaseException:
                with suppress(psycopg.Error):
                    if db.info.transaction_status != TransactionStatus.IDLE:
                        db.execute("ROLLBACK")
                raise
        except _WAITED:
            raise Conflict("ledger", say("store.ledger_busy")) from None
        except _GUARDED as error:
            raise told_by_guard(_line(error)) from None
        except psycopg.errors.DataError as error:
            raise Unreadable("entry", say("store.database_refuses_entry", why=_line(error))) from None
        except psycopg.Error as error:
            left = say("store.last_entry_unknown") if asked else say("store.last_entry_not_saved")
            self._stopped = say("store.database_failed", why=_line(error), left=left)
            raise NotKept("ledger", self._stopped) from None

    def _rows(self, what: str, where: str, values: tuple[Any, ...] = ()) -> Iterator[Any]:
        if any(isinstance(value, str) and "\0" in value for value in values):
            return iter(())  # no name in a record holds one, and the database takes none
        return iter(self._ask(f"SELECT {what} FROM soundedge.ledger WHERE tenant = %s AND {where.replace('?', '%s')}",
                              (self.tenant, *values)))

    def _put(self, db: Asked, row: tuple[int, str, int, str, bytes, bytes, bytes]) -> None:
        db.execute("INSERT INTO soundedge.ledger (tenant, seq, job, no, id, entry, leaf, link) VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
                   (self.tenant, *row))

    def _lacking(self) -> list[Projection]:
        filled = {name for (name,) in self._ask("SELECT name FROM soundedge.derived WHERE tenant = %s", (self.tenant,))}
        return [one for one in self._projections if one.name not in filled]

    def _make(self, db: Asked, projection: Projection) -> None:
        for name in projection.tables:
            if db.execute("SELECT to_regclass(?)", (f"soundedge.{name}",)).fetchone()[0] is None:
                raise NotKept("database", say("store.database_table_missing", table=name))
        db.execute("INSERT INTO soundedge.derived VALUES (?, ?)", (self.tenant, projection.name))

    # ------------------------------------------------------------------ inside

    def _ask(self, question: str, values: tuple[Any, ...] = ()) -> list[Any]:
        try:
            with self._reading("READ ONLY") as db:
                return db.execute(question, values).fetchall()
        except psycopg.Error as error:
            raise _unread(error) from None

    def _derived_rows(self, question: str) -> list[Any]:
        try:
            with self._reading("READ ONLY") as db:
                db.execute("SELECT set_config('search_path', 'soundedge, pg_temp', true)")
                return db.execute(question).fetchall()  # type: ignore[call-overload, no-any-return]
        except psycopg.Error as error:
            raise _unread(error) from None

    @contextmanager
    def _reading(self, how: str) -> Iterator[psycopg.Connection[Any]]:
        """A transaction that names its tenant; the one that writes, when it is open."""
        db = self._db
        if db.info.transaction_status == TransactionStatus.INTRANS:
            yield db
            return
        db.execute(f"BEGIN {how}; SELECT set_config('{TENANT}', '{self.tenant}', true)")
        try:
            yield db
        finally:
            with suppress(psycopg.Error):
                db.execute("ROLLBACK")  # it has only read


def _looked_at(db: psycopg.Connection[Any]) -> None:
    """Asked each time a ledger is opened: is it what was made, has this role only the rights it should, is it synced?"""
    try:
        check_format(db)
        check_shape(db)
        check_role(db, db.execute("SELECT current_user::text").fetchone()[0])  # type: ignore[index]
        _synced(db.execute(_HOW).fetchone())
    except BaseException:
        db.close()
        raise


class _Session:
    """The open transaction as a projection sees it: values stand as ``?``."""

    def __init__(self, db: psycopg.Connection[Any]) -> None:
        self._db = db

    def execute(self, question: str, values: tuple[Any, ...] = (), /) -> Answered:
        """Ask."""
        return self._db.execute(question.replace("?", "%s"), values)


_HOW: LiteralString = ("SELECT current_setting('fsync'), current_setting('full_page_writes'), "
                       "current_setting('synchronous_commit')")


def _synced(found: Any) -> None:
    for name, value in zip(SYNCED, found, strict=True):
        if value == "off":
            raise NotKept("database", say("store.database_setting_off", setting=name))


def _unread(error: psycopg.Error) -> BenchError:
    if isinstance(error, _DAMAGED):
        return RecordBroken("ledger", say("store.database_damaged", why=_line(error)))
    return NotKept("ledger", say("store.database_unreadable", why=_line(error)))


def _line(error: Exception) -> str:
    said = error.diag.message_primary if isinstance(error, psycopg.Error) else None
    return " ".join((said or str(error)).split())[:200].rstrip(".")
