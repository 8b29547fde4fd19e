"""Files that several hosts share, in PostgreSQL beside the ledger: photos and pages by digest, and sealed ones by name.

    soundedge.files    a photo, page or instrument file under the SHA-256 of its bytes; added, never changed or taken away
    soundedge.shared   the keys' folder, file by file, sealed by the hosts before it comes here (evidence/shared_keys.py); the
                       newest of each name, numbered in the order of writing

    blobs = DatabaseBlobs(url, tenant)
    digest = blobs.put(photo_bytes)         # committed, and synced by the server, when this returns
    blobs.get(digest) == photo_bytes

The table itself refuses bytes that are not what their digest says. As with the ledger, rows belong to the tenant that a
transaction names, and the bench's role can neither change nor remove a file.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, LiteralString

import psycopg
from psycopg import sql

from ..basis.errors import RecordBroken, Unknown
from ..basis.sentences import say
from .blobs import Files, checked_digest, is_digest
from .connections import given_back, made, taken
from .ledger import NotKept

TENANT = "soundedge.tenant"
TABLES: dict[str, LiteralString] = {
    "files": "CREATE TABLE soundedge.files (tenant text NOT NULL, digest text NOT NULL, content bytea NOT NULL, "
             "PRIMARY KEY (tenant, digest), CONSTRAINT true_digest CHECK (digest = encode(sha256(content), 'hex')))",
    "shared": "CREATE TABLE soundedge.shared (tenant text NOT NULL, name text NOT NULL, revision bigint NOT NULL, "
              "sealed bytea NOT NULL, PRIMARY KEY (tenant, name), UNIQUE (tenant, revision))",
}
# Does the table still refuse bytes that are not what their digest says?
FILES_HELD: LiteralString = (
    "SELECT count(*) FROM pg_constraint WHERE conrelid = 'soundedge.files'::regclass AND conname = 'true_digest' "
    "AND convalidated AND pg_get_constraintdef(oid) = 'CHECK ((digest = encode(sha256(content), ''hex''::text)))'")
RIGHTS: dict[str, LiteralString] = {"files": "SELECT, INSERT", "shared": "SELECT, INSERT, UPDATE"}


def make_files(db: psycopg.Connection[Any], role: sql.Identifier) -> list[str]:
    """Make the two tables where they are not there, and give the bench's role its rights; which of them are now walled in."""
    new = [name for name in TABLES if db.execute("SELECT to_regclass(%s)", (f"soundedge.{name}",)).fetchone() == (None,)]
    for name in TABLES:
        if name in new:
            db.execute(TABLES[name])
        db.execute(sql.SQL("GRANT {} ON soundedge.{} TO {}").format(sql.SQL(RIGHTS[name]), sql.Identifier(name), role))
    if "files" in new:
        db.execute("ALTER TABLE soundedge.files ALTER content SET STORAGE EXTERNAL")  # a photo does not get smaller
    return new


class DatabaseBlobs(Files):
    """A shop's files by digest, in the database."""

    def __init__(self, url: str, tenant: str) -> None:
        self._url, self._tenant = url, tenant

    def put(self, data: bytes) -> str:
        """See ``Files.put``."""
        digest = hashlib.sha256(data).hexdigest()
        with asked(self._url, self._tenant, write=True) as db:
            db.execute("INSERT INTO soundedge.files VALUES (%s, %s, %b) ON CONFLICT DO NOTHING", (self._tenant, digest, data))
        return digest

    def get(self, digest: str) -> bytes:
        """See ``Files.get``."""
        checked_digest(digest)
        with asked(self._url, self._tenant) as db, db.cursor(binary=True) as rows:
            found = rows.execute("SELECT content FROM soundedge.files WHERE tenant = %s AND digest = %s",
                                 (self._tenant, digest)).fetchone()
        if found is None:
            raise Unknown("file", say("store.file_unknown", digest=digest[:16]))
        if hashlib.sha256(found[0]).hexdigest() != digest:
            raise RecordBroken("file", say("store.file_changed", digest=digest[:16]))
        return bytes(found[0])

    def has(self, digest: str) -> bool:
        """See ``Files.has``."""
        if not is_digest(digest):
            return False
        with asked(self._url, self._tenant) as db:
            return db.execute("SELECT 1 FROM soundedge.files WHERE tenant = %s AND digest = %s",
                              (self._tenant, digest)).fetchone() is not None

    def digests(self) -> Iterator[str]:
        """See ``Files.digests``."""
        with asked(self._url, self._tenant) as db:
            found = db.execute("SELECT digest FROM soundedge.files WHERE tenant = %s ORDER BY digest COLLATE \"C\"",
                               (self._tenant,)).fetchall()
        yield from (digest for (digest,) in found)


class SharedRows:
    """The sealed files of one installation by name; ``place`` is its tenant."""

    def __init__(self, url: str, place: str) -> None:
        self._url, self._place = url, place

    def newest(self) -> int:
        """Number of the newest writing; 0 before the first."""
        with asked(self._url, self._place) as db:
            return int(db.execute("SELECT coalesce(max(revision), 0) FROM soundedge.shared WHERE tenant = %s",
                                  (self._place,)).fetchone()[0])  # type: ignore[index]

    def since(self, revision: int) -> list[tuple[str, int, bytes]]:
        """Name, number and sealed bytes of what was written after ``revision``, in that order."""
        with asked(self._url, self._place) as db:
            found = db.execute("SELECT name, revision, sealed FROM soundedge.shared WHERE tenant = %s AND revision > %s "
                               "ORDER BY revision", (self._place, revision)).fetchall()
        return [(name, number, bytes(sealed)) for name, number, sealed in found]

    @contextmanager
    def writing(self) -> Iterator[SharedWriting]:
        """One transaction that alone writes this installation's files."""
        with asked(self._url, self._place, write=True) as db:
            db.execute("SELECT pg_advisory_xact_lock(hashtextextended('soundedge shared ' || %s, 0))", (self._place,))
            yield SharedWriting(db, self._place)

    @contextmanager
    def alone(self, what: str) -> Iterator[None]:
        """Held by one host, and one thread of it, at a time."""
        with asked(self._url, self._place, write=True) as db:
            db.execute("SELECT pg_advisory_xact_lock(hashtextextended('soundedge alone ' || %s, 0))",
                       (f"{self._place} {what}",))
            yield


class SharedWriting:
    """What ``SharedRows.writing`` gives."""

    def __init__(self, db: psycopg.Connection[Any], place: str) -> None:
        self._db, self._place = db, place
        self.newest: int = db.execute("SELECT coalesce(max(revision), 0) FROM soundedge.shared WHERE tenant = %s",
                                      (place,)).fetchone()[0]  # type: ignore[index]

    def put(self, name: str, revision: int, sealed: bytes) -> None:
        """Write one; ``revision`` is one more than the newest."""
        self._db.execute("INSERT INTO soundedge.shared VALUES (%s, %s, %s, %b) ON CONFLICT (tenant, name) "
                         "DO UPDATE SET revision = excluded.revision, sealed = excluded.sealed",
                         (self._place, name, revision, sealed))


@contextmanager
def asked(url: str, tenant: str, *, write: bool = False) -> Iterator[psycopg.Connection[Any]]:
    """A transaction of a tenant on a connection of its own, committed when it is left.

    Raises
    ------
    NotKept
        The database cannot be reached, is not prepared for files, or does not sync what it is given.
    """
    assert len(tenant) == 32 and not set(tenant) - set("0123456789abcdef"), tenant
    try:
        db = taken(url)
        if db is not None:
            try:
                _begin(db, tenant, write)
            except psycopg.OperationalError:  # closed by the server while it lay idle
                db = None
        if db is None:
            db = made(url)
            _begin(db, tenant, write)
        try:
            yield db
            done = db.execute("COMMIT")
            assert done.statusmessage == "COMMIT", done.statusmessage
        finally:
            given_back(url, db)  # closed there, unless the transaction is over
    except psycopg.errors.UndefinedTable:
        raise NotKept("database", say("store.database_table_missing", table="files")) from None
    except (psycopg.errors.DataCorrupted, psycopg.errors.IndexCorrupted) as error:
        raise RecordBroken("file", say("store.database_damaged", why=_line(error))) from None
    except (psycopg.Error, UnicodeError) as error:
        raise NotKept("file", say("store.file_not_in_database", why=_line(error))) from None


def _begin(db: psycopg.Connection[Any], tenant: str, write: bool) -> None:
    db.execute(f"BEGIN {'READ WRITE' if write else 'READ ONLY'}; "  # type: ignore[call-overload]
               f"SELECT set_config('{TENANT}', '{tenant}', true)")
    if write:
        for name, value in db.execute("SELECT name, setting FROM pg_settings WHERE name IN "
                                      "('fsync', 'full_page_writes', 'synchronous_commit')").fetchall():
            if value == "off":
                db.close()
                raise NotKept("database", say("store.database_setting_off", setting=name))


def _line(error: Exception) -> str:
    said = error.diag.message_primary if isinstance(error, psycopg.Error) else None
    return " ".join((said or str(error)).split())[:200].rstrip(".")
