"""Does this record still say what it said? If not, which event fails?

The bytes are compared, not the objects read from them: every event must be exactly the canonical form of
what it says, must carry the number of its place, the digest of the bytes before it, and a time that does
not run backwards; the head must be exactly what follows from the events. So no single changed byte
passes, and the event in which it was changed is named.

    held = verify(raw)
    held.sentence      'Record KBW-2031-014 holds: 42 events, unchanged under head 5a1c…; …'
    list(held.entries())

One event is read at a time and dropped again, so a record of 100 000 events needs little memory; where the events lie one by
one, as in a store, ``verified_one_by_one`` does not need the whole file either.
"""

from __future__ import annotations

import base64
import binascii
import hashlib
import json
import re
from collections import deque
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from ..basis.errors import BenchError, RecordBroken
from ..basis.sentences import say
from .canonical import DEPTH_MAX, WHOLE_MAX, check, fast_text, quoted
from .entry import (
    AT,
    EVENT_MAX_BYTES,
    FORMAT,
    HEX64,
    KEYS,
    KIND,
    NOBODY_BEFORE,
    RECORD_MAX_BYTES,
    RECORDED_AT,
    SIGNED_KEYS,
    START,
    Entry,
    entry_of,
)
from .write import tail


@dataclass(frozen=True)
class Verified:
    """A record that holds. ``digest`` is the SHA-256 of the whole file, ``head`` that of its last event.

    ``signed`` counts the events with a person's signature, ``signatures_checked`` those whose key was given.
    """

    raw: bytes
    job: str
    events: int
    head: str
    last_recorded_at: str
    signed: int
    signatures_checked: int

    @property
    def digest(self) -> str:
        """SHA-256 of the whole file, 64 hex digits."""
        return hashlib.sha256(self.raw).hexdigest()

    @property
    def core(self) -> str:
        """The sentence every verifier says, this one and the page ``verify.html``, in the same words."""
        return (f"Record {self.job} holds: {self.events} {'entries' if self.events > 1 else 'entry'}, none changed under head "
                f"{self.head[:16]}.")

    @property
    def sentence(self) -> str:
        """What holds, and what was not looked at."""
        signatures = ""
        if self.signed:
            signatures = f" {self.signatures_checked} of {self.signed} signatures were checked against given keys and are good."
        return (
            f"{self.core} It was last written down {self.last_recorded_at}.{signatures} "
            "Whether the whole was written anew, only a witness can tell: compare the head with a printed certificate. "
            "Whether it has been replaced since, only the shop can tell."
        )

    def entries(self) -> Iterator[Entry]:
        """The entries, read from exactly the bytes that were verified."""
        text = self.raw.decode("utf-8")
        at = len(START)
        while True:
            value, end = _scan(text, at)
            yield entry_of(value, text[at:end].encode("utf-8"))
            if text[end] != ",":
                return
            at = end + 1


def verify(raw: bytes, *, keys: Mapping[str, bytes] | None = None) -> Verified:
    """Check the bytes of a ``record.json``.

    Parameters
    ----------
    raw : bytes
        The file, whole; at most 400 000 000 bytes.
    keys : mapping, optional
        Key id → public Ed25519 key (32 bytes) of the persons whose signatures are to be checked. A signature
        under a key that is not given is counted, not checked.

    Returns
    -------
    Verified

    Raises
    ------
    RecordBroken
        Exit code 4. ``field`` is ``event 7`` or ``head``; the message names number and kind of the event
        that does not hold and says what about it.
    """
    if len(raw) > RECORD_MAX_BYTES:
        raise RecordBroken("file", say("record.record_too_long", n=len(raw), most=RECORD_MAX_BYTES))
    walk = _Walk(bytes(raw), keys or {})
    return walk.through()


def verified_one_by_one(pieces: Iterable[bytes]) -> Iterator[dict[str, Any]]:
    """The events of one job from their own bytes, each given out once it was checked as ``verify`` checks it.

    Which event is named, and why, may differ from what ``verify`` says of the whole file: it also looks at what comes next.

    Raises
    ------
    RecordBroken
        An event that does not hold, or no event at all.
    """
    return _Walk(b"", {}).checked(_apart(pieces))


def kind_at(piece: str) -> str:
    """The kind an event's text seems to carry, even when it cannot be read any more."""
    found = re.findall(r'"kind":"([a-z0-9_.]{1,60})","no":', piece)
    return found[-1] if found else "kind not readable"


class _Walk:
    """One walk over the bytes, from the first to the last."""

    def __init__(self, raw: bytes, keys: Mapping[str, bytes]) -> None:
        self.raw = raw
        self.keys = keys
        try:
            self.text = raw.decode("utf-8")
            self.whole = True
        except UnicodeDecodeError:  # walk on; the event that holds the bad byte is named when it is reached
            self.text = raw.decode("utf-8", "surrogateescape")
            self.whole = False
        self.signed = self.checked_signatures = self.no = self.at = self.end = 0
        self.job = self.kind = self.digest = self.time = ""

    def through(self) -> Verified:
        if not self.text.startswith(START):
            self._wrong_start()
        deque(self.checked(self._in_text()), maxlen=0)
        self._check_tail()
        return Verified(self.raw, self.job, self.no, self.digest, self.time, self.signed, self.checked_signatures)

    def checked(self, events: Iterable[tuple[dict[str, Any], str]]) -> Iterator[dict[str, Any]]:
        """Each event, with the text it was read from, once it is what it must be in its place."""
        whole, sha = self.whole, hashlib.sha256
        known: tuple[set[str], set[str], set[str]] = (set(), set(), set())
        no, digest, kind, time, ids = 0, NOBODY_BEFORE, "", "", set()
        kinds, people, moments = known
        first_job: str | None = None
        for event, piece in events:
            no += 1
            try:
                said_at, by, name, job = event["at"], event["by"], event["id"], event["job"]
                own_kind, recorded_at, body = event["kind"], event["recorded_at"], event["body"]
                # what these words must be in this place, byte for byte; only then is anything looked at more closely
                due = (
                    f'{{"at":{quoted(said_at)},"body":{fast_text(body)},"by":{quoted(by)},"id":{quoted(name)},'
                    f'"job":{quoted(job)},"kind":{quoted(own_kind)},"no":{no},"prev":"{digest}",'
                    f'"recorded_at":{quoted(recorded_at)}}}'
                )
            except (KeyError, TypeError):
                due = ""
            except RecursionError as fault:
                raise self._unreadable(no, self.at, fault) from None
            own = piece.encode() if whole else piece.encode("utf-8", "surrogateescape")
            own_digest = sha(own).hexdigest()
            if piece != due:
                if due and "sig" in event and piece == f'{due[:-1]},"sig":{fast_text(event["sig"])}}}':
                    self.signed += 1
                else:
                    raise self._why(no, event, piece, kind, digest, own_digest)
            if (not whole or not piece.isascii() or "\\" in piece or "\x7f" in piece
                    or piece.count("[") + piece.count("{") > DEPTH_MAX):
                self._check_texts(no, event, piece)
            if recorded_at != time or own_kind not in kinds or by not in people or said_at not in moments:
                self._check_form(no, event, known)  # what was found in order in an earlier event is not looked at again
            if not 0 < len(name) <= 120 or type(body) is not dict:
                raise _broken(no, own_kind, say("record.entry_id_or_body_form"))
            if job != first_job:
                if first_job is not None or not 0 < len(job) <= 120:
                    raise _broken(no, own_kind, say("record.entry_of_another_job", job=ascii(job)[:60],
                                                    first_job=ascii(first_job)[:60]))
                first_job = job
            if recorded_at < time:
                raise _broken(no, own_kind, say("record.recorded_before_previous", recorded_at=recorded_at, previous=time))
            if name in ids:
                raise _broken(no, own_kind, say("record.entry_id_twice", id=name[:60]))
            if len(own) > EVENT_MAX_BYTES:
                raise _broken(no, own_kind, say("record.entry_bytes_too_many", n=len(own), most=EVENT_MAX_BYTES))
            ids.add(name)
            digest, kind, time = own_digest, own_kind, recorded_at
            if len(event) == 10:
                self._check_signature(no, event)
            yield event
        assert first_job is not None
        self.no, self.job, self.kind, self.digest, self.time = no, first_job, kind, digest, time

    def _in_text(self) -> Iterator[tuple[dict[str, Any], str]]:
        """The events as they stand in the whole file; ``end`` is where the last one ended."""
        text, at, no = self.text, len(START), 0
        while True:
            no, self.at = no + 1, at
            try:
                event, end = _scan(text, at)
            except (ValueError, StopIteration, RecursionError) as fault:
                raise self._unreadable(no, at, fault) from None
            if type(event) is not dict:
                raise self._unreadable(no, at, None)
            self.end = end
            yield event, text[at:end]
            if text[end : end + 1] != ",":
                return
            at = end + 1

    def _why(
        self, no: int, event: dict[str, Any], piece: str, kind_before: str, digest: str, own_digest: str
    ) -> RecordBroken:
        """An event is not what it must be in its place. What about it is not?"""
        if fast_text(event) != piece:
            return _broken(no, kind_at(piece), say("record.entry_not_canonical"))
        names = list(event)
        if names not in (KEYS, SIGNED_KEYS):
            return _broken(no, kind_at(piece), say("record.entry_keys_differ", names=ascii(names)[:200], keys=', '.join(KEYS)))
        self._check_texts(no, event, piece)
        self._check_form(no, event, (set(), set(), set()))
        kind, prev = event["kind"], event["prev"]
        for name in ("id", "job"):
            if type(event[name]) is not str:
                return _broken(no, kind, say("record.entry_part_not_text", key=name))
        if type(event["no"]) is not int:
            return _broken(no, kind, say("record.entry_number_form"))
        if event["no"] != no:
            return _broken(no, kind, say("record.entry_number_differs", no=event['no']))
        assert prev != digest
        return self._wrong_link(no, kind, kind_before, prev, own_digest)

    def _check_form(self, no: int, event: dict[str, Any], known: tuple[set[str], set[str], set[str]]) -> None:
        """Forms of kind, by, at and recorded_at; what is in order is remembered."""
        kind, by, at, recorded_at = event["kind"], event["by"], event["at"], event["recorded_at"]
        if type(kind) is not str or not KIND.match(kind):
            raise _broken(no, say("record.kind_unreadable"), say("record.entry_kind_form"))
        if type(by) is not str or not 0 < len(by) <= 120:
            raise _broken(no, kind, say("record.entry_by_form"))
        if type(recorded_at) is not str or not RECORDED_AT.match(recorded_at) or not _is_a_moment(recorded_at):
            raise _broken(no, kind, say("record.recorded_at_form"))
        if type(at) is not str or not AT.match(at) or not _is_a_moment(at):
            raise _broken(no, kind, say("record.entry_at_form"))
        for text, seen in zip((kind, by, at), known, strict=True):
            if len(seen) > 20_000:
                seen.clear()
            seen.add(text)

    def _check_texts(self, no: int, event: dict[str, Any], piece: str) -> None:
        """The slower look at events that hold more than plain ASCII."""
        try:
            piece.encode("utf-8")
        except UnicodeEncodeError:
            raise _broken(no, kind_at(piece), say("record.entry_not_utf8")) from None
        try:
            check(event)
        except BenchError as fault:
            raise _broken(no, kind_at(piece), say("record.entry_form", why=fault.message)) from None

    def _check_signature(self, no: int, event: dict[str, Any]) -> None:
        from .sign import signature_holds

        sig = event["sig"]
        if type(sig) is not dict or list(sig) != ["key", "value"]:
            raise _broken(no, event["kind"], say("record.signature_keys_differ"))
        for text in sig.values():
            if type(text) is not str:
                raise _broken(no, event["kind"], say("record.signature_not_text"))
        try:
            value = base64.b64decode(sig["value"], validate=True)
        except (binascii.Error, ValueError):
            value = b""
        if len(value) != 64 or base64.b64encode(value).decode() != sig["value"]:
            raise _broken(no, event["kind"], say("record.signature_form"))
        if sig["key"] in self.keys:
            if not signature_holds(self.keys[sig["key"]], value, event):
                raise _broken(no, event["kind"], say("record.signature_of_another_key", key=sig['key'][:40]))
            self.checked_signatures += 1

    def _check_tail(self) -> None:
        """What follows the last event must be exactly what follows from the events."""
        no, kind, job, digest = self.no, self.kind, self.job, self.digest
        found, due = self.text[self.end:], tail(job, no, digest)
        if found == due:
            return
        opening = f'],"format":"{FORMAT}","head":{{"check":"'
        if not found.startswith("]"):
            raise _broken(no, kind, say("record.entry_followed_by_other"))
        if found.startswith(due):
            raise RecordBroken("file", say("record.record_end_changed", n=len(found) - len(due)))
        if not found.startswith(opening):
            raise RecordBroken("head", say("record.head_format_missing", format=FORMAT))
        try:
            head = json.loads(found[len(opening) - len('{"check":"'):-1])
            own = {key: head[key] for key in ("digest", "events", "job")}
            sound = len(head) == 4 and tail(own["job"], own["events"], own["digest"]) == found
        except (ValueError, KeyError, TypeError, RecursionError, BenchError):
            sound = False
        if not sound:
            raise RecordBroken("head", say("record.head_check_differs"))
        if own["events"] != no:
            raise RecordBroken(
                f"event {no + 1 if own['events'] > no else no}",
                say("record.record_count_differs", events=own['events'], no=no, kind=kind),
            )
        if own["digest"] != digest:
            raise _broken(no, kind, say("record.head_digest_differs"))
        raise RecordBroken("head", say("record.head_of_another_job", job=job[:60]))

    def _wrong_start(self) -> None:
        if self.raw.startswith(b"\xef\xbb\xbf"):
            raise RecordBroken("file", say("record.record_byte_order_mark"))
        if self.text.startswith('{"at":', len(START)):
            raise RecordBroken("file", say("record.record_start_changed", start=START))
        raise RecordBroken("file", say("record.not_a_record", start=START))

    def _unreadable(self, no: int, at: int, fault: Exception | None) -> RecordBroken:
        if self.text.startswith("]", at) and no == 1:
            return RecordBroken("file", say("record.record_without_entries"))
        rest = self.text[at:]
        mark = re.search(rf'"kind":"([a-z0-9_.]{{1,60}})","no":{no},"prev"', rest)
        piece = mark[0] if mark else rest[:EVENT_MAX_BYTES].split('},{"at":"')[0]
        why = say("record.entry_not_json")
        if isinstance(fault, ValueError) and not isinstance(fault, json.JSONDecodeError):
            why = say("record.entry_holds", what=fault)
        if not rest:
            return RecordBroken(f"event {no}", say("record.entry_missing_at_end", no=no))
        return _broken(no, kind_at(piece), why)

    def _wrong_link(self, no: int, kind: str, kind_before: str, prev: Any, own_digest: str) -> RecordBroken:
        """A link that does not fit: was the event before changed, or this one's prev?

        If this one was changed, the next one does not know it either."""
        if type(prev) is not str or not HEX64.match(prev):
            return _broken(no, kind, say("record.entry_link_form"))
        if no == 1:
            return _broken(no, kind, say("record.first_entry_link"))
        fits, end = False, self.end
        try:
            if self.text.startswith(",{", end):
                fits = _scan(self.text, end + 1)[0]["prev"] == own_digest
            else:
                fits = f'"digest":"{own_digest}"' in self.text[end:]
        except (ValueError, StopIteration, RecursionError, BenchError, KeyError, TypeError):
            pass
        if fits:
            return _broken(no - 1, kind_before, say("record.entry_digest_differs", no=no, kind=kind))
        return _broken(no, kind, say("record.previous_digest_differs", no=no - 1))


def _apart(pieces: Iterable[bytes]) -> Iterator[tuple[dict[str, Any], str]]:
    """Events that lie one by one."""
    no = 0
    for no, piece in enumerate(pieces, 1):
        try:
            text = piece.decode("utf-8")
            event, end = _scan(text, 0)
        except (ValueError, StopIteration, RecursionError):
            event, end, text = None, 0, ""
        if type(event) is not dict or end != len(text):
            raise _broken(no, kind_at(text), say("record.entry_not_json"))
        yield event, text
    if not no:
        raise RecordBroken("file", say("record.record_without_entries"))


def _is_a_moment(text: str) -> bool:
    """Whether the calendar and the clock have it: no 30 February, no 24:00, no figures but 0 to 9."""
    try:
        return datetime.fromisoformat(text[:19]).isoformat() == text[:19]
    except ValueError:
        return False


def _broken(no: int, kind: str, why: str) -> RecordBroken:
    return RecordBroken(f"event {no}", say("record.entry_broken", no=no, kind=kind, why=why))


def _no_float(text: str) -> Any:
    raise ValueError(f"the float {text[:24]}, where a decimal string belongs")


def _whole_number(text: str) -> int:
    if len(text) > 15 and (len(text) > 17 or abs(int(text)) > WHOLE_MAX):
        raise ValueError("a whole number beyond 2^53 - 1")
    return int(text)


_reader: Any = json.JSONDecoder(parse_float=_no_float, parse_int=_whole_number, parse_constant=_no_float)
_scan = _reader.scan_once
