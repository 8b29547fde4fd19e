"""The tablet as a witness: what this device has seen of the ledger, and whether the bench still shows the same one.

A browser keeps the newest checkpoint it was shown. When it comes again it names that size, and the bench must prove by
RFC 6962 consistency that everything up to there still stands; a bench that cannot has lost or changed something.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from ...basis.errors import OutOfRange
from ...basis.sentences import say
from ...record.checkpoint import make_checkpoint
from ...record.tree import consistency, root
from ..evidence import keyring
from ..evidence.ledger_place import open_ledger
from .shop_place import shop_key_folder


def seen_since(data: Path, since: int) -> dict[str, Any]:
    """The ledger as it stands, with the proof that it continues what was seen.

    Parameters
    ----------
    since : int
        The size that the device has seen; 0 for none.

    Returns
    -------
    dict
        ``size``, ``root`` (hex), ``proof`` (list of hex: RFC 6962 consistency from ``since``), ``note`` (the signed
        checkpoint; empty without keys).

    Raises
    ------
    OutOfRange
        The device has seen more than there is: the ledger was rolled back.
    """
    with open_ledger(data, make=False) as ledger:
        leaves = ledger.leaves()
    if since > len(leaves):
        raise OutOfRange("since", say("desk.ledger_older", seen=since, held=len(leaves)))
    folder = shop_key_folder(data)
    note = ""
    if leaves and keyring.there(folder):
        keys = keyring.load(folder, data=data)
        note = make_checkpoint(keys.origin, leaves, keys.seed)
    proof = consistency(leaves, since) if 0 < since < len(leaves) else []
    return {"size": len(leaves), "root": root(leaves).hex(), "proof": [one.hex() for one in proof], "note": note}
