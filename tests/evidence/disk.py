"""A disk that can be watched, cut off and made to fail: SQLite's own file layer with four doors replaced.

The library that Python's ``sqlite3`` is linked to lets one register a file layer (VFS). This one is the
system's own, copied; opening a file swaps write, sync, truncate and close for doors that first count, note or
refuse, and then do the real thing. So the ledger runs unchanged, and for every single operation k it can be
asked: what if the power had gone here? what if this one had failed?

What is modelled of a power cut: a write that was not synced is lost, kept, or kept by random 512-byte sectors;
a file exists from its first sync on. What is not: the drive that lies about syncing, and a lost directory entry
of the database file itself (the ledger syncs the folder when it makes it).
"""

from __future__ import annotations

import ctypes
import random
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

_P, _I, _L = ctypes.c_void_p, ctypes.c_int, ctypes.c_int64
_OPEN = ctypes.CFUNCTYPE(_I, _P, _P, _P, _I, _P)
_DELETE = ctypes.CFUNCTYPE(_I, _P, _P, _I)
_CLOSE = ctypes.CFUNCTYPE(_I, _P)
_WRITE = ctypes.CFUNCTYPE(_I, _P, _P, _I, _L)
_TRUNCATE = ctypes.CFUNCTYPE(_I, _P, _L)
_SYNC = ctypes.CFUNCTYPE(_I, _P, _I)

IOERR_WRITE, IOERR_FSYNC, IOERR_TRUNCATE, FULL = 778, 1034, 1546, 13
SECTOR = 512


class _Vfs(ctypes.Structure):
    _fields_ = [("version", _I), ("os_file", _I), ("path_max", _I), ("next", _P), ("name", ctypes.c_char_p), ("data", _P),
                ("open", _OPEN), ("delete", _DELETE), *((f"rest{n}", _P) for n in range(14))]


class _Methods(ctypes.Structure):
    _fields_ = [("version", _I), ("close", _CLOSE), ("read", _P), ("write", _WRITE), ("truncate", _TRUNCATE), ("sync", _SYNC),
                *((f"rest{n}", _P) for n in range(13))]


@dataclass
class Disk:
    """What happened on the disk: (what, file, place, bytes), and which operation is to fail."""

    log: list[tuple] = field(default_factory=list)
    noting: bool = False
    fail_at: int = 0  # the k-th operation from now on fails; 0: none
    persistent: bool = False
    full: bool = False
    count: int = 0

    def acknowledged(self, n: int) -> None:
        self.log.append(("ack", "", n, b""))

    def refuses(self, code: int) -> int:
        """0, or the error code this operation is to return."""
        self.count += 1
        if self.fail_at and (self.count == self.fail_at or (self.persistent and self.count > self.fail_at)):
            return FULL if self.full and code == IOERR_WRITE else code
        return 0


def library() -> ctypes.CDLL | None:
    """The SQLite library of this Python, when its doors can be reached."""
    import _sqlite3

    try:
        found = ctypes.CDLL(_sqlite3.__file__)
        found.sqlite3_vfs_find.restype = ctypes.POINTER(_Vfs)
        return found
    except (OSError, AttributeError):
        return None


@contextmanager
def watched() -> Iterator[Disk]:
    """Every database opened inside goes through a watched disk."""
    lib = library()
    assert lib is not None
    real = lib.sqlite3_vfs_find(None).contents
    disk, names, patched, originals = Disk(), {}, {}, {}

    def note(what: str, file: int, place: int, data: bytes) -> None:
        if disk.noting and file in names:
            disk.log.append((what, names[file], place, data))

    def write(file, data, size, place):
        code = disk.refuses(IOERR_WRITE)
        if code:
            return code
        note("write", file, place, ctypes.string_at(data, size))
        return originals[file].write(file, data, size, place)

    def truncate(file, size):
        code = disk.refuses(IOERR_TRUNCATE)
        if code:
            return code
        note("truncate", file, size, b"")
        return originals[file].truncate(file, size)

    def sync(file, flags):
        code = disk.refuses(IOERR_FSYNC)
        if code:
            return code
        done = originals[file].sync(file, flags)
        note("sync", file, 0, b"")
        return done

    def close(file):
        original = originals.pop(file)
        names.pop(file, None)
        ctypes.cast(file, ctypes.POINTER(_P))[0] = ctypes.addressof(original)
        return original.close(file)

    doors = (_WRITE(write), _TRUNCATE(truncate), _SYNC(sync), _CLOSE(close))

    def open_(vfs, name, file, flags, out):
        code = real.open(ctypes.addressof(real), name, file, flags, out)
        methods = ctypes.cast(file, ctypes.POINTER(_P))
        if code == 0 and methods[0] and name:
            address = methods[0]
            if address not in patched:
                original = _Methods.from_address(address)
                own = _Methods.from_buffer_copy(original)
                own.write, own.truncate, own.sync, own.close = doors
                patched[address] = (original, own)
            original, own = patched[address]
            originals[file] = original
            names[file] = ctypes.string_at(name).decode()
            methods[0] = ctypes.addressof(own)
        return code

    def delete(vfs, name, sync_folder):
        if disk.noting:
            disk.log.append(("delete", ctypes.string_at(name).decode(), 0, b""))
        return real.delete(ctypes.addressof(real), name, sync_folder)

    own_vfs = _Vfs.from_buffer_copy(real)
    own_vfs.name, own_vfs.open, own_vfs.delete = b"watched", _OPEN(open_), _DELETE(delete)
    lib.sqlite3_vfs_register(ctypes.byref(own_vfs), 1)
    try:
        yield disk
    finally:
        lib.sqlite3_vfs_unregister(ctypes.byref(own_vfs))
        lib.sqlite3_vfs_register(ctypes.byref(real), 1)


class Image:
    """The files as they would be found after a power cut, grown operation by operation."""

    def __init__(self) -> None:
        self.durable: dict[str, bytes] = {}
        self.seen: dict[str, bytearray] = {}
        self.pending: dict[str, list[tuple[str, int, bytes]]] = {}

    def take(self, what: str, file: str, place: int, data: bytes) -> None:
        if what == "delete":
            self.durable.pop(file, None)
            self.seen.pop(file, None)
            self.pending.pop(file, None)
        elif what == "sync":
            self.durable[file] = bytes(self.seen.get(file, b""))
            self.pending[file] = []
        elif what in ("write", "truncate"):
            _do(self.seen.setdefault(file, bytearray()), what, place, data)
            self.pending.setdefault(file, []).append((what, place, data))

    def cut(self, folder: Path, how: str, dice: random.Random) -> None:
        """Lay the files down in ``folder``: of what was not synced nothing, everything, or random sectors survive."""
        for file in {*self.durable, *self.pending}:
            if file.endswith("-shm"):
                continue
            if file not in self.durable and how == "nothing":
                continue
            if file not in self.durable and how == "torn" and dice.random() < 0.5:
                continue
            content = bytearray(self.durable.get(file, b""))
            if how != "nothing":
                for what, place, data in self.pending.get(file, []):
                    if how == "everything":
                        _do(content, what, place, data)
                    elif what == "truncate":
                        if dice.random() < 0.5:
                            _do(content, what, place, data)
                    else:
                        for start in range(0, len(data), SECTOR):
                            if dice.random() < 0.5:
                                _do(content, what, place + start, data[start : start + SECTOR])
            (folder / Path(file).name).write_bytes(bytes(content))


def _do(content: bytearray, what: str, place: int, data: bytes) -> None:
    if what == "truncate":
        del content[place:]
    else:
        if len(content) < place:
            content.extend(bytes(place - len(content)))
        content[place : place + len(data)] = data
