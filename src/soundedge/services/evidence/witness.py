"""Whether anybody outside has seen more than the ledger holds, or something else. Asked before anything is written.

Who keeps a checkpoint is a witness. The ladder, each rung by itself:

    paper      every certificate prints its square code: size and root (``soundedge witness --claim "SE1|…"``)
    the keys   the newest checkpoint these keys have signed lies beside them, outside the data folder
    a folder   a USB stick, another machine's share: ``soundedge witness FOLDER``
    a backup   carries the checkpoint of the moment it was made

The folders are remembered in the data folder's settings and beside the keys, so that an older copy of the data does
not make them forgotten. A folder that is not there just now (the stick is in the cabinet) is no alarm, only named.

A time stamp from outside (RFC 3161) is left out: it needs a network, and says only that something was there before.
"""

from __future__ import annotations

import fcntl
import json
import os
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from ...basis.errors import BenchError, Missing, NotEnough, RecordBroken, Unreadable
from ...basis.sentences import say
from ...basis.strict_json import loads
from ...record.checkpoint import Checkpoint, make_checkpoint, open_checkpoint, read_checkpoint
from ...record.claim import read_claim
from ...record.note import NoteKey
from ...record.tree import leaf_hash, root
from ...record.witness import Forked, RolledBack, compare
from ...store.durable import move
from ...store.ledger import Ledger
from ..files import read_bytes, read_text, write_whole
from . import key_files, keyring, person_keys, shared_keys, shop_chain
from .key_files import CHECKPOINTS
from .keyring import Keys
from .ledger_place import open_ledger, there

SETTINGS = "settings.json"
WITNESSES = "witnesses.txt"
FILES_MAX = 2000


@dataclass(frozen=True)
class Seen:
    """A checkpoint that is kept somewhere: who keeps it, in which file."""

    who: str
    file: Path
    point: Checkpoint


@dataclass(frozen=True)
class Standing:
    """How the ledger stands to everybody who has seen it.

    ``behind`` are folders that were remembered but are not there now; ``contradicted`` what the ledger does not
    continue and nobody has declared; ``restored`` what two people have declared.
    """

    size: int
    said: str
    seen: tuple[Seen, ...]
    away: tuple[str, ...]
    contradicted: tuple[Seen, ...] = ()
    restored: tuple[shop_chain.Restored, ...] = ()
    fault: RecordBroken | None = None


def guard(data: Path, *, folder: Path | None = None) -> Standing:
    """Hold the ledger against every checkpoint that can be found.

    Parameters
    ----------
    data : Path
        The shop's data folder; it need not be there yet.
    folder : Path, optional
        The keys' folder; see ``key_files.key_folder``.

    Raises
    ------
    RolledBack, Forked
        The ledger is smaller than a witness has seen it, or another one: with plain instructions. It is read-only until
        two people declare it.
    RecordBroken
        A checkpoint lies there that none of the shop's keys has signed.
    """
    found = standing(data, folder=folder)
    if found.fault is not None:
        beside_keys = any(seen.file.parent.name == CHECKPOINTS for seen in found.contradicted)
        raise type(found.fault)(found.fault.field, say(
            "evidence.contradicted", why=found.fault.message, read_only=say("evidence.read_only"),
            other_ledger=say("evidence.other_ledger") if beside_keys else ""))
    return found


def guard_ledger(data: Path, *, folder: Path | None = None) -> Standing:
    """``guard``, where there must be a ledger.

    Raises
    ------
    Unreadable
        There is none, and nobody has seen one.
    """
    found = guard(data, folder=folder)
    if not there(data):
        raise Unreadable("data", say("evidence.ledger_missing", data=data))
    return found


def standing(data: Path, *, folder: Path | None = None) -> Standing:
    """As ``guard``, but what does not fit is told, not raised.

    Raises
    ------
    RecordBroken
        A checkpoint that none of the shop's keys has signed; a damaged ledger.
    """
    where = key_files.key_folder(folder)
    folders = witness_folders(data, folder=where)
    outside = keyring.public_keys(where)
    if not folders and not outside:
        return Standing(0, "No witness has seen this ledger yet; nobody can tell whether it was written anew.", (), ())
    lying, away = _lying(folders, where)  # before the ledger: what others add and sign meanwhile is no contradiction
    leaves: list[bytes] = []
    restored: list[shop_chain.Restored] = []
    trusted = list(outside)
    if there(data):
        with open_ledger(data, make=False) as ledger:
            leaves = leaves_of(ledger)
            people = person_keys.person_keys(where)
            entries = shop_chain.chain(ledger, people)
            restored = shop_chain.restores(entries, people)
            trusted = shop_chain.trusted(entries, people, outside)
    if not trusted:
        raise NotEnough("keys", say("evidence.witness_keys_gone"))
    seen = [one for file, raw in lying if (one := _read(file, raw, trusted)) is not None]
    excused = {pair for one in restored for pair in one.contradicts}
    open_ones = [one for one in seen if (one.point.size, one.point.root.hex()) not in excused]
    fault, contradicted = None, []
    for one in open_ones:
        try:
            compare(leaves, [(one.who, one.point)])
        except (RolledBack, Forked) as wrong:
            contradicted.append(one)
            fault = fault or wrong
    said = compare(leaves, _once([one for one in open_ones if one not in contradicted])) if not fault else fault.message
    return Standing(len(leaves), said, tuple(open_ones), tuple(away), tuple(contradicted), tuple(restored), fault)


def leaves_of(ledger: Ledger) -> list[bytes]:
    """Leaf hashes from the events' own bytes, not from the column beside them."""
    return [leaf_hash(raw) for raw in ledger.export_log()]


def sign_checkpoint(ledger: Ledger, keys: Keys, *, data: Path) -> str:
    """Sign the ledger as it stands and keep that beside the keys, and with every witness that is there.

    ``guard`` has to be asked before: the keys never sign what contradicts what they have signed.
    """
    with _one_at_a_time(keys), shared_keys.alone(keys.folder, keys.origin):
        return sign_leaves(leaves_of(ledger), ledger, keys, data=data)


def sign_leaves(leaves: Sequence[bytes], ledger: Ledger, keys: Keys, *, data: Path) -> str:
    """As ``sign_checkpoint``, for the ledger as it stood with these leaves; where a larger one lies, that stays."""
    note = make_checkpoint(keys.origin, list(leaves), keys.seed)
    declared = _declared(ledger, keys)
    put(keys.folder / CHECKPOINTS, note, keys, declared=declared, make=True)
    for folder in witness_folders(data, folder=keys.folder):
        if folder.is_dir():
            try:
                put(folder, note, keys, declared=declared)
            except BenchError:
                continue  # a full or read-only stick does not hold up the job; doctor tells how old it is
    return note


@contextmanager
def _one_at_a_time(keys: Keys) -> Iterator[None]:
    """Held while the ledger is read and its checkpoint put down: by one process, and one thread, of the shop."""
    folder = keys.folder / CHECKPOINTS
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    handle = os.open(folder / ".signing", os.O_RDWR | os.O_CREAT, 0o600)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX)
        yield
    finally:
        os.close(handle)


def _declared(ledger: Ledger, keys: Keys) -> frozenset[tuple[int, str]]:
    """Size and root of every checkpoint that two people have declared void."""
    people = person_keys.person_keys(keys.folder)
    return frozenset(pair for one in shop_chain.restores(shop_chain.chain(ledger, people), people) for pair in one.contradicts)


def last_signed(folder: Path) -> str:
    """The checkpoint that these keys have signed last, as it lies beside them; empty when none does, or none that holds."""
    known = keyring.public_keys(folder)
    file = key_files.key_folder(folder) / CHECKPOINTS / f"{_slug(known[-1].name)}.checkpoint" if known else None
    if file is None or not file.is_file():
        return ""
    try:
        note = read_text(file, what="The checkpoint", field="keys")
        open_checkpoint(note, known)
    except BenchError:
        return ""
    return note


def witness(folder: Path, data: Path, *, keys: Keys, now: datetime) -> str:
    """Make ``folder`` a witness, or bring it up to date: compare with what lies there, then write the checkpoint.

    Returns
    -------
    str
        One sentence.

    Raises
    ------
    RolledBack, Forked, RecordBroken
        What lies there, or anywhere else, does not fit the ledger. Nothing was written.
    Unreadable
        The folder is not there, or lies in the data folder.
    """
    folder, kept = Path(folder).resolve(), Path(data).resolve()
    if not folder.is_dir():
        raise Unreadable("folder", say("evidence.stick_missing", folder=folder))
    if folder == kept or kept in folder.parents:
        raise Unreadable("folder", say("evidence.witness_inside_data", folder=folder))
    with open_ledger(data, make=False) as ledger:
        remember(data, keys.folder, folder)
        before = guard(data, folder=keys.folder)
        keys = shop_chain.enrol(ledger, keys, now=now)
        sign_checkpoint(ledger, keys, data=data)
        if not any(one.file.parent == folder for one in before.seen):
            return f"'{folder}' is a witness from now on: it has seen {ledger.size()} entries. Keep it away from this machine."
        return f"{before.said} '{folder}' has now seen {ledger.size()} entries."


def check_claim(text: str, data: Path, *, folder: Path | None = None) -> str:
    """Hold the ledger against the square code of a printed certificate.

    Raises
    ------
    RolledBack, Forked
        The ledger does not continue what the paper says.
    """
    with open_ledger(data, make=False) as ledger:
        people = person_keys.person_keys(folder)
        trusted = shop_chain.trusted(shop_chain.chain(ledger, people), people, keyring.public_keys(folder))
        claim = read_claim(text.strip(), trusted)
        leaves = leaves_of(ledger)
    who = f"certificate {claim.certificate}"
    if claim.size > len(leaves):
        raise RolledBack("ledger", say("evidence.ledger_behind_paper", n=len(leaves), certificate=claim.certificate,
                                       seen=claim.size,
                                       read_only=say("evidence.read_only")))
    if root(leaves[: claim.size])[: len(claim.root)] != claim.root:
        raise Forked("ledger", say("evidence.ledger_forked_from_paper", seen=claim.size, certificate=claim.certificate,
                                   read_only=say("evidence.read_only")))
    return f"Unchanged up to entry {claim.size} of {len(leaves)}, seen by {who} on paper."


def read_checkpoints(folder: Path, keys: Sequence[NoteKey]) -> list[Seen]:
    """Every checkpoint of these keys' logs in a folder, from ``*.checkpoint``, ``*.proof`` and ``*.tlog-proof``.

    Raises
    ------
    RecordBroken
        One of a log of that name which none of these keys has signed.
    """
    return [one for file, raw in _files(folder) if (one := _read(file, raw, keys)) is not None]


def _files(folder: Path) -> list[tuple[Path, bytes]]:
    files = [file for ending in ("checkpoint", "proof", "tlog-proof") for file in sorted(folder.glob(f"*.{ending}"))]
    return [(file, read_bytes(file, what="The checkpoint", field=str(file), size_max_bytes=6_000_000))
            for file in files[:FILES_MAX]]


def _read(file: Path, note: bytes, keys: Sequence[NoteKey]) -> Seen | None:
    """The checkpoint in a file; None when it is of another shop's log."""
    names = {key.name for key in keys}
    if file.suffix != ".checkpoint":
        note = note.partition(b"\n\n")[2]
    try:
        origin = read_checkpoint(note.decode("utf-8").partition("\n\n")[0] + "\n").origin
    except (BenchError, UnicodeDecodeError):
        raise RecordBroken("checkpoint", say("evidence.checkpoint_changed", file=file)) from None
    if origin not in names:
        if file.name in {f"{_slug(name)}.checkpoint" for name in names}:
            raise RecordBroken("checkpoint", say("evidence.checkpoint_of_another_log", file=file, origin=origin[:60]))
        return None  # another shop's
    try:
        point, _ = open_checkpoint(note, keys)
    except BenchError as fault:
        raise RecordBroken("checkpoint", say("evidence.checkpoint_broken", file=file, why=fault.message)) from None
    return Seen(_who(file.parent), file, point)


def put(folder: Path, note: str, keys: Keys, *, declared: frozenset[tuple[int, str]] = frozenset(), make: bool = False) -> Path:
    """Write a signed checkpoint, and the public keys, into a folder.

    A larger one that lies there stays, unless two people have ``declared`` that it does not count: then it is put aside.
    """
    if make:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    file = folder / f"{_slug(keys.origin)}.checkpoint"
    point = read_checkpoint(note.partition("\n\n")[0] + "\n")
    if file.exists():
        try:
            old = open_checkpoint(file.read_bytes(), keys.public)[0]
        except (BenchError, OSError):
            old = None
        if old is not None and old.size > point.size:
            if (old.size, old.root.hex()) not in declared:
                return file
            move(file, file.with_name(f"{file.name}.before-restore-{old.size}"))
    public = folder / f"{_slug(keys.origin)}.pub"
    for path, content in ((file, note.encode()), (public, ("\n".join(key.text for key in keys.public) + "\n").encode())):
        shared_keys.hand(path, content)
        write_whole(path, content)
    return file


# ---------------------------------------------------------------------------- settings


def settings(data: Path) -> dict[str, Any]:
    """What the data folder remembers beside the ledger; empty when there is nothing.

    Raises
    ------
    Unreadable
        The file is damaged.
    """
    try:
        raw = read_bytes(Path(data) / SETTINGS, what="The settings", field="data")
    except Missing:
        return {}
    try:
        held = loads(raw, what="The settings")
    except BenchError:
        held = None
    if not isinstance(held, dict):
        raise Unreadable("data", say("evidence.settings_damaged", file=Path(data) / SETTINGS))
    return held


def set_settings(data: Path, **values: Any) -> None:
    """Change some of the settings; the others stay."""
    write_whole(Path(data) / SETTINGS, (json.dumps(settings(data) | values, ensure_ascii=False, indent=1) + "\n").encode())


def remember(data: Path, keys_folder: Path, folder: Path) -> None:
    """Remember a witness in the data folder and beside the keys."""
    held = [str(one) for one in witness_folders(data, folder=keys_folder)]
    if not str(folder).isprintable():
        raise Unreadable("folder", say("evidence.folder_name_unprintable"))
    wanted = [*held, *([] if str(folder) in held else [str(folder)])]
    set_settings(data, witness_folders=wanted)
    beside = keys_folder / CHECKPOINTS
    beside.mkdir(mode=0o700, parents=True, exist_ok=True)
    key_files.write_private(beside / WITNESSES, ("\n".join(wanted) + "\n").encode())


def witness_folders(data: Path, *, folder: Path | None = None) -> list[Path]:
    """Every folder that was made a witness or took a backup."""
    named = settings(data).get("witness_folders")
    held = [str(name) for name in named] if isinstance(named, list) else []
    beside = key_files.key_folder(folder) / CHECKPOINTS / WITNESSES
    if beside.is_file():
        held += beside.read_text(encoding="utf-8").splitlines()
    return [Path(name) for name in dict.fromkeys(name for name in held if name.strip())]


# ---------------------------------------------------------------------------- inside


def _lying(folders: Sequence[Path], keys_folder: Path) -> tuple[list[tuple[Path, bytes]], list[str]]:
    """Every checkpoint file of those folders with its bytes, and the folders that are not there now."""
    lying, away = [], []
    for folder in (keys_folder / CHECKPOINTS, *folders):
        if folder.is_dir():
            lying += _files(folder)
        elif folder.name != CHECKPOINTS:
            away.append(str(folder))
    return lying, away


def _once(seen: Sequence[Seen]) -> list[tuple[str, Checkpoint]]:
    """One checkpoint of each keeper, the newest."""
    newest: dict[str, Checkpoint] = {}
    for one in seen:
        if one.who not in newest or newest[one.who].size < one.point.size:
            newest[one.who] = one.point
    return list(newest.items())


def _who(folder: Path) -> str:
    return "the keys' folder" if folder.name == CHECKPOINTS else f"'{folder}'"


def _slug(origin: str) -> str:
    return "".join(c if c.isalnum() or c in ".-" else "_" for c in origin)
