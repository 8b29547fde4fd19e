"""Where pictures, pages and instrument files are kept, so that none is lost, swapped or overwritten.

By the SHA-256 of their bytes: ``blobs/ab/abcdef…``. A blob is written under a temporary name, synced,
renamed, and its folder synced, before any event may name it; it is never written again, and checked each
time it is read. Names that people give to files are never used as paths.

    digest = blobs.put(photo_bytes)
    blobs.get(digest) == photo_bytes

``Files`` is what each place for them can do: ``Blobs`` is a folder, postgres_files.py a database that several hosts share.
"""

from __future__ import annotations

import hashlib
import os
import re
import secrets
from abc import ABC, abstractmethod
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

from ..basis.errors import RecordBroken, Unknown, Unreadable
from ..basis.sentences import say
from .durable import move, sync_folder
from .ledger import NotKept

_DIGEST = re.compile(r"[0-9a-f]{64}\Z")


class Files(ABC):
    """The shop's files by digest, wherever they lie."""

    @abstractmethod
    def put(self, data: bytes) -> str:
        """Keep bytes; when this returns they are on disk.

        Returns
        -------
        str
            SHA-256, 64 hex digits. The same bytes give the same digest and are kept once.

        Raises
        ------
        NotKept
            The disk did not take them; nothing is left behind under the digest.
        """

    @abstractmethod
    def get(self, digest: str) -> bytes:
        """The bytes of a digest, checked.

        Raises
        ------
        Unknown
            Nothing is kept under that digest.
        RecordBroken
            What lies there is not what was put there.
        """

    @abstractmethod
    def has(self, digest: str) -> bool:
        """Whether something is kept under a digest; its bytes are checked when they are read."""

    @abstractmethod
    def digests(self) -> Iterator[str]:
        """Every digest that is kept."""

    def verify(self) -> str:
        """Read and check every file; one sentence, or RecordBroken naming the first that does not hold."""
        count = 0
        for digest in self.digests():
            self.get(digest)
            count += 1
        return f"All {count} files kept are what their digests say."


def is_digest(digest: object) -> bool:
    """Whether this is written as a SHA-256: 64 small hex digits."""
    return isinstance(digest, str) and bool(_DIGEST.match(digest))


def checked_digest(digest: str) -> str:
    """The digest, if it is written as one.

    Raises
    ------
    Unreadable
        It is not.
    """
    if not is_digest(digest):
        raise Unreadable("file", say("store.digest_form", digest=str(digest)[:40]))
    return digest


class Blobs(Files):
    """The shop's files by digest, under ``folder``."""

    def __init__(self, folder: Path) -> None:
        self.folder = Path(folder)

    def put(self, data: bytes) -> str:
        """See ``Files.put``."""
        digest = hashlib.sha256(data).hexdigest()
        path = self._path(digest)
        temporary = path.with_name(f".{digest}.{secrets.token_hex(8)}.part")
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            if self._sound(path, digest):
                with open(path, "rb") as stream:  # it may be there from a moment before a crash, and not on disk yet
                    os.fsync(stream.fileno())
            else:
                with open(temporary, "wb") as stream:
                    stream.write(data)
                    stream.flush()
                    os.fsync(stream.fileno())
                os.chmod(temporary, 0o440)
                move(temporary, path, sync=False)
            for folder in (path.parent, self.folder, self.folder.parent):
                sync_folder(folder)
        except OSError as error:
            with suppress(OSError):
                temporary.unlink()
            reason = error.strerror or error
            raise NotKept("file", say("store.file_not_kept", why=reason)) from None
        return digest

    def get(self, digest: str) -> bytes:
        """See ``Files.get``."""
        path = self._path(digest)
        try:
            data = path.read_bytes()
        except FileNotFoundError:
            raise Unknown("file", say("store.file_unknown", digest=digest[:16])) from None
        except OSError as error:
            raise RecordBroken("file", say("store.file_unreadable", digest=digest[:16], why=error.strerror or error)) from None
        if hashlib.sha256(data).hexdigest() != digest:
            raise RecordBroken("file", say("store.file_changed", digest=digest[:16]))
        return data

    def has(self, digest: str) -> bool:
        """See ``Files.has``."""
        return is_digest(digest) and self._path(digest).is_file()

    def digests(self) -> Iterator[str]:
        """See ``Files.digests``."""
        for path in sorted(self.folder.glob("[0-9a-f][0-9a-f]/*")):
            if _DIGEST.match(path.name):
                yield path.name

    def _path(self, digest: str) -> Path:
        return self.folder / checked_digest(digest)[:2] / digest

    def _sound(self, path: Path, digest: str) -> bool:
        try:
            return hashlib.sha256(path.read_bytes()).hexdigest() == digest
        except OSError:
            return False
