"""Where the shop's ledger lies: in a file of its data folder, or in PostgreSQL.

One setting decides it for a folder that holds no ledger yet: ``SOUNDEDGE_DATABASE_URL``.

    not set     the ledger is the file ``ledger.sqlite3`` in the data folder
    set         it is in that database; the folder holds ``ledger.postgres``, which names it there

A folder keeps the ledger it has. One that holds ``ledger.sqlite3`` stays with that file although the setting is there
(``soundedge database move`` takes it over); one that holds ``ledger.postgres`` is refused while the setting is not.
Pictures and pages lie in the data folder, unless several hosts share the keys' folder (shared_keys.py): then they lie in the
database too, the marker says so in its second line, and each host finds the marker of a shop that another has made.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from ...basis.errors import Conflict, NotEnough, RecordBroken, Unreadable
from ...basis.sentences import say
from ...store.blobs import Blobs, Files
from ...store.durable import sync_folder, write_durably
from ...store.ledger import FILE, Ledger, NotKept
from ...store.projections import PROJECTIONS, Projection
from ...store.sqlite import SqliteLedger, check_file, entries_in_file
from .key_files import key_folder
from .shared_keys import SHOPS, Shared, shared_by

if TYPE_CHECKING:
    from ...store.postgres import PostgresLedger

URL = "SOUNDEDGE_DATABASE_URL"
MARKER, FILES = "ledger.postgres", "files"


def database_url() -> str | None:
    """The address of the database from the setting, or None."""
    return os.environ.get(URL, "").strip() or None


def open_ledger(
    data: Path, *, make: bool = True, projections: Sequence[Projection] = PROJECTIONS, wait_s: float = 20.0,
) -> Ledger:
    """Open the ledger of a data folder; make it when it is not there (unless ``make`` is False).

    Parameters
    ----------
    data : Path
        The shop's data folder.
    wait_s : float
        Seconds to wait for others who write; then Conflict.

    Raises
    ------
    NotKept
        Disk or database do not give what the ledger needs, or cannot be reached.
    RecordBroken
        The guards were removed, or it is no longer a ledger.
    Unreadable
        There is none; it is another program's; or the setting does not fit what the folder holds.
    Refused
        The database's role could change or take away what was written.
    """
    data, url = Path(data), database_url()
    marked = _found(data)
    if marked and (data / FILE).is_file():
        raise Unreadable("data", say("evidence.two_ledgers", data=data, file=FILE, marker=MARKER))
    if not marked and (url is None or (data / FILE).is_file()):
        return SqliteLedger.open(data, make=make, projections=projections, wait_s=wait_s)
    if url is None:
        raise Unreadable("data", say("evidence.database_address_missing", data=data, url=URL))
    if not marked and not make:
        raise Unreadable("data", say("evidence.ledger_missing", data=data))
    return _in_database(data, url, projections, wait_s)


def there(data: Path) -> bool:
    """Does the data folder have a ledger, wherever it lies?"""
    return (Path(data) / FILE).is_file() or _found(Path(data))


def files_of(data: Path) -> Files:
    """Where the photos, pages and instrument files of a data folder lie: in it, or in the database that several hosts share.

    Raises
    ------
    Unreadable
        They lie in the database, and it is not named; or the marker is damaged.
    """
    data = Path(data)
    return files_in_database(data) if _found(data) and _marked(data)[1] else Blobs(data / "blobs")


def files_in_database(data: Path) -> Files:
    """The files of a shop whose ledger lies in the database, as they lie there; raises as ``files_of``."""
    url = database_url()
    if url is None:
        raise Unreadable("data", say("evidence.database_address_missing", data=data, url=URL))
    postgres_store()
    from ...store.postgres_files import DatabaseBlobs

    return DatabaseBlobs(url, _marked(data)[0])


def mark_files(data: Path) -> None:
    """From now on this shop's files lie in the database."""
    write_durably({data / MARKER: f"{_marked(data)[0]}\n{FILES}\n".encode()}, mode=0o600)


def place_for(data: Path, *, as_file: bool = False) -> Files:
    """As ``files_of``, for a folder that is to get a ledger (``bring_back``); where hosts share, it gets an empty one here."""
    if not as_file and _shared() is not None and database_url() is not None:
        open_ledger(data).close()
    return files_of(data)


def find_shops(root: Path) -> None:
    """Make the data folders of shops that another host has made; nothing is done where none is shared."""
    shared = _shared() if database_url() else None
    for name, marker in (shared.all() if shared else {}).items():
        if name.startswith(SHOPS):
            _put_here(Path(root) / name, marker)


def bring_back(file: Path, data: Path, *, as_file: bool = False) -> None:
    """A ledger file (a backup) into a data folder without a ledger: into the database when it is set, else as the file.

    Parameters
    ----------
    as_file : bool
        As a file all the same: for a place that is thrown away, since nothing is ever taken out of the database.

    Raises
    ------
    RecordBroken
        The file does not hold.
    OSError
        The disk did not take it.
    """
    if database_url() is not None and not as_file:
        with open_ledger(data) as ledger:
            ledger.import_log(entries_in_file(file))
        return
    part = data / f"{FILE}.part"
    shutil.copyfile(file, part)
    with open(part, "rb+") as stream:
        os.fsync(stream.fileno())
    part.replace(data / FILE)


def where(data: Path) -> str:
    """Where the ledger of a data folder lies; one sentence, the ledger opened and its state read.

    Raises
    ------
    BenchError
        As ``open_ledger``.
    """
    data = Path(data)
    with open_ledger(data, make=False) as ledger:
        at = (f"in the database that {URL} names" if (data / MARKER).is_file() else f"in the file '{data / FILE}'")
        idle = (f" {URL} is set and does not concern this folder; to take the ledger over: soundedge database move."
                if database_url() is not None and not (data / MARKER).is_file() else "")
        return f"The ledger of '{data}' lies {at}, with {ledger.size()} entries; {ledger.kept()}.{idle}"


def move(data: Path) -> str:
    """Take the ledger of a data folder over from its file into the database; the file stays, under another name.

    Returns
    -------
    str
        One sentence.

    Raises
    ------
    NotEnough
        The setting is not there.
    Unreadable
        The folder holds no ledger file.
    Conflict
        Somebody wrote to the file meanwhile. It still counts; move again when nobody works.
    """
    data, url = Path(data), database_url()
    if url is None:
        raise NotEnough("database", say("evidence.database_missing", url=URL))
    if not (data / FILE).is_file():
        raise Unreadable("data", say("evidence.ledger_file_missing", file=FILE, data=data))
    if (data / MARKER).is_file():
        raise Unreadable("data", say("evidence.ledger_already_in_database", data=data))
    with SqliteLedger.open(data, make=False) as old:
        old.verify()
        with _fresh(url) as new:
            count = new.import_log(old.export_log())
            said = new.verify()
            if new.link() != old.link():
                raise Conflict("data", say("evidence.ledger_changed_meanwhile", file=data / FILE))
            old.backup(data / f"{FILE}.moved")
        _mark(data, new.tenant)  # from here on a crash leaves both, and both are refused; never none
    _take_out(data)
    return f"Moved {count} entries into the database. {said} The file as it was is kept as {FILE}.moved."


# ---------------------------------------------------------------------------- inside


def _in_database(data: Path, url: str, projections: Sequence[Projection], wait_s: float) -> Ledger:
    opener = postgres_store()
    if not (data / MARKER).is_file():
        try:
            data.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise NotKept("data", say("evidence.data_folder_not_made", data=data, why=error.strerror)) from None
        with opener.new(url, data, wait_s=wait_s) as fresh:
            _mark(data, fresh.tenant)
    return opener.open(url, data, tenant=_marked(data)[0], projections=projections, wait_s=wait_s)


@contextmanager
def _fresh(url: str) -> Iterator[PostgresLedger]:
    with postgres_store().new(url, Path(), wait_s=20.0) as ledger:
        yield ledger


def postgres_store() -> type[PostgresLedger]:
    """What keeps a ledger in PostgreSQL; raises NotKept, with what to install, where it cannot be loaded."""
    try:
        from ...store.postgres import PostgresLedger
    except ImportError:
        raise NotKept("database", say("evidence.postgres_part_missing")) from None
    return PostgresLedger


def _found(data: Path) -> bool:
    """Is there a marker? One that another host has made is brought here."""
    if (data / MARKER).is_file():
        return True
    if f"{data.parent.name}/" != SHOPS or database_url() is None or (data / FILE).is_file():
        return False
    shared = _shared()
    marker = shared.all().get(SHOPS + data.name) if shared else None
    if marker is None:
        return False
    _put_here(data, marker)
    return True


def _shared() -> Shared | None:
    return shared_by(key_folder())


def _put_here(data: Path, marker: bytes) -> None:
    if not (data / MARKER).is_file():
        try:
            data.mkdir(mode=0o700, parents=True, exist_ok=True)
            write_durably({data / MARKER: marker}, mode=0o600)
        except OSError as error:
            raise NotKept("data", say("evidence.data_folder_not_made", data=data, why=error.strerror)) from None


def _marked(data: Path) -> tuple[str, bool]:
    """The shop's name in the database, and whether its files lie there too."""
    try:
        tenant, _, files = (data / MARKER).read_text(encoding="ascii").strip().partition("\n")
        if files not in ("", FILES):
            tenant = ""
    except (OSError, ValueError):
        tenant, files = "", ""
    if len(tenant) != 32 or set(tenant) - set("0123456789abcdef"):
        raise Unreadable("data", say("evidence.marker_damaged", file=data / MARKER))
    return tenant, bool(files)


def _mark(data: Path, tenant: str) -> None:
    """The marker, whole or not at all; who comes second leaves the first one's. Every host is told where hosts share."""
    shared = _shared()
    text = f"{tenant}\n{FILES}\n" if shared else f"{tenant}\n"
    if shared and f"{data.parent.name}/" == SHOPS:
        shared.put(SHOPS + data.name, text.encode(), new=True)
    part = data / f".{MARKER}.{tenant}.part"
    try:
        with open(part, "w", encoding="ascii") as stream:
            stream.write(text)
            stream.flush()
            os.fsync(stream.fileno())
        try:
            os.link(part, data / MARKER)
        except FileExistsError:
            pass
        sync_folder(data)
    except OSError as error:
        raise NotKept("data", say("evidence.marker_not_written", file=data / MARKER, why=error.strerror)) from None
    finally:
        part.unlink(missing_ok=True)


def _take_out(data: Path) -> None:
    """The moved file is kept as a verified copy; the old name must not stand beside the marker."""
    check_file(data / f"{FILE}.moved")
    for name in (FILE, f"{FILE}-wal", f"{FILE}-shm"):
        (data / name).unlink(missing_ok=True)
    if (data / FILE).exists():
        raise RecordBroken("data", say("evidence.ledger_not_moved_away", file=data / FILE))
