"""From one host to several: how do the photos and keys of an installation come into the database that its ledgers lie in?

    soundedge database share --root ROOT       on the first host, once, when nobody works
    soundedge database shared --root ROOT      on any host: what is shared, and is it whole?

Every further host then needs the database's address, and ``host.secret`` in an empty keys' folder, nothing else: keys and shops
come from the database when the bench is opened there.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from ...basis.errors import Missing, NotEnough
from ...basis.on_paper import counted
from ...basis.sentences import say
from ...store.blobs import Blobs, Files
from ...store.durable import move
from .key_files import key_folder, private
from .ledger_place import MARKER, files_in_database, files_of, find_shops, mark_files
from .shared_keys import KEYS, SECRET, SHOPS, begin, shared_by

BLOBS, MOVED = "blobs", "blobs.moved"


def share(root: Path, *, keys: Path | None = None) -> str:
    """Bring keys, photos and pages of an installation into the database; what was in folders is kept beside.

    Parameters
    ----------
    root : Path
        The installation's folder.
    keys : Path, optional
        Its keys' folder; see ``key_files.key_folder``.

    Returns
    -------
    str
        What was done, and what the next host needs.

    Raises
    ------
    NotEnough
        The database is not named, or a shop's ledger lies in a file still. Nothing was changed.
    RecordBroken, NotKept
        A file does not hold, or did not arrive; do it again when that is mended.
    """
    shops = list(_shops(root))
    for data in shops:
        if not (data / MARKER).is_file():
            raise NotEnough("data", say("evidence.share_needs_database", data=data))
    where = key_folder(keys)
    if where.is_dir():
        private(where)
    shared, new = begin(where)
    brought = 0
    for data in shops:
        brought += _copied(Blobs(data / BLOBS), files_in_database(data))
        mark_files(data)  # from here on whoever asks gets them there
        shared.put(SHOPS + data.name, (data / MARKER).read_bytes())
        brought += _copied(Blobs(data / BLOBS), files_of(data))  # what somebody kept meanwhile
        if (data / BLOBS).is_dir():
            move(data / BLOBS, data / MOVED)
    secret, files = shared.base / SECRET, counted(brought, "file")
    if new:
        return say("evidence.shared_now", files=files, n=len(shops), secret=secret)
    return say("evidence.shared_again", files=files, n=len(shops), secret=secret)


def state(root: Path, *, keys: Path | None = None) -> str:
    """What the hosts of an installation share, each of it opened and checked.

    Raises
    ------
    Missing
        Nothing is shared.
    RecordBroken, NotKept
        A key or a file does not hold, or the database cannot be reached.
    """
    shared = shared_by(key_folder(keys))
    if shared is None:
        raise Missing("keys", say("evidence.nothing_shared"))
    find_shops(root)
    held = shared.all()
    files = 0
    for data in _shops(root):
        files_of(data).verify()
        files += sum(1 for _ in files_of(data).digests())
    return say("evidence.shared_state", keys=sum(name.startswith(KEYS) for name in held),
               n=sum(name.startswith(SHOPS) for name in held), files=files)


# ---------------------------------------------------------------------------- inside


def _shops(root: Path) -> Iterator[Path]:
    yield from sorted(folder for folder in (Path(root) / SHOPS).glob("*") if folder.is_dir())


def _copied(source: Blobs, target: Files) -> int:
    count = 0
    for digest in source.digests():
        if not target.has(digest):
            target.put(source.get(digest))
            count += 1
    return count
