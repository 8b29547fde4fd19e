"""Where the shop's keys lie, and who may read them.

In one folder that is neither the data folder nor in any backup: ``SOUNDEDGE_KEYS``, else
``~/.config/soundedge/keys``. Files are 0600, the folder 0700; anything wider is refused. Several hosts can share one
(shared_keys.py): what is read here is then first brought from the others, and what is written is given to them.
"""

from __future__ import annotations

import os
import stat
from pathlib import Path

from ...basis.errors import Refused, Unreadable
from ...basis.sentences import say
from ...store.durable import move, write_durably
from .shared_keys import SECRET, bring, hand

PERSONS, CHECKPOINTS = "persons", "checkpoints"


def key_folder(folder: Path | str | None = None) -> Path:
    """The keys' folder: the one given, else ``SOUNDEDGE_KEYS``, else ``~/.config/soundedge/keys``; as new as any host has it.

    Raises
    ------
    NotKept, RecordBroken, Refused, Missing
        See ``shared_keys.bring``, where several hosts share it.
    """
    given = folder or os.environ.get("SOUNDEDGE_KEYS")
    return bring(Path(given) if given else Path(os.path.expanduser("~")) / ".config" / "soundedge" / "keys")


def apart(folder: Path, data: Path | None) -> None:
    """Refuse a keys' folder inside the data folder, or one that holds the data folder.

    Raises
    ------
    Refused
    """
    if data is None:
        return
    keys, kept = folder.resolve(), Path(data).resolve()
    if keys == kept or kept in keys.parents or keys in kept.parents:
        raise Refused("keys", say("evidence.keys_inside_data", keys=keys, data=kept))


def private(folder: Path) -> None:
    """Refuse keys that anybody but their owner may read or write.

    Raises
    ------
    Refused
        With the file, its mode and the command that mends it.
    """
    secret = [path for path in (folder / SECRET, folder.parent / SECRET) if path.is_file()]
    for path in (folder, *secret, *sorted(folder.glob("*.key*")), *sorted(folder.glob(f"{PERSONS}/*.key"))):
        try:
            about = os.stat(path)
        except OSError as error:
            raise Unreadable("keys", say("evidence.path_not_seen", path=path, why=error.strerror)) from None
        mode, wanted = stat.S_IMODE(about.st_mode), 0o700 if path == folder else 0o600
        if mode & 0o077:
            raise Refused("keys", say("evidence.keys_open_to_others", path=path, mode=mode, wanted=wanted))


def write_private(path: Path, content: bytes) -> None:
    """Write a file of mode 0600 so that either the whole of it is there or nothing; it is never wider, not for a moment.

    Raises
    ------
    Unreadable
        The folder does not take it.
    """
    hand(path, content)
    try:
        write_durably({path: content}, mode=0o600)
    except OSError as error:
        raise Unreadable("keys", say("evidence.path_not_written", path=path, why=error.strerror or error)) from None


def move_private(source: Path, target: Path) -> None:
    """Rename a file of the keys' folder, on every host that shares it."""
    content = source.read_bytes()
    hand(target, content)
    hand(source, None)
    move(source, target)


def make_key_folder(path: Path) -> None:
    """Make a folder that only its owner may open; nothing is done when it is there."""
    try:
        path.mkdir(mode=0o700, parents=True, exist_ok=True)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise Unreadable("keys", say("evidence.keys_folder_not_made", path=path, why=reason)) from None
