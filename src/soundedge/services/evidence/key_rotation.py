"""Changing a shop's log key: one person proposes it, another confirms it; the old one stays good for its time."""

from __future__ import annotations

import secrets
from collections.abc import Iterable
from datetime import datetime
from pathlib import Path

from ...record.keys import key_of
from ...record.rotation import keys_of
from .key_files import key_folder
from .keyring import NEXT, Keys, add_public, load, write_log_key
from .ledger_place import open_ledger
from .person_keys import two_people
from .shop_chain import chain, change_key, check_reason, enrol, put_next_in_place
from .witness import guard, sign_checkpoint


def rotate_keys(
    data: Path, who: Iterable[tuple[str, str]], because: str, *, now: datetime, keys: Path | str | None = None
) -> Keys:
    """Make a new log key for a data folder; its first checkpoint goes to every witness.

    The old private key is not needed: so a key that was lost with its paper is replaced too.

    Parameters
    ----------
    who : iterable of (name, passphrase)
        Two different people.
    because : str
        At least 10 characters.

    Raises
    ------
    RolledBack, Forked
        See ``witness.guard``; nothing was written.
    Refused
        Not two people, or a wrong passphrase. Nothing was written.
    NotEnough
        No reason.
    """
    held = load(key_folder(keys), data=data)
    with open_ledger(data, make=False) as ledger:
        guard(data, folder=held.folder)
        people = two_people(who, folder=held.folder)
        check_reason(because)
        counted = keys_of(chain(ledger, held.persons), held.persons)
        if not counted:
            enrol(ledger, held, now=now)
        old = counted[-1].key if counted else held.key
        add_public(held.folder, old, oldest=True)
        seed = secrets.token_bytes(32)
        write_log_key(held.folder, held.origin, seed, name=NEXT)
        change_key(ledger, people, old, key_of(held.origin, seed), because, now=now)
        fresh = put_next_in_place(held)
        sign_checkpoint(ledger, fresh, data=data)
    return fresh
