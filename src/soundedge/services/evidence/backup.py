"""Copies the shop's data so that the copy is good, and restores it so that nobody is misled by an old one.

    make(data, folder)       a copy while others work: ledger, files by digest, settings; opened and verified before "done"
    restore(folder, data)    into an empty place; verified; told how it stands to every witness
    drill(folder)            restore to a temporary place, verify, delete: how long would it take?
    declare(data, …)         two people say that an older ledger counts from now on
    export(data, folder)     everything a stranger needs to check the whole log

A backup never holds a key: only the ledger, the files by digest, and the settings are copied, by name. Before a backup
is written over an older one, the older one is held against the ledger like a witness.
"""

from __future__ import annotations

import hashlib
import json
import tempfile
import time
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from ...basis.errors import BenchError, Conflict, Missing, RecordBroken, Refused, Unreadable
from ...basis.on_paper import counted
from ...basis.sentences import say
from ...basis.strict_json import loads
from ...record.checkpoint import Checkpoint
from ...record.tree import root
from ...record.witness import compare
from ...store.blobs import Blobs, Files
from ...store.ledger import FILE, Ledger, NotKept
from ...store.sqlite import check_file, leaves_in_file
from ..files import read_bytes, write_whole
from . import key_files, keyring, shop_chain
from .keyring import Keys
from .ledger_place import bring_back, files_of, open_ledger, place_for
from .witness import SETTINGS, Standing, guard, leaves_of, put, remember, set_settings, sign_checkpoint, sign_leaves, standing

MANIFEST = "backup.json"
FORMAT = "soundedge-backup-1"
BLOBS = "blobs"


@dataclass(frozen=True)
class Copy:
    """A backup that was opened and verified."""

    folder: Path
    made_at: str
    events: int
    root: str
    files: int

    @property
    def said(self) -> str:
        """One sentence."""
        return f"Backup of {self.counts} in '{self.folder}', opened and verified."

    @property
    def counts(self) -> str:
        """How much was copied: 25 entries and 1 file."""
        return f"{counted(self.events, 'entry', 'entries')} and {counted(self.files, 'file')}"


def make(data: Path, folder: Path, *, now: datetime, keys: Keys | None = None) -> Copy:
    """Copy the data folder to ``folder`` and verify the copy; others may write meanwhile.

    Parameters
    ----------
    data : Path
        The shop's data folder.
    folder : Path
        Made when it is not there. A backup of the same ledger that is there is brought up to date.
    keys : Keys, optional
        With them the copy carries a signed checkpoint and counts as a witness. They are not copied.

    Raises
    ------
    RolledBack, Forked
        What lies there, or with any other witness, has seen another ledger. Nothing was written.
    Refused
        The folder lies in the data folder, or holds the keys.
    NotKept
        The disk did not take it.
    RecordBroken
        The ledger or a file does not hold; or the copy does not.
    """
    data, folder = Path(data), Path(folder)
    _apart(data, folder, keys)
    place = keys.folder if keys else None
    with open_ledger(data, make=False) as ledger:
        guard(data, folder=place)
        leaves = leaves_of(ledger)
        before = read_manifest(folder) if (folder / MANIFEST).exists() else None
        if before is not None:
            compare(leaves, [(f"the backup in '{folder}'", Checkpoint("", before.events, bytes.fromhex(before.root)))])
        try:
            folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        except (OSError, ValueError) as error:
            reason = getattr(error, "strerror", None) or error
            raise NotKept("folder", say("evidence.backup_disk_not_usable", folder=folder, why=reason)) from None
        if keys is not None:
            keys = shop_chain.enrol(ledger, keys, now=now)
            remember(data, keys.folder, folder.resolve())
        done = _copied(ledger, data, folder, now=now)
        shop_chain.write(ledger, "backup.made", {"events": done.events, "root": done.root, "files": done.files,
                                                 "folder": str(folder)[:200]}, now=now)
        # Once more, with the entry that says so: who restores this copy has all that anybody has signed, and may write at once.
        done = _copied(ledger, data, folder, now=now)
        if keys is not None:
            put(folder, sign_leaves(leaves_in_file(folder / FILE), ledger, keys, data=data), keys)
    set_settings(data, last_backup={"folder": str(folder.resolve()), "made_at": done.made_at, "events": done.events})
    return done


def _copied(ledger: Ledger, data: Path, folder: Path, *, now: datetime) -> Copy:
    """Ledger, files and settings copied as they stand, and the copy opened and verified."""
    ledger.backup(folder / FILE)
    # The files after the ledger: every file an event names was there before the event.
    digests = _copy_files(files_of(data), Blobs(folder / BLOBS))
    copied = leaves_in_file(folder / FILE)
    if (data / SETTINGS).exists():
        write_whole(folder / SETTINGS, read_bytes(data / SETTINGS, what="The settings", field="data"))
    body = {"format": FORMAT, "made_at": f"{now:%Y-%m-%dT%H:%M:%SZ}", "events": len(copied), "root": root(copied).hex(),
            "files": len(digests), "files_sha256": _digest_of(digests), "settings_sha256": _sha256(folder / SETTINGS)}
    write_whole(folder / MANIFEST, _manifest_text(body).encode())
    return check(folder)


def read_manifest(folder: Path) -> Copy:
    """What a backup says of itself; nothing is checked yet.

    Raises
    ------
    Missing, Unreadable
        There is no backup in the folder, or its manifest is damaged.
    """
    body = _manifest(folder)
    return Copy(Path(folder), str(body["made_at"]), body["events"], body["root"], body["files"])


def check(folder: Path) -> Copy:
    """Open a backup and verify all of it: every event, both chains, every file, against its own manifest.

    Raises
    ------
    RecordBroken
        What does not hold, by name. Use another backup.
    """
    folder = Path(folder)
    body = _manifest(folder)
    if not (folder / FILE).is_file():
        raise RecordBroken("backup", say("evidence.backup_ledger_missing", folder=folder))
    try:
        check_file(folder / FILE)
        leaves = leaves_in_file(folder / FILE)
    except RecordBroken as fault:
        raise RecordBroken("backup", say("evidence.backup_broken_use_another", folder=folder, why=fault.message)) from None
    if (len(leaves), root(leaves).hex()) != (body["events"], body["root"]):
        raise RecordBroken("backup", say("evidence.backup_entries_differ", folder=folder, n=len(leaves), events=body['events']))
    blobs = Blobs(folder / BLOBS)
    digests = sorted(blobs.digests())
    if (len(digests), _digest_of(digests)) != (body["files"], body["files_sha256"]):
        raise RecordBroken("backup", say("evidence.backup_files_differ", folder=folder, n=len(digests), files=body['files']))
    try:
        blobs.verify()
    except BenchError as fault:
        raise RecordBroken("backup", say("evidence.backup_broken", folder=folder, why=fault.message)) from None
    if _sha256(folder / SETTINGS) != body["settings_sha256"]:
        raise RecordBroken("backup", say("evidence.backup_settings_changed", folder=folder))
    return Copy(folder, str(body["made_at"]), body["events"], body["root"], body["files"])


def restore(folder: Path, data: Path, *, keys_folder: Path | None = None, as_file: bool = False) -> tuple[Copy, Standing]:
    """Restore a backup into an empty place, verify it there, and hold it against every witness.

    Where a database is set the events go into it, as a ledger of their own; what was there before stays there too.

    Parameters
    ----------
    as_file : bool
        Into a ledger file all the same.

    Returns
    -------
    tuple
        The copy, and how it stands: ``Standing.fault`` says when somebody has seen more. Then nothing can be written to it
        until two people have declared it.

    Raises
    ------
    Conflict
        The place is not empty.
    RecordBroken
        The backup does not hold; nothing was written.
    """
    folder, data = Path(folder), Path(data)
    if data.exists() and (not data.is_dir() or any(data.iterdir())):
        raise Conflict("data", say("evidence.restore_folder_not_empty", data=data))
    if keyring.there(keys_folder):
        key_files.apart(key_files.key_folder(keys_folder), data)
    copy = check(folder)
    _brought_back(folder, data, as_file=as_file)
    with open_ledger(data, make=False) as ledger:
        ledger.verify()
        if root(leaves_of(ledger)).hex() != copy.root:
            raise RecordBroken("data", say("evidence.restored_differs", data=data))
    files_of(data).verify()
    set_settings(data, last_backup={"folder": str(folder.resolve()), "made_at": copy.made_at, "events": copy.events})
    return copy, standing(data, folder=keys_folder)


def drill(folder: Path, *, at: Path | None = None) -> tuple[Copy, float]:
    """Restore to a temporary place, verify, delete; the copy and how many seconds it took.

    Parameters
    ----------
    at : Path, optional
        Where the temporary place is made; the system's own when left out.

    Raises
    ------
    RecordBroken
        The backup does not hold: it would not have saved you.
    NotKept
        There is no room for it.
    """
    begun = time.perf_counter()
    with tempfile.TemporaryDirectory(prefix="drill-", dir=at) as place:
        copy, _ = restore(folder, Path(place) / "data", as_file=True)
    return copy, time.perf_counter() - begun


def declare(data: Path, who: Iterable[tuple[str, str]], because: str, *, keys: Keys, now: datetime) -> str:
    """Two people declare that this ledger, which a witness contradicts, is the one that counts from now on.

    Raises
    ------
    Conflict
        Nobody contradicts it; there is nothing to declare.
    Refused, NotEnough
        Not two people, a wrong passphrase, no reason. Nothing was written.
    """
    found = standing(data, folder=keys.folder)
    if found.fault is None:
        raise Conflict("data", say("evidence.nothing_to_declare", said=found.said))
    with open_ledger(data, make=False) as ledger:
        ledger.verify()
        points = list({(one.point.size, one.point.root): (one.who, one.point) for one in found.contradicted}.values())
        done = shop_chain.declare_restored(ledger, keys, who, because, size=found.size, contradicted=points, now=now)
        guard(data, folder=keys.folder)
        sign_checkpoint(ledger, shop_chain.enrol(ledger, keys, now=now), data=data)
    return done.sentence


def export(data: Path, folder: Path, *, keys: Keys | None = None) -> str:
    """Write the whole log, every job's record, the checkpoint and the public keys: for somebody who checks all of it.

    Raises
    ------
    RecordBroken
        The ledger does not hold.
    Conflict
        The folder is not empty.
    """
    folder = Path(folder)
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise Conflict("folder", say("evidence.folder_not_empty", folder=folder))
    with open_ledger(data, make=False) as ledger:
        guard(data, folder=keys.folder if keys else None)
        said = ledger.verify()
        try:
            (folder / "records").mkdir(parents=True)
        except (OSError, ValueError) as error:
            raise NotKept("folder", say("evidence.backup_folder_not_made", folder=folder, why=error)) from None
        write_whole(folder / "log.jsonl", b"".join(raw + b"\n" for raw in ledger.export_log()))
        for number, job in enumerate(ledger.jobs(), 1):
            write_whole(folder / "records" / f"{number:05d}.record.json", ledger.record(job).raw)
        if keys is not None:
            put(folder, sign_checkpoint(ledger, keys, data=data), keys)
    return f"{said} Written to '{folder}'. Check it with: soundedge verify {folder / 'log.jsonl'} --witness FOLDER --key FILE"


# ---------------------------------------------------------------------------- inside


def _apart(data: Path, folder: Path, keys: Keys | None) -> None:
    to, kept = folder.resolve(), data.resolve()
    if to == kept or kept in to.parents or to in kept.parents:
        raise Refused("folder", say("evidence.backup_and_data_overlap", folder=folder, data=data))
    if keys is not None:
        key_files.apart(keys.folder, to)


def _copy_files(source: Files, target: Blobs) -> list[str]:
    digests = []
    for digest in source.digests():
        target.put(source.get(digest))
        digests.append(digest)
    extra = set(target.digests()) - set(digests)
    for digest in extra:  # files of an older state that are no longer kept; the manifest names exactly what there is
        (target.folder / digest[:2] / digest).unlink()
    return sorted(digests)


def _brought_back(folder: Path, data: Path, *, as_file: bool) -> None:
    try:
        data.mkdir(mode=0o700, parents=True, exist_ok=True)
        blobs, kept = place_for(data, as_file=as_file), Blobs(folder / BLOBS)
        for digest in kept.digests():
            blobs.put(kept.get(digest))
        if (folder / SETTINGS).exists():
            write_whole(data / SETTINGS, read_bytes(folder / SETTINGS, what="The settings", field="folder"))
        bring_back(folder / FILE, data, as_file=as_file)
    except OSError as error:
        raise NotKept("data", say("evidence.data_not_written", data=data, why=error.strerror or error)) from None


def _manifest(folder: Path) -> dict[str, Any]:
    try:
        raw = read_bytes(Path(folder) / MANIFEST, what="The backup", field="folder", size_max_bytes=10_000)
    except Missing:
        raise Missing("folder", say("evidence.backup_missing", folder=folder, manifest=MANIFEST)) from None
    try:
        body = loads(raw, what="The backup's manifest")
        sound = (body["format"] == FORMAT and isinstance(body["events"], int) and isinstance(body["files"], int)
                 and len(bytes.fromhex(body["root"])) == 32 and len(body["files_sha256"]) == 64
                 and raw.decode() == _manifest_text({key: body[key] for key in body if key != "check"}))
    except (BenchError, KeyError, TypeError, ValueError):
        sound = False
    if not sound:
        raise Unreadable("folder", say("evidence.manifest_damaged", file=Path(folder) / MANIFEST))
    return body


def _manifest_text(body: dict[str, Any]) -> str:
    """The manifest's one form, with a check over itself: not against forgers, against a bad stick."""
    check = hashlib.sha256(json.dumps(body, sort_keys=True).encode()).hexdigest()
    return json.dumps(body | {"check": check}, indent=1, sort_keys=True) + "\n"


def _digest_of(digests: Iterable[str]) -> str:
    return hashlib.sha256("\n".join(digests).encode()).hexdigest()


def _sha256(file: Path) -> str | None:
    return hashlib.sha256(file.read_bytes()).hexdigest() if file.exists() else None
