"""Reads a file from the bench's folder, so that a wrong one is named and nothing huge is read in."""

from __future__ import annotations

import os
import stat
from pathlib import Path

from ..basis.errors import Missing, Unreadable
from ..basis.sentences import say
from ..store.durable import write_durably

TEXT_MAX_BYTES = 4_000_000
PHOTO_MAX_BYTES = 40_000_000


def read_bytes(path: Path | str, *, what: str, field: str = "", size_max_bytes: int = TEXT_MAX_BYTES) -> bytes:
    """The bytes of a regular file of at most ``size_max_bytes``.

    Raises
    ------
    Missing
        No such file.
    Unreadable
        A folder, a device, no permission, or too large.
    """
    name = os.fspath(path)
    try:
        # O_NONBLOCK: a pipe put where a file belongs must not hang the bench.
        handle = os.open(name, os.O_RDONLY | os.O_NONBLOCK)
    except (FileNotFoundError, NotADirectoryError):
        raise Missing(field, say("folder.file_missing", what=what, file=name)) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise Unreadable(field, say("folder.file_not_opened", what=what, file=name[:200], why=reason)) from None
    try:
        about = os.fstat(handle)
        if not stat.S_ISREG(about.st_mode):
            raise Unreadable(field, say("folder.not_a_file", what=what, file=name))
        if about.st_size > size_max_bytes:
            raise Unreadable(field, say("folder.file_too_large", what=what, file=name, n=about.st_size, most=size_max_bytes))
        with os.fdopen(handle, "rb", closefd=False) as stream:
            return stream.read(size_max_bytes + 1)
    finally:
        os.close(handle)


def read_text(path: Path | str, *, what: str, field: str = "") -> str:
    """A text file as UTF-8 (a byte-order mark is dropped)."""
    raw = read_bytes(path, what=what, field=field)
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise Unreadable(field, say("folder.file_not_utf8", what=what, file=os.fspath(path), byte=error.start)) from None


def write_whole(path: Path, data: bytes) -> None:
    """Write a file so that either the whole of it is there or nothing: temporary name, sync, rename."""
    write_together({path: data})


def write_together(files: dict[Path, bytes]) -> None:
    """Write files that belong together: all are on the disk under temporary names before the first takes its place.

    Raises
    ------
    Unreadable
        One could not be written; what stood there before stands unchanged.
    """
    try:
        write_durably(files)
    except (OSError, ValueError) as error:
        path = getattr(error, "filename", None) or next(iter(files))
        reason = getattr(error, "strerror", None) or error
        raise Unreadable("out", say("folder.file_not_written", path=path, why=reason)) from None
