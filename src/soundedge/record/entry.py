"""The record: what was seen, done and decided on one job, in order, for good.

A record is one JSON document in one exact form (RFC 8785: keys sorted, no spaces, UTF-8; here also no
floats, ASCII keys, NFC texts). Its first byte is ``{``, its last byte is ``}``; no line end follows.

    {"events":[E1,E2,…,En],"format":"soundedge-record-1","head":{…}}

Each event E is an object with exactly these keys:

    at           when its author says it happened (claimed): UTC, 2031-05-04T08:10:00Z
    body         what was seen, done or decided; measured numbers are decimal strings, "19.8"
    by           the person who says so
    id           the event's own name in its job; whoever sends it twice under one id sends one event
    job          the job's number, the same in every event
    kind         what happened, past tense, dotted: air.read, layer.fused, entry.corrected
    no           1, 2, 3, … without a gap
    prev         SHA-256, in lower-case hex, of the bytes of the event before; 64 zeros in the first
    recorded_at  when it was written down: UTC with milliseconds; never before the event before it
    sig          (only when signed) {"key": …, "value": …}, a person's signature; see sign.py

and the head closes the record:

    digest       SHA-256 of the bytes of the last event
    events       how many there are
    job          the job's number
    check        SHA-256 of the head's bytes without this key; tells a damaged head from a damaged event

Nothing is ever removed or overwritten. A mistake is corrected by a later event: ``entry.corrected`` with
entry, field, old, new and the reason; ``entry.voided`` with the reason.

What it cannot do. The chain shows that nobody changed a byte *after* somebody else saw the last digest.
Alone it proves nothing against its owner: whoever has the file can rewrite it all, and the new one
holds. Whole rewrites, and a tail cut off with a new head, are caught only by something outside: a
printed certificate, a checkpoint that a witness keeps (checkpoint.py), a signature whose key is not on
that machine. And no record can tell whether the number typed in is the number the gauge showed.

How it may change. A later version may add kinds of events and keys inside a body; a reader keeps what it
does not know. Anything that would break a reader changes ``format``. No kind ever gets another meaning.

Limits: an event holds at most 4 000 000 bytes, nested at most 32 deep.
"""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, Protocol

from ..basis.errors import Missing, OutOfRange, Unreadable
from ..basis.quantity import NotThat, instant_text, read_instant
from ..basis.sentences import say
from .canonical import canonical, plain

FORMAT = "soundedge-record-1"
START = '{"events":['
NOBODY_BEFORE = "0" * 64
EVENT_MAX_BYTES = 4_000_000
RECORD_MAX_BYTES = 400_000_000
KEYS = ["at", "body", "by", "id", "job", "kind", "no", "prev", "recorded_at"]
SIGNED_KEYS = [*KEYS, "sig"]
KIND = re.compile(r"[a-z][a-z0-9_]*(?:\.[a-z][a-z0-9_]*)+\Z")
HEX64 = re.compile(r"[0-9a-f]{64}\Z")
RECORDED_AT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z\Z")
AT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(?:\.\d{1,6})?Z\Z")


class Fact(Protocol):
    """What somebody says happened, before it has a place in the record. ``job.events.Event`` is one."""

    @property
    def id(self) -> str: ...
    @property
    def kind(self) -> str: ...
    @property
    def by(self) -> str: ...
    @property
    def at(self) -> datetime | str: ...
    @property
    def body(self) -> Any: ...


@dataclass(frozen=True)
class Said:
    """A fact as a plain value, where no other type of event is at hand."""

    id: str
    kind: str
    by: str
    at: datetime | str
    body: Any


@dataclass(frozen=True)
class Entry:
    """One event in its place in the record. ``raw`` is its bytes; everything else is read from them."""

    raw: bytes
    no: int
    job: str
    id: str
    kind: str
    by: str
    at: str
    recorded_at: str
    prev: str
    body: Any
    sig: dict[str, str] | None = None

    @property
    def digest(self) -> str:
        """SHA-256 of the event's bytes, 64 hex digits."""
        return hashlib.sha256(self.raw).hexdigest()


def statement(job: str, fact: Fact) -> dict[str, Any]:
    """What the author says: the event without its place (no, prev, recorded_at). Strictly checked.

    Raises
    ------
    BenchError
        A missing or unreadable id, kind, by, at or body.
    """
    for name, text in (("job", job), ("id", fact.id), ("by", fact.by)):
        if not isinstance(text, str) or not 1 <= len(text) <= 120 or not text.strip():
            raise Missing(name, say("record.entry_key_not_text", key=name, text=text))
    if not isinstance(fact.kind, str) or len(fact.kind) > 60 or not KIND.match(fact.kind):
        raise Unreadable("kind", say("record.kind_form", kind=fact.kind))
    try:
        at = instant_text(read_instant(fact.at))
    except NotThat as fault:
        raise Unreadable("at", fault.message) from None
    body = plain(fact.body)
    if not isinstance(body, dict):
        raise Unreadable("body", say("record.body_not_an_object", entry=fact.id))
    said: dict[str, Any] = plain({"at": at, "by": fact.by, "id": fact.id, "job": job, "kind": fact.kind})
    return said | {"body": body}


def placed(said: dict[str, Any], *, no: int, prev: str, recorded_at: str, sig: dict[str, str] | None = None) -> Entry:
    """A statement put in its place in the record.

    Raises
    ------
    OutOfRange
        The event is larger than 4 000 000 bytes.
    """
    assert no >= 1 and HEX64.match(prev) and RECORDED_AT.match(recorded_at), (no, prev, recorded_at)
    whole = said | {"no": no, "prev": prev, "recorded_at": recorded_at} | ({"sig": sig} if sig else {})
    raw = canonical(whole)
    if len(raw) > EVENT_MAX_BYTES:
        raise OutOfRange("body", say("record.entry_too_long", entry=said['id'], n=len(raw), most=EVENT_MAX_BYTES))
    return entry_of(whole, raw)


def entry_of(value: dict[str, Any], raw: bytes) -> Entry:
    """The entry of an event that was read and checked already."""
    return Entry(
        raw, value["no"], value["job"], value["id"], value["kind"], value["by"], value["at"], value["recorded_at"],
        value["prev"], value["body"], value.get("sig"),
    )


def recorded_text(now: datetime, *, not_before: str = "") -> str:
    """The moment of recording as text: UTC, milliseconds, never before the entry before.

    >>> recorded_text(datetime(2031, 5, 4, 8, 10, 0, 1999, tzinfo=UTC))
    '2031-05-04T08:10:00.001Z'
    >>> recorded_text(datetime(2030, 1, 1, tzinfo=UTC), not_before="2031-05-04T08:10:00.001Z")
    '2031-05-04T08:10:00.001Z'
    """
    moment = now if now.tzinfo else now.replace(tzinfo=UTC)
    moment = moment.astimezone(UTC)
    text = f"{moment:%Y-%m-%dT%H:%M:%S}.{moment.microsecond // 1000:03d}Z".rjust(24, "0")
    return max(text, not_before)
