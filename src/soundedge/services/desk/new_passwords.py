"""Which signatures were given within a day of a new password that somebody else had given the signer?

Whoever gives a new password has it first, and could sign with it before its owner comes. So a signature by a key that a new
password brought is marked on the job's page and the certificate while the key is less than a day old: the day begins with the
key, not with the word of the person who gave the password, as the one may come days after the other.

    signed_soon(ledger, data, entries)
    ["Tobias Falk signed the film 2 hours after a new password, asked for by Odile Brandt and confirmed by Ines Krug."]
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from ...basis.on_paper import counted
from ...record.entry import NOBODY_BEFORE, Entry
from ...record.rotation import SHOP
from ..cache import Cache
from .book import register_in

SOON = timedelta(days=1)
_fresh = Cache(40)


@dataclass(frozen=True)
class Fresh:
    """A key that a new password brought: since when, and whose word that was."""

    since: datetime
    person: str
    by: str
    asked_by: str


def signed_soon(ledger: Any, data: Path, entries: Sequence[Entry]) -> list[str]:
    """One sentence for each such signature of a job, in their order."""
    signed = [entry for entry in entries if entry.sig is not None]
    fresh = _keys(ledger, data) if signed else {}
    if not fresh:
        return []
    people = register_in(ledger, data).people
    out = []
    for entry in signed:
        key = fresh.get(entry.sig["key"]) if entry.sig else None
        after = datetime.fromisoformat(entry.at) - key.since if key else SOON
        if key is not None and after < SOON:
            name, by, asked = (people[one].name if one in people else one for one in (entry.by, key.by, key.asked_by))
            whose = (f"asked for by {asked} and confirmed by {by}" if asked else "given at the machine itself"
                     if key.by == key.person else f"given by {by} alone")
            hours = int(after.total_seconds() // 3600)
            late = counted(hours, "hour") if hours else "less than an hour"
            out.append(f"{name} signed {_what(entry)} {late} after a new password, {whose}.")
    return out


def _what(entry: Entry) -> str:
    return f"the {entry.body.get('hold_point') or entry.kind.split('.')[0]}".replace("_", " ")


def _keys(ledger: Any, data: Path) -> dict[str, Fresh]:
    """Each key that came with a new password, by its name."""
    head = ledger.head(SHOP)
    if head == NOBODY_BEFORE:
        return {}
    held = _fresh.get((str(data), head))
    if held is None:
        held, given = {}, {}
        for entry in ledger.record(SHOP).entries:
            if entry.kind in ("person.key_reset", "person.enabled"):
                given[entry.body.get("id")] = entry
            elif entry.kind == "person.key_given" and (word := given.pop(entry.body.get("id"), None)) is not None:
                held[entry.body.get("key")] = Fresh(datetime.fromisoformat(entry.at), str(word.body["id"]), word.by,
                                                    str(word.body.get("asked_by") or ""))
        _fresh.put((str(data), head), held)
    return held  # type: ignore[no-any-return]
