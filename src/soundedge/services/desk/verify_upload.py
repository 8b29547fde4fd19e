"""Does a file that somebody brings to the bench hold, and does it still count? As ``soundedge verify``, with this shop's own
keys and ledger at hand: a page of a job that was changed after its release is whole, but it does not count any more.

The file is written to a private temporary place for the check and removed at once; nothing of it is kept.
"""

from __future__ import annotations

import tempfile
from dataclasses import replace
from pathlib import Path
from typing import Any

from ..evidence import keyring, person_keys
from ..evidence.check_document import Given, given
from ..evidence.verify import verify_file, write_page
from .shop_place import keys_of

_ENDINGS = (".pdf", ".json", ".jsonl")
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
    if raw[:4] == b"SE1|":
        said = verify_file(raw.decode("utf-8", "replace").strip(), at_hand=_at_hand(data))
    else:
        ending = next((one for one in _ENDINGS if name.casefold().endswith(one)), ".bin")
        with tempfile.TemporaryDirectory(prefix="soundedge-verify-") as folder:
            file = Path(folder) / f"file{ending}"
            file.write_bytes(raw)
            try:
                said = verify_file(file, at_hand=_at_hand(data))
            except Exception as fault:
                if hasattr(fault, "message"):
                    fault.message = fault.message.replace(str(file), name[:80])
                raise
    said["file"] = name[:120]
    return said | {"shown": [(key, said[key]) for key in SHOWN if said.get(key) not in (None, "")]}


def verify_page() -> bytes:
    """The one-file page for strangers."""
    with tempfile.TemporaryDirectory(prefix="soundedge-verify-") as folder:
        file = Path(folder) / "verify.html"
        write_page(file)
        return file.read_bytes()


def _at_hand(data: Path) -> Given:
    """The public keys of this shop and of its people, and its ledger."""
    folder = keys_of(data)
    if not keyring.there(folder):
        return replace(given(), data=data)
    certificates = [file.read_bytes() for file in sorted(folder.glob("certificate*.pem"))]
    return Given(tuple(keyring.public_keys(folder)), tuple(certificates), False, None, None,
                 tuple(person_keys.persons(folder).values()), data)
