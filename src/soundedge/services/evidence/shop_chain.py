"""What the shop itself writes into its ledger, beside the jobs.

Its own chain, under the job name ``shop``:

    key.created            the log's key and the certificate's fingerprint, before the first thing is sealed
    certificate.issued     {certificate, job, verdict, record_sha256, pdf_sha256}: the finished PDF's own digest
    backup.made            {events, root, files}: a copy that was opened and verified
    key.rotation_proposed, key.rotated       a new log key, signed by two people
    restore.proposed, ledger.restored        an older ledger was put in place on purpose, signed by two people
    person.…, device.…, instrument.…, lot.…, procedure.…    the register (history/register.py), by who changed it

What two people sign counts only when both signatures hold under keys that lie outside the ledger (person_keys.py).
"""

from __future__ import annotations

import secrets
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from ...basis.errors import Conflict, NotEnough, RecordBroken, Unknown
from ...basis.sentences import say
from ...record.checkpoint import Checkpoint
from ...record.entry import Entry, Said
from ...record.keys import key_of, read_secret
from ...record.note import NoteKey, read_key
from ...record.rotation import REASON_MIN, SHOP, keys_of
from ...record.sign import sign_event
from ...record.verify import verify
from ...store.ledger import Ledger
from ..files import read_text
from .key_files import move_private
from .keyring import LOG, NEXT, Keys, add_public, load
from .ledger_place import open_ledger
from .person_keys import person_keys, two_people
from .records import BENCH


@dataclass(frozen=True)
class Restored:
    """A restore that two people declared: how many events were there, and which checkpoints it contradicts."""

    no: int
    at: str
    by: tuple[str, str]
    because: str
    kept_events: int
    contradicts: frozenset[tuple[int, str]]

    @property
    def sentence(self) -> str:
        """One sentence for people."""
        lost = max((size for size, _ in self.contradicts), default=self.kept_events) - self.kept_events
        gone = f"; {lost} later entries are lost" if lost > 0 else ""
        who = " and ".join(self.by)
        return f"Restored to {self.kept_events} entries on {self.at[:10]}, declared by {who}{gone}: {self.because}"


def chain(ledger: Ledger, persons: Mapping[str, bytes] | None = None) -> list[Entry]:
    """The shop's own chain, verified; the signatures too when the persons' keys are given."""
    try:
        raw = ledger.record(SHOP).raw
    except Unknown:
        return []
    return list(verify(raw, keys=persons).entries())


def trusted(entries: Sequence[Entry], persons: Mapping[str, bytes], outside: Sequence[NoteKey]) -> list[NoteKey]:
    """The log's public keys: those that lie outside the ledger, and those the chain leads to from them.

    Without any outside, those the chain names: better than nothing, and enough to see an old copy, but not enough against
    somebody who rewrote the whole.
    """
    if not outside:
        texts = [entry.body.get("key" if entry.kind == "key.created" else "new") for entry in entries
                 if entry.kind in ("key.created", "key.rotated")]
        return [read_key(str(text)) for text in texts]
    try:
        held = [one.key for one in keys_of(entries, persons)]
    except RecordBroken:
        held = []
    return list(dict.fromkeys([*outside, *(held if set(held) & set(outside) else [])]))


def enrol(ledger: Ledger, keys: Keys, *, now: datetime) -> Keys:
    """See that the ledger counts the key at hand; write ``key.created`` when it counts none yet.

    Returns
    -------
    Keys
        The same, or read again when a rotation that was cut short has been finished.

    Raises
    ------
    Conflict
        The ledger counts another key.
    RecordBroken
        A rotation in the chain does not count.
    """
    from ...report.sign import fingerprint

    entries = chain(ledger, keys.persons)
    held = keys_of(entries, keys.persons)
    if not held:
        body = {"key": keys.key.text}
        if keys.signing:
            body["certificate_fingerprint"] = fingerprint(keys.signing.certificate_pem)
        write(ledger, "key.created", body, now=now)
        return keys
    counts = held[-1].key
    if counts == keys.key:
        return keys
    waiting = keys.folder / NEXT
    if waiting.exists():
        origin, seed, _ = read_secret(read_text(waiting, what="The next log key", field="keys"))
        if key_of(origin, seed) == counts:
            return put_next_in_place(keys)
    raise Conflict(
        "keys", say("evidence.log_key_differs", fingerprint=counts.fingerprint, folder=keys.folder,
                    found=keys.key.fingerprint),
    )


def write(
    ledger: Ledger, kind: str, body: dict[str, Any], *, now: datetime, id: str = "", at: datetime | None = None,
    by: str = BENCH, on_head: str | None = None,
) -> Entry:
    """Add one event to the shop's chain, by the bench or by the person named. The same id with the same content is one."""
    return ledger.append(SHOP, [Said(id or _fresh_id(kind), kind, by, at or now, body)], now=now, on_head=on_head)[0]


def declare_restored(
    ledger: Ledger, keys: Keys, who: Iterable[tuple[str, str]], because: str, *, size: int,
    contradicted: Sequence[tuple[str, Checkpoint]], now: datetime,
) -> Restored:
    """Write down, signed by two people, that this older ledger is the one that counts from now on.

    Parameters
    ----------
    size : int
        How many events the ledger holds now.
    contradicted : sequence of (str, Checkpoint)
        The checkpoints it does not continue, and who keeps them.

    Raises
    ------
    Refused, NotEnough
        Not two people, a wrong passphrase, no reason. Nothing was written.
    """
    people = two_people(who, folder=keys.folder)
    check_reason(because)
    body = {
        "kept_events": size,
        "contradicts": [{"who": name, "events": point.size, "root": point.root.hex()} for name, point in contradicted],
    }
    _by_two(ledger, people, ("restore.proposed", "ledger.restored"), body, because, now=now)
    held = keys_of(chain(ledger, keys.persons), keys.persons)
    if held and held[-1].key != keys.key:  # a new key was among what is lost
        change_key(ledger, people, held[-1].key, keys.key, because, now=now)
    return restores(chain(ledger, keys.persons), keys.persons)[-1]


def restores(entries: Iterable[Entry], persons: Mapping[str, bytes]) -> list[Restored]:
    """The restores that two people declared; what one person declared alone, or with a key that is nobody's, is left out."""
    found: list[Restored] = []
    proposals = {}
    for entry in entries:
        if entry.kind == "restore.proposed":
            proposals[entry.id] = entry
        if entry.kind != "ledger.restored":
            continue
        first = proposals.get(str(entry.body.get("proposal")))
        if first is None or not _two_signed(first, entry, persons):
            continue
        try:
            points = frozenset((int(p["events"]), str(p["root"])) for p in first.body["contradicts"])
            found.append(Restored(entry.no, entry.recorded_at, (first.by, entry.by), str(first.body["because"]),
                                  int(first.body["kept_events"]), points))
        except (KeyError, TypeError, ValueError):
            raise RecordBroken(f"event {entry.no}", say("evidence.shop_entry_body_differs", no=entry.no,
                                                              kind=entry.kind)) from None
    return found


def restored_since(data: Path, job: str) -> list[str]:
    """One sentence for each restore that two people have declared since a job was opened; they are printed on its page."""
    with open_ledger(data, make=False) as ledger:
        opened = ledger.record(job).entries[0].recorded_at
        people = person_keys()
        return [one.sentence for one in restores(chain(ledger, people), people) if one.at >= opened]


def _two_signed(first: Entry, second: Entry, persons: Mapping[str, bytes]) -> bool:
    signed = [entry.sig["key"] for entry in (first, second) if entry.sig]
    return (
        len(signed) == 2 and signed[0] != signed[1] and first.by != second.by
        and all(key in persons for key in signed)
        and second.body.get("proposal_digest") == first.digest
    )


def _by_two(
    ledger: Ledger, people: Sequence[tuple[str, bytes]], kinds: tuple[str, str], body: dict[str, Any], because: str, *,
    now: datetime,
) -> None:
    (one, one_seed), (other, other_seed) = people
    first = _signed(ledger, kinds[0], one, one_seed, body | {"because": because.strip()}, now)
    same = {key: body[key] for key in ("old", "new") if key in body}
    _signed(ledger, kinds[1], other, other_seed, same | {"proposal": first.id, "proposal_digest": first.digest}, now)


def _signed(ledger: Ledger, kind: str, by: str, seed: bytes, body: dict[str, Any], now: datetime) -> Entry:
    head = ledger.head(SHOP)
    fact = Said(_fresh_id(kind), kind, by, now, body)
    signature = sign_event(seed, SHOP, fact, prev=head)
    return ledger.append(SHOP, [fact], now=now, on_head=head, signatures={fact.id: signature})[0]


def put_next_in_place(keys: Keys) -> Keys:
    """The next key becomes the key. It counts in the ledger already."""
    origin, seed, _ = read_secret(read_text(keys.folder / NEXT, what="The next log key", field="keys"))
    add_public(keys.folder, key_of(origin, seed))
    move_private(keys.folder / NEXT, keys.folder / LOG)
    return load(keys.folder)


def change_key(
    ledger: Ledger, people: Sequence[tuple[str, bytes]], old: NoteKey, new: NoteKey, because: str, *, now: datetime
) -> None:
    """Write down, signed by two people, that another log key counts from now on."""
    _by_two(ledger, people, ("key.rotation_proposed", "key.rotated"), {"old": old.text, "new": new.text}, because, now=now)


def check_reason(because: str) -> None:
    """Raises NotEnough when the reason is too short to be one."""
    if len(because.strip()) < REASON_MIN:
        raise NotEnough("because", say("evidence.reason_too_short", n=len(because.strip()), least=REASON_MIN))


def _fresh_id(kind: str) -> str:
    return f"{kind.split('.')[-1]}-{secrets.token_hex(8)}"


