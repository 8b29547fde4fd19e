"""Whether the shop's record is in good health: one sentence for each question, with what to do.

    saved       does the disk give what the ledger needs, and how long does a synced write take?
    verified    does every event and every file still say what it said, and what is derived from them?
    backed up   when was the last copy made, and does it hold?
    witnessed   who outside has seen how much, and how long ago?
    clock       does it run behind what was written down, or far ahead?
    keys        are they there, private, and outside the data?
"""

from __future__ import annotations

import os
import statistics
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from ...basis.errors import BenchError, Unreadable
from ...basis.sentences import say
from ...store.ledger import NotKept
from . import backup, key_files, keyring, person_keys, shop_chain
from .ledger_place import files_of, open_ledger, there
from .witness import settings, standing, witness_folders

BACKUP_DAYS, WITNESS_DAYS, CERTIFICATE_DAYS = 1, 1, 60
CLOCK_BACK_S, CLOCK_AHEAD = 2.0, timedelta(days=366)
SLOW_S = 0.2
NOT_A_DISK = ("tmpfs", "ramfs", "nfs", "nfs4", "cifs", "smb3", "9p", "fuse.sshfs")


@dataclass(frozen=True)
class Look:
    """One question, whether all is well, and one sentence."""

    name: str
    well: bool
    said: str


def examine(data: Path, *, now: datetime | None = None, folder: Path | None = None) -> list[Look]:
    """Look at everything; nothing is changed but one small file that is written, synced and deleted.

    Parameters
    ----------
    data : Path
        The shop's data folder.
    now : datetime, optional
        The clock if left out.
    folder : Path, optional
        The keys' folder; see ``key_files.key_folder``.

    Returns
    -------
    list of Look
        In the order above. A question that cannot be asked is not well, and says why.

    Raises
    ------
    Unreadable
        There is no ledger in the folder.
    """
    data, moment = Path(data), now or datetime.now(UTC)
    place = key_files.key_folder(folder)
    if not there(data):
        raise Unreadable("data", say("evidence.ledger_missing", data=data))
    looks: list[tuple[str, Callable[[], tuple[bool, str]]]] = [
        ("saved", lambda: _saved(data)),
        ("verified", lambda: _verified(data)),
        ("backed up", lambda: _backed_up(data, moment)),
        ("witnessed", lambda: _witnessed(data, place, moment)),
        ("clock", lambda: _clock(data, moment)),
        ("keys", lambda: _keys(data, place, moment)),
    ]
    return [_look(name, ask) for name, ask in looks]


def _look(name: str, ask: Callable[[], tuple[bool, str]]) -> Look:
    try:
        return Look(name, *ask())
    except BenchError as fault:
        return Look(name, False, fault.message)


def _saved(data: Path) -> tuple[bool, str]:
    with open_ledger(data, make=False) as ledger:  # full sync is read back there, else it is refused
        ways = ledger.kept()
    kind = filesystem(data)
    if kind in NOT_A_DISK:
        return False, f"The data folder lies on {kind}, which does not keep what is synced there. Move it to a local disk."
    took = statistics.median(_synced(data) for _ in range(9))
    how = f"{ways}, and a synced write takes {took * 1000:.2f} ms here"
    if took > SLOW_S:
        return False, f"Saved, but slowly: {how}. Look at the disk; it may be failing."
    return True, f"Saved: {how}. Whether the disk itself tells the truth about syncing, only pulling the plug can show."


def _synced(data: Path) -> float:
    file = data / f".doctor-{os.getpid()}.part"
    begun = time.perf_counter()
    try:
        with open(file, "wb") as stream:
            stream.write(bytes(4096))
            stream.flush()
            os.fsync(stream.fileno())
        return time.perf_counter() - begun
    except OSError as error:
        raise NotKept("data", say("evidence.disk_refuses", data=data, why=error.strerror or error)) from None
    finally:
        file.unlink(missing_ok=True)


def filesystem(path: Path, *, mounts: str | None = None) -> str:
    """The kind of file system a path lies on, from the system's mount table; empty when it cannot be told.

    >>> table = "/dev/sda1 / ext4 rw 0 0\\ntmpfs /run tmpfs rw 0 0\\n"
    >>> filesystem(Path("/run/shop"), mounts=table), filesystem(Path("/srv/shop"), mounts=table)
    ('tmpfs', 'ext4')
    """
    if mounts is None:
        try:
            mounts = Path("/proc/mounts").read_text(encoding="utf-8", errors="replace")
        except OSError:
            return ""
    where, best = path.resolve(), ("", "")
    for line in mounts.splitlines():
        parts = line.split(" ")
        if len(parts) > 2 and where.is_relative_to(parts[1].replace("\\040", " ")) and len(parts[1]) >= len(best[0]):
            best = (parts[1], parts[2])
    return best[1]


def _verified(data: Path) -> tuple[bool, str]:
    with open_ledger(data, make=False) as ledger:
        said = ledger.verify()
        ledger.check_derived()
    return True, f"{said} {files_of(data).verify()}"


def _backed_up(data: Path, now: datetime) -> tuple[bool, str]:
    last = settings(data).get("last_backup")
    if not isinstance(last, dict) or "folder" not in last:
        return False, "No backup was ever made. Make one on another disk: soundedge backup FOLDER."
    folder = Path(str(last["folder"]))
    with open_ledger(data, make=False) as ledger:
        since = max(0, ledger.size() - int(last["events"]))
    age = now - datetime.fromisoformat(str(last["made_at"]))
    if not folder.is_dir():
        late = age > timedelta(days=BACKUP_DAYS) and since > 0
        return not late, (f"The last backup is {_days(age)} old, on '{folder}', which is not there now and was not opened"
                          + ("; make a new one: soundedge backup FOLDER." if late else "."))
    copy = backup.check(folder)
    events = f"{since} entries were written since" if since > 0 else "nothing was written since"
    if age > timedelta(days=BACKUP_DAYS) and since > 0:
        return False, (f"The last backup is {_days(age)} old and {events}. Make a new one: soundedge backup '{folder}'.")
    return True, f"{copy.said} It is {_days(age)} old; {events}. Try it now and then: soundedge backup drill '{folder}'."


def _witnessed(data: Path, place: Path, now: datetime) -> tuple[bool, str]:
    found = standing(data, folder=place)
    if found.fault is not None:
        return False, found.said + " See: soundedge witness."
    outside = [one for one in found.seen if place not in one.file.parents]
    folders = witness_folders(data, folder=place)
    if not folders:
        return False, ("Nobody outside this machine has seen the ledger. Give it a witness on a stick or another machine: "
                       "soundedge witness FOLDER.")
    away = f" Not there now: {', '.join(found.away)}." if found.away else ""
    if not outside:
        return False, f"No witness is there now.{away} Plug one in and run: soundedge witness FOLDER."
    newest = max(outside, key=lambda one: one.point.size)
    with open_ledger(data, make=False) as ledger:
        since = ledger.size() - newest.point.size
    age = now - datetime.fromtimestamp(newest.file.stat().st_mtime, UTC)
    told = f"{found.said}{away}"
    if since > 0 and age > timedelta(days=WITNESS_DAYS):
        return False, f"{told} {since} entries are seen by nobody outside since {_days(age)}. Run: soundedge witness FOLDER."
    return True, told


def _clock(data: Path, now: datetime) -> tuple[bool, str]:
    with open_ledger(data, make=False) as ledger:
        behind = ledger.seconds_behind(now)
        last = datetime.fromtimestamp(ledger.seconds_behind(datetime.fromtimestamp(0, UTC)), UTC) if ledger.size() else now
    if behind > CLOCK_BACK_S:
        return False, (f"The clock stands {_span(behind)} before the last entry that was written down. Set it right before "
                       "going on; what is written meanwhile carries the later time.")
    newest = max((file.stat().st_mtime for file in data.iterdir() if file.is_file()), default=0.0)
    ahead = newest - now.timestamp()
    if ahead > 120:
        return False, f"A file in the data folder is {_span(ahead)} younger than the clock says it is now. Set the clock right."
    if now - last > CLOCK_AHEAD:
        return False, (f"The clock says {now:%Y-%m-%d}; the last entry was written down on {last:%Y-%m-%d}. If the shop "
                       "did not rest that long, the clock runs ahead: set it right.")
    return True, f"The clock says {now:%Y-%m-%d %H:%M} UTC, not before the last entry and not a year after it."


def _keys(data: Path, place: Path, now: datetime) -> tuple[bool, str]:
    inside = [file for file in sorted(data.rglob("*")) if "blobs" not in file.relative_to(data).parts and _is_key(file)]
    if inside:
        return False, (f"A private key lies in the data folder, '{inside[0]}': who copies the data has it. Move it out; make a "
                       "new one.")
    if not keyring.there(place):
        return False, (f"There are no keys in '{place}': certificates are not signed and no checkpoint is made. Make them: "
                       "soundedge key new NAME.")
    held = keyring.load(place, data=data)
    with open_ledger(data, make=False) as ledger:
        entries = shop_chain.chain(ledger, held.persons)
        counted = shop_chain.keys_of(entries, held.persons)
    if counted and counted[-1].key != held.key:
        return False, (f"The ledger counts the key {counted[-1].key.fingerprint}; in '{place}' lies {held.key.fingerprint}. "
                       "Bring the right one back: soundedge key from-paper; if it is lost: soundedge key rotate.")
    if held.signing is None:
        return False, f"There is no certificate key in '{place}'. Make it: soundedge key new {held.origin}."
    until = _valid_until(held.signing.certificate_pem)
    if until - now < timedelta(days=CERTIFICATE_DAYS):
        return False, f"The certificate's key ends on {until:%Y-%m-%d}. Move it away and make a new one: soundedge key new " \
                      f"{held.origin}."
    people = person_keys.persons(place)
    if len(people) < 2:
        return False, (f"{len(people)} people have a key; a new log key or a restore needs two. Give them one: soundedge key "
                       "new --person NAME.")
    return True, (f"Keys of {held.origin} in '{place}', private, outside the data; certificate's key good until "
                  f"{until:%Y-%m-%d}; {', '.join(people)} can confirm.")


def _valid_until(pem: bytes) -> datetime:
    from cryptography.x509 import load_pem_x509_certificate

    return load_pem_x509_certificate(pem).not_valid_after_utc


def _is_key(file: Path) -> bool:
    try:
        if not file.is_file():
            return False
        with open(file, "rb") as stream:
            head = stream.read(200)
    except OSError:
        return False
    return head.startswith(b"PRIVATE+KEY+") or (head.startswith(b"-----BEGIN") and b"PRIVATE KEY" in head)


def _days(age: timedelta) -> str:
    return _span(max(0.0, age.total_seconds()))


def _span(seconds: float) -> str:
    for size, word in ((86400, "day"), (3600, "hour"), (60, "minute")):
        if seconds >= size:
            number = int(seconds // size)
            return f"{number} {word}{'s' if number > 1 else ''}"
    return f"{int(seconds)} seconds" if int(seconds) != 1 else "1 second"
