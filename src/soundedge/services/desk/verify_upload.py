"""Does a file that somebody brings to the bench hold, and does it still count? As ``soundedge verify``, with this shop's own
keys and ledger at hand: a page of a job that was changed after its release is whole, but it does not count any more.

Nothing of the file is kept.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

from ..evidence import keyring, person_keys
from ..evidence.check_document import Given, given
from ..evidence.verify import verify_bytes
from .shop_place import shop_key_folder

SHOWN = ("verdict", "job", "certificate", "events", "head", "record_sha256")


def check_bytes(data: Path, raw: bytes, name: str) -> dict[str, Any]:
    """The sentence and what it speaks of.

    Returns
    -------
    dict
        As ``verify_file``, with ``shown``: pairs for a page.

    Raises
    ------
    RecordBroken, Unreadable
        As ``verify_file``; the message names the file as the person called it.
    """
    said = verify_bytes(raw.strip() if raw[:4] == b"SE1|" else raw, name[:120], at_hand=_at_hand(data))
    return said | {"shown": [(key, said[key]) for key in SHOWN if said.get(key) not in (None, "")]}


def _at_hand(data: Path) -> Given:
    """The public keys of this shop and of its people, and its ledger."""
    folder = shop_key_folder(data)
    if not keyring.there(folder):
        return replace(given(), data=data)
    certificates = [file.read_bytes() for file in sorted(folder.glob("certificate*.pem"))]
    return Given(tuple(keyring.public_keys(folder)), tuple(certificates), False, None, None,
                 tuple(person_keys.persons(folder).values()), data)
