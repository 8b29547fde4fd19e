"""Write a file so that it is there whole, and on the disk, when the call returns; or not at all.

Each file is written under a name of its own beside its place, synced, and renamed; then the folder is synced, because a
rename that is only in memory is gone after a power cut. Two who write the same file at once never share a temporary name.

    write_durably({Path("a.json"): b"{}", Path("a.pdf"): page})
"""

from __future__ import annotations

import errno
import os
import tempfile
from contextlib import suppress
from pathlib import Path

# What the person who started the program lets others read; asked once, as asking sets it.
_UMASK = os.umask(0o077)
os.umask(_UMASK)


def write_durably(files: dict[Path, bytes], *, mode: int = 0o666 & ~_UMASK) -> None:
    """Write files that belong together: all are on the disk under temporary names before the first takes its place.

    Parameters
    ----------
    mode : int
        Of each file; none is ever wider, not for a moment.

    Raises
    ------
    OSError
        One could not be written; what stood there before stands unchanged, and ``filename`` names the file.
    """
    written: dict[Path, Path] = {}
    try:
        for path, data in files.items():
            if path.is_dir():
                raise OSError(errno.EISDIR, "a folder of that name stands there", str(path))
            try:
                handle, name = tempfile.mkstemp(prefix=f".{path.name[:80]}.", suffix=".part", dir=path.parent)
                written[path] = Path(name)
                with os.fdopen(handle, "wb") as stream:
                    stream.write(data)
                    stream.flush()
                    os.fchmod(stream.fileno(), mode)
                    os.fsync(stream.fileno())
            except OSError as error:
                raise OSError(error.errno, error.strerror, str(path)) from None
        for path, temporary in written.items():
            move(temporary, path, sync=False)
        for folder in {path.parent for path in files}:
            sync_folder(folder)
    except (OSError, ValueError):
        for temporary in written.values():
            with suppress(OSError):
                temporary.unlink(missing_ok=True)
        raise


def move(source: Path, target: Path, *, sync: bool = True) -> None:
    """Rename a file over another, for good: the folder it stands in is on the disk before this returns."""
    os.replace(source, target)
    if sync:
        sync_folder(target.parent)


def sync_folder(folder: Path) -> None:
    """Bring a folder's own entries to the disk."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
