"""What does the signature of a hold point cover, and is it still what its signer was shown?

    film signed on 39 entries, an air reading comes in meanwhile  → the same fingerprint: the signature stands
    film signed, one of its readings corrected meanwhile          → another fingerprint: look again

Covered are the entries of the hold point (of its repair, and those that name none), part and lining, the procedure, which
stands in the job's first entry, what the engineer wrote and what was waived; and every correction and striking of one of these.
The fingerprint is SHA-256 over the digests of these entries, in their order, one a line.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from typing import Any

from .entry import Entry

# Hold point → the kinds it covers, and those that come after it.
COVERS = {
    "disposition": (("damage.outlined", "repair.merged", "repair.split"), ("layer.fused",)),
    "surface": (("surface.prepared", "surface.checked"), ("layer.fused",)),
    "film": (("film.measured",), ("holiday.tested",)),
    "holiday": (("holiday.tested",), ("release.signed",)),
}
OF_THE_PART = ("job.opened", "part.identified", "lining.identified", "escalation.decided", "fact.waived")
CHANGES = ("entry.corrected", "entry.voided")


def covered(entries: Iterable[Entry], point: str, repair: str | None = None) -> list[Entry]:
    """The entries that the signature of a hold point covers, in their order; ``repair``: the letter it is signed for."""
    found: list[Entry] = []
    ids: set[Any] = set()
    for entry in entries:
        body = entry.body if isinstance(entry.body, dict) else {}
        if entry.kind in CHANGES:
            mine = body.get("entry") in ids
        elif entry.kind in OF_THE_PART:
            mine = True
        else:
            mine = entry.kind in COVERS[point][0] and _speaks(entry.kind, body, repair)
        if mine:
            found.append(entry)
            ids.add(entry.id)
    return found


def fingerprint(entries: Sequence[Entry]) -> str:
    """SHA-256 over the digests of entries, in their order, one a line; 64 hex digits."""
    return hashlib.sha256("\n".join(entry.digest for entry in entries).encode()).hexdigest()


def _speaks(kind: str, body: dict[str, Any], repair: str | None) -> bool:
    """Whether an entry is of a repair, or names none. Every outline counts: where one repair ends, another may begin."""
    if repair is None or kind in COVERS["disposition"][0]:
        return True
    if kind == "film.measured":
        spots = body.get("spots")
        named = {spot.get("repair") or body.get("repair") for spot in spots if isinstance(spot, dict)} if isinstance(
            spots, list) else {body.get("repair")}
        return not named.isdisjoint({repair, None})
    return body.get("repair") in (repair, None)
