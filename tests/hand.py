"""What somebody with all rights can do to a ledger by hand, in a file or in PostgreSQL, guards off and put back."""

import os
import shutil
import sqlite3
from pathlib import Path

from soundedge.services.evidence.ledger_place import MARKER, open_ledger
from soundedge.store.ledger import FILE
from soundedge.store.schema import GUARDS

COLUMNS = "seq, job, no, id, entry, leaf, link"


class unguarded:
    """The ledger's table without its guards, as its owner can have it; they are put back, so that it looks untouched.

    ``place`` is a data folder or a ledger's file. Values stand as ``?``; one shop's rows are seen, wherever it lies.
    """

    def __init__(self, place: Path):
        self.file = place if place.name.endswith("sqlite3") else place / FILE
        self.in_database = not self.file.exists() and (self.file.parent / MARKER).exists()

    def __enter__(self):
        if self.in_database:
            return self._enter_database()
        self.db = sqlite3.connect(self.file, isolation_level=None)
        self.db.execute("PRAGMA synchronous=OFF")
        self.guards = [name for (name,) in self.db.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")]
        for name in self.guards:
            self.db.execute(f"DROP TRIGGER {name}")
        return self.db

    def _enter_database(self):
        import psycopg

        from .postgres import OWNER_URL

        self.db = psycopg.connect(os.environ[OWNER_URL])
        tenant = (self.file.parent / MARKER).read_text().strip()
        self.db.execute("SELECT set_config('soundedge.tenant', %s, true)", (tenant,))
        self.db.execute("SET LOCAL search_path = soundedge")
        self.db.execute("ALTER TABLE ledger DISABLE TRIGGER USER")
        self.db.execute("ALTER TABLE ledger ALTER tenant SET DEFAULT current_setting('soundedge.tenant')")
        return self

    def execute(self, question, values=()):
        return self.db.execute(question.replace("?", "%s"), values)

    def __exit__(self, *raised):
        if not self.in_database:
            for name in self.guards:
                self.db.execute(GUARDS[name])
        elif raised[0] is None:
            from soundedge.store.postgres_schema import TRIGGERS

            self.db.execute("ALTER TABLE ledger ALTER tenant DROP DEFAULT")
            for name in TRIGGERS:
                self.db.execute(f"ALTER TABLE ledger ENABLE ALWAYS TRIGGER {name}")
            self.db.commit()
        self.db.close()


def written_anew(db, rows):
    """Every row (job, no, id, entry) again, with numbers, hashes and chain that hold by themselves."""
    import hashlib

    db.execute("DELETE FROM ledger")
    link, numbers = bytes(32), {}
    for seq, (job, _, name, raw) in enumerate(rows, 1):
        leaf = hashlib.sha256(b"\0" + raw).digest()
        link = hashlib.sha256(link + leaf).digest()
        numbers[job] = numbers.get(job, 0) + 1
        db.execute(f"INSERT INTO ledger ({COLUMNS}) VALUES (?, ?, ?, ?, ?, ?, ?)",
                   (seq, job, numbers[job], name, raw, leaf, link))


def reworded(place, no, old, new):
    """Other bytes in an event, everything beside them as it was."""
    with unguarded(place) as db:
        (raw,) = db.execute("SELECT entry FROM ledger WHERE no = ? ORDER BY seq LIMIT 1", (no,)).fetchone()
        assert old in bytes(raw)
        db.execute("UPDATE ledger SET entry = ? WHERE no = ?", (bytes(raw).replace(old, new), no))


def cut(place, rows):
    """The last rows, gone."""
    with unguarded(place) as db:
        db.execute("DELETE FROM ledger WHERE seq > (SELECT max(seq) FROM ledger) - ?", (rows,))


def prepared(*projections):
    """The database's owner makes the tables of more projections; in a file there is nothing to prepare."""
    from .postgres import APP, OWNER_URL

    if OWNER_URL in os.environ:
        from soundedge.store.postgres_schema import prepare

        prepare(os.environ[OWNER_URL], APP, projections=projections)


def copied(folder: Path, to: Path) -> Path:
    """A folder again, with all below it; each shop's data folder in the copy has a ledger of its own, in a database too."""
    to = Path(shutil.copytree(folder, to))
    for marker in to.rglob(MARKER):
        data = marker.parent
        marker.unlink()
        with open_ledger(folder / data.relative_to(to), make=False) as old, open_ledger(data) as new:
            new.import_log(old.export_log())
    return to
