"""Which key of the log counts, and who says so? Two people do, never one.

A new key is an entry in the shop's own chain (its job is called ``shop``):

    key.created            {"key": "name+id+base64"}                                      the first one
    key.rotation_proposed  {"old": …, "new": …, "because": "…"}                           signed by one person
    key.rotated            {"proposal": id, "proposal_digest": …, "old": …, "new": …}     signed by another

The old key stays good for the checkpoints it signed; the new one counts from the ``key.rotated`` entry on.
A key that a single person changed does not count.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from ..basis.errors import BenchError, RecordBroken
from ..basis.sentences import say
from .entry import Entry
from .note import NoteKey, read_key

SHOP = "shop"
REASON_MIN = 10


@dataclass(frozen=True)
class KeyFrom:
    """A key of the log and the entry of the shop's chain from which it counts."""

    key: NoteKey
    no: int
    by: tuple[str, ...]


def keys_of(entries: Iterable[Entry], persons: Mapping[str, bytes]) -> list[KeyFrom]:
    """The log's keys, oldest first.

    Parameters
    ----------
    entries : iterable of Entry
        The shop's chain, from a record that was verified *with* ``persons`` as keys.
    persons : mapping
        Key id → public key of the persons who may sign.

    Raises
    ------
    RecordBroken
        A rotation that one person did alone, that is not signed, or that does not follow from the key before.
    """
    held: list[KeyFrom] = []
    proposals: dict[str, Entry] = {}
    for entry in entries:
        body = entry.body
        if entry.kind == "key.created":
            if held:
                raise _wrong(entry, say("record.key_created_twice"))
            held.append(KeyFrom(_key(entry, body.get("key")), entry.no, (entry.by,)))
        elif entry.kind == "key.rotation_proposed":
            if len(str(body.get("because", "")).strip()) < REASON_MIN:
                raise _wrong(entry, say("record.rotation_reason_too_short", least=REASON_MIN))
            _signed(entry, persons)
            proposals[entry.id] = entry
        elif entry.kind == "key.rotated":
            _signed(entry, persons)
            proposal = proposals.get(str(body.get("proposal")))
            if proposal is None or proposal.digest != body.get("proposal_digest"):
                raise _wrong(entry, say("record.rotation_proposal_missing"))
            if proposal.by == entry.by or proposal.sig["key"] == entry.sig["key"]:  # type: ignore[index]
                raise _wrong(entry, say("record.rotation_by_one_person", by=entry.by))
            if (proposal.body.get("old"), proposal.body.get("new")) != (body.get("old"), body.get("new")):
                raise _wrong(entry, say("record.rotation_keys_differ"))
            if not held or held[-1].key.text != body.get("old"):
                raise _wrong(entry, say("record.rotation_old_key_differs"))
            held.append(KeyFrom(_key(entry, body.get("new")), entry.no, (proposal.by, entry.by)))
    return held


def _key(entry: Entry, text: object) -> NoteKey:
    try:
        return read_key(str(text))
    except BenchError as fault:
        raise _wrong(entry, fault.message) from None


def _signed(entry: Entry, persons: Mapping[str, bytes]) -> None:
    if entry.sig is None:
        raise _wrong(entry, say("record.entry_unsigned"))
    if entry.sig["key"] not in persons:
        raise _wrong(entry, say("record.entry_key_unknown", key=entry.sig['key']))


def _wrong(entry: Entry, why: str) -> RecordBroken:
    return RecordBroken(f"event {entry.no}", say("record.key_entry_does_not_count", no=entry.no, kind=entry.kind, why=why))
