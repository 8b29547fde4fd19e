"""The keys' folder on several hosts: how does each get what another has written there?

    host.secret   in the keys' folder, 0600: which installation this is, and 256 random bits. Made by ``share`` on the first
                  host and carried by hand to every other; it is in no database and in no backup
    .shared       how far this host has read

With a ``host.secret`` the folder on each host is a copy. What is written is sealed with the secret (ChaCha20-Poly1305; the
file's name and number are sealed in), put into the database that ``SOUNDEDGE_DATABASE_URL`` names, and only then into the
folder; before anything is read, what is newer comes from there. Without one a keys' folder is what it always was.

    bring(folder)                        # whatever another host has written is in the folder now
    hand(folder / "log.key", content)    # the other hosts find it when they read next

What stays on its own host: ``host.secret``, the server's certificate (``tls/server.*``), names that begin with a dot.
"""

from __future__ import annotations

import base64
import binascii
import fcntl
import os
import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from ...basis.errors import Conflict, Missing, NotEnough, RecordBroken, Refused, Unreadable
from ...basis.sentences import say
from ...store.durable import write_durably
from ...store.ledger import NotKept

if TYPE_CHECKING:
    from ...store.postgres_files import SharedRows

SECRET, SEEN = "host.secret", ".shared"
URL = "SOUNDEDGE_DATABASE_URL"
KEYS, SHOPS = "keys/", "shops/"
_FORMAT = "soundedge-host-secret-1"


class Shared:
    """The shared files of one installation, sealed and opened on this host. ``base`` is its keys' folder."""

    def __init__(self, base: Path, place: str, secret: bytes, rows: SharedRows) -> None:
        self.base, self.place, self._secret, self.rows = base, place, secret, rows

    def put(self, name: str, content: bytes | None, *, new: bool = False) -> None:
        """Give a file to all hosts; None takes it away there.

        Parameters
        ----------
        new : bool
            Only when there is none of that name.

        Raises
        ------
        Conflict
            There is one.
        """
        with self.rows.writing() as writing:
            if new and name in self.all():
                raise Conflict("keys", say("evidence.shared_name_taken", name=name))
            writing.put(name, writing.newest + 1, self._sealed(name, writing.newest + 1, content))

    def all(self) -> dict[str, bytes]:
        """Every shared file by name."""
        opened = {name: content for name, _, content in self.since(0)}
        return {name: content for name, content in opened.items() if content is not None}

    def since(self, revision: int) -> list[tuple[str, int, bytes | None]]:
        """Name, number and content of what was written after ``revision``; None where it was taken away."""
        return [(name, number, self._opened(name, number, sealed)) for name, number, sealed in self.rows.since(revision)]

    def _sealed(self, name: str, revision: int, content: bytes | None) -> bytes:
        from cryptography.hazmat.primitives.ciphers.aead import ChaCha20Poly1305

        nonce = secrets.token_bytes(12)
        plain = b"\x00" if content is None else b"\x01" + content
        return nonce + ChaCha20Poly1305(self._secret).encrypt(nonce, plain, self._about(name, revision))

    def _opened(self, name: str, revision: int, sealed: bytes) -> bytes | None:
        from cryptography.exceptions import InvalidTag
        from cryptography.hazmat.primitives.ciphers.aead import ChaCha20Poly1305

        try:
            plain = ChaCha20Poly1305(self._secret).decrypt(sealed[:12], sealed[12:], self._about(name, revision))
        except (InvalidTag, ValueError):
            raise RecordBroken("keys", say("evidence.shared_not_opened", name=name, secret=self.base / SECRET)) from None
        return plain[1:] if plain[:1] == b"\x01" else None

    def _about(self, name: str, revision: int) -> bytes:
        return f"{_FORMAT}\n{self.place}\n{name}\n{revision}".encode()


def shared_by(folder: Path) -> Shared | None:
    """What this keys' folder, or one shop's folder in it, shares with other hosts; None when it is this host's alone.

    Raises
    ------
    Missing
        The database is not set.
    Refused, Unreadable
        Others may read the secret, or it is damaged.
    """
    base = next((one for one in (folder, folder.parent) if (one / SECRET).is_file()), None)
    if base is None:
        return None
    url = os.environ.get(URL, "").strip()
    if not url:
        raise Missing("database", say("evidence.shared_without_database", folder=base, url=URL))
    place, secret = _read_secret(base / SECRET)
    try:
        from ...store.postgres_files import SharedRows
    except ImportError:
        raise NotKept("database", say("evidence.postgres_part_missing")) from None
    return Shared(base, place, secret, SharedRows(url, place))


def bring(folder: Path) -> Path:
    """Bring what other hosts have written into the keys' folder; returns ``folder``. Nothing is done when it is not shared.

    Raises
    ------
    RecordBroken
        What lies in the database was not sealed with this secret, was changed, or is older than what this host has seen.
    Refused
        A folder that was never shared holds other keys.
    NotKept
        The database cannot be reached.
    """
    shared = shared_by(folder)
    if shared is not None and shared.rows.newest() != _seen(shared.base):
        with _alone(shared.base):
            _brought(shared)
    return folder


def hand(path: Path, content: bytes | None) -> None:
    """Give what is about to be written to ``path`` (None: taken away) to the other hosts, if its keys' folder is shared."""
    base = next((one for one in path.parents[:3] if (one / SECRET).is_file()), None)
    shared = shared_by(base) if base is not None else None
    if shared is None:
        return
    name = path.relative_to(shared.base).as_posix()
    if _for_all(name) and (content is None or not path.is_file() or path.read_bytes() != content):
        shared.put(KEYS + name, content)


@contextmanager
def alone(folder: Path, what: str) -> Iterator[None]:
    """Held by one host at a time, where the keys' folder is shared."""
    shared = shared_by(folder)
    if shared is None:
        yield
        return
    with shared.rows.alone(what):
        bring(folder)
        yield


def begin(folder: Path) -> tuple[Shared, bool]:
    """Share a keys' folder from now on: its secret is made, and each of its files given to the database.

    Returns
    -------
    tuple
        What is shared, and whether it is new.

    Raises
    ------
    NotEnough
        The database is not set, or there is nothing to share.
    """
    if not os.environ.get(URL, "").strip():
        raise NotEnough("database", say("evidence.database_missing", url=URL))
    found = shared_by(folder)
    if found is None:
        secret = base64.b64encode(secrets.token_bytes(32)).decode()
        text = f"{_FORMAT}\n{secrets.token_hex(16)}\n{secret}\n"
        try:
            folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            write_durably({folder / SECRET: text.encode(), folder / SEEN: b"0\n"}, mode=0o600)
        except OSError as error:
            why = error.strerror or error
            raise Unreadable("keys", say("evidence.path_not_written", path=folder / SECRET, why=why)) from None
    shared = shared_by(folder)
    assert shared is not None
    held = shared.all()
    for file in sorted(path for path in folder.rglob("*") if path.is_file()):
        name = file.relative_to(folder).as_posix()
        if _for_all(name) and KEYS + name not in held:
            shared.put(KEYS + name, file.read_bytes())
    bring(folder)
    return shared, found is None


# ---------------------------------------------------------------------------- inside


def _brought(shared: Shared) -> None:
    seen, newest = _seen(shared.base), shared.rows.newest()
    if newest < seen:
        raise RecordBroken("keys", say("evidence.shared_older", folder=shared.base, seen=seen, found=newest))
    if not (shared.base / SEEN).is_file():
        own = sorted(path.relative_to(shared.base).as_posix() for path in shared.base.rglob("*") if path.is_file())
        others = [name for name in own if _for_all(name)]
        if others:
            raise Refused("keys", say("evidence.shared_folder_not_empty", folder=shared.base, file=others[0]))
    for name, number, content in shared.since(seen):
        seen = max(seen, number)
        if not name.startswith(KEYS) or not _for_all(name.removeprefix(KEYS)):
            continue
        path = shared.base / name.removeprefix(KEYS)
        try:
            if content is None:
                path.unlink(missing_ok=True)
                continue
            path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            write_durably({path: content}, mode=0o600)
        except OSError as error:
            raise Unreadable("keys", say("evidence.path_not_written", path=path, why=error.strerror or error)) from None
    write_durably({shared.base / SEEN: f"{seen}\n".encode()}, mode=0o600)


def _for_all(name: str) -> bool:
    """Whether a file of the keys' folder goes to every host; ``name`` is its path in there."""
    parts = name.split("/")
    return (name != SECRET and len(parts) <= 3 and all(part and not part.startswith(".") for part in parts)
            and not (parts[0] == "tls" and parts[-1].startswith("server.")))


def _seen(base: Path) -> int:
    try:
        return int((base / SEEN).read_text(encoding="ascii"))
    except FileNotFoundError:
        return 0
    except (OSError, ValueError):
        raise Unreadable("keys", say("evidence.shared_seen_damaged", file=base / SEEN)) from None


def _read_secret(file: Path) -> tuple[str, bytes]:
    try:
        mode = file.stat().st_mode & 0o777
        if mode & 0o077:
            raise Refused("keys", say("evidence.keys_open_to_others", path=file, mode=mode, wanted=0o600))
        kind, place, text = file.read_text(encoding="ascii").split()
        secret = base64.b64decode(text, validate=True)
    except (OSError, ValueError, binascii.Error):
        kind, place, secret = "", "", b""
    if kind != _FORMAT or len(secret) != 32 or len(place) != 32 or set(place) - set("0123456789abcdef"):
        raise Unreadable("keys", say("evidence.shared_secret_damaged", file=file))
    return place, secret


@contextmanager
def _alone(base: Path) -> Iterator[None]:
    """One process, and one thread, of this host at a time: an older file never lands on a newer one."""
    handle = os.open(base / ".bringing", os.O_RDWR | os.O_CREAT, 0o600)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX)
        yield
    finally:
        os.close(handle)
