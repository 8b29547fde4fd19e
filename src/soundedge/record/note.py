"""How is a short text signed so that people can read it and programs of others can check it?

The signed note of C2SP: the text, an empty line, then one line for each signature:

    kelderbeck-basin.example/ledger
    4712
    CsUYapGGPo4dkMgIAUqom/Xajj7h2fB2MPA3j2jxq2I=

    — kelderbeck-basin.example/ledger Az3grl…

A key is written ``name+keyid+base64(type ‖ public key)``; type 1 is the log's own Ed25519 signature, type 4
a witness's Ed25519 co-signature, which carries its time. A signature by a key the reader does not know says
nothing and is listed as such; one by a known key must hold.

References
----------
C2SP signed-note and tlog-cosignature (github.com/C2SP/C2SP, at 05528762 and 01194db1).
"""

from __future__ import annotations

import base64
import binascii
import hashlib
import re
from collections.abc import Sequence
from dataclasses import dataclass

from ..basis.errors import RecordBroken, Unreadable
from ..basis.sentences import say
from .sign import bytes_hold, public_of, sign_bytes

LOG, WITNESS = 1, 4
SIGNATURES_MAX = 32
NOTE_MAX_BYTES = 100_000
_NAME = re.compile(r"[^\s+]{1,120}\Z")


@dataclass(frozen=True)
class NoteKey:
    """A public key with its name. ``type`` is 1 (log) or 4 (witness)."""

    name: str
    public: bytes
    type: int = LOG

    def __post_init__(self) -> None:
        if not _NAME.match(self.name):
            raise Unreadable("key", say("record.key_name_form", name=self.name[:60]))
        assert len(self.public) == 32 and self.type in (LOG, WITNESS), self

    @property
    def id(self) -> bytes:
        """The four bytes by which a signature line names the key."""
        return hashlib.sha256(self.name.encode() + b"\n" + bytes([self.type]) + self.public).digest()[:4]

    @property
    def text(self) -> str:
        """``name+keyid+base64``, to be written down and handed out."""
        return f"{self.name}+{self.id.hex()}+{_b64(bytes([self.type]) + self.public)}"

    @property
    def fingerprint(self) -> str:
        """Eight groups of four hex digits of the SHA-256 of type and public key: to be printed and compared by eye."""
        digest = hashlib.sha256(bytes([self.type]) + self.public).hexdigest()
        return " ".join(digest[n : n + 4] for n in range(0, 32, 4))


@dataclass(frozen=True)
class Signature:
    """One signature of a note that holds: by whom and, for a witness, when (seconds since 1970)."""

    name: str
    type: int
    time_s: int | None = None


@dataclass(frozen=True)
class Note:
    """An opened note: its text, the signatures that hold, the names nobody here knows."""

    text: str
    signed: tuple[Signature, ...]
    unknown: tuple[str, ...]


def read_key(text: str) -> NoteKey:
    """A key from ``name+keyid+base64``.

    Raises
    ------
    Unreadable
        It is not written so, or its id does not fit.
    """
    wrong = Unreadable("key", say("record.key_form", text=text[:80]))
    parts = text.split("+", 2)
    if len(parts) != 3 or not _NAME.match(parts[0]):
        raise wrong
    raw = _bytes(parts[2])
    if raw is None or len(raw) != 33 or raw[0] not in (LOG, WITNESS):
        raise wrong
    key = NoteKey(parts[0], raw[1:], raw[0])
    if key.id.hex() != parts[1]:
        raise Unreadable("key", say("record.key_id_differs", key=parts[0][:60]))
    return key


def sign_note(text: str, name: str, seed: bytes) -> str:
    """A note with one signature by a log key.

    Parameters
    ----------
    text : str
        Lines, each ended by a line end.
    name : str
        The key's name.
    seed : bytes
        The private seed, 32 bytes.
    """
    _check_text(text)
    key = NoteKey(name, public_of(seed))
    return f"{text}\n— {name} {_b64(key.id + sign_bytes(seed, text.encode()))}\n"


def cosign(note: str, name: str, seed: bytes, *, time_s: int) -> str:
    """The note with a witness's signature added, which says when the witness saw it.

    Raises
    ------
    Unreadable
        It is not a note.
    """
    text, _ = _split(note)
    key = NoteKey(name, public_of(seed), WITNESS)
    signature = sign_bytes(seed, _witnessed(text, time_s))
    return f"{note}— {name} {_b64(key.id + time_s.to_bytes(8, 'big') + signature)}\n"


def open_note(note: str | bytes, keys: Sequence[NoteKey], *, all_known: bool = False) -> Note:
    """Check a note against the keys one trusts.

    Parameters
    ----------
    note : str or bytes
        At most 100 000 bytes.
    keys : sequence of NoteKey
        Known from elsewhere: a printed certificate, a letter. Never from the same file.
    all_known : bool
        Refuse a note that carries a signature by a key not given.

    Returns
    -------
    Note

    Raises
    ------
    RecordBroken
        A signature of a known key does not hold, or no known key signed it.
    Unreadable
        It is not a note.
    """
    text, lines = _split(note)
    known = {(key.name, key.id): key for key in keys}
    signed: list[Signature] = []
    unknown: list[str] = []
    for name, raw in lines:
        key = known.get((name, raw[:4]))
        if key is None:
            unknown.append(name)
            continue
        time_s, signature, message = None, raw[4:], text.encode()
        if key.type == WITNESS:
            time_s, signature = int.from_bytes(raw[4:12], "big"), raw[12:]
            message = _witnessed(text, time_s)
        if len(signature) != 64 or not bytes_hold(key.public, signature, message):
            raise RecordBroken("note", say("record.note_signature_broken", name=name))
        if any(s.name == name and s.type == key.type for s in signed):
            raise RecordBroken("note", say("record.note_signature_twice", name=name))
        signed.append(Signature(name, key.type, time_s))
    if not signed:
        raise RecordBroken("note", say("record.note_key_untrusted", signers=', '.join(unknown)[:120]))
    if unknown and all_known:
        raise RecordBroken("note", say("record.note_signature_unknown", unknown=unknown[0][:60]))
    return Note(text, tuple(signed), tuple(unknown))


def _witnessed(text: str, time_s: int) -> bytes:
    return f"cosignature/v1\ntime {time_s}\n{text}".encode()


def _split(note: str | bytes) -> tuple[str, list[tuple[str, bytes]]]:
    wrong = Unreadable("note", say("record.note_form"))
    try:
        whole = note.decode("utf-8") if isinstance(note, bytes) else note
        size = len(note if isinstance(note, bytes) else note.encode("utf-8"))
    except UnicodeError:
        raise wrong from None
    if size > NOTE_MAX_BYTES or "\n\n— " not in whole or not whole.endswith("\n"):
        raise wrong
    text, _, rest = whole.rpartition("\n\n")
    text += "\n"
    _check_text(text)
    lines = []
    for line in rest[:-1].split("\n"):
        parts = line.split(" ")
        if len(parts) != 3 or parts[0] != "—" or not _NAME.match(parts[1]):
            raise wrong
        raw = _bytes(parts[2])
        if raw is None or len(raw) < 5:
            raise wrong
        lines.append((parts[1], raw))
    if len(lines) > SIGNATURES_MAX:
        raise Unreadable("note", say("record.note_too_many_signatures", n=len(lines), most=SIGNATURES_MAX))
    return text, lines


def _check_text(text: str) -> None:
    if not text.endswith("\n") or any(c < " " and c != "\n" for c in text):
        raise Unreadable("note", say("record.note_text_form"))


def _b64(raw: bytes) -> str:
    return base64.b64encode(raw).decode()


def _bytes(text: str) -> bytes | None:
    """Base64, only in its one form: no spare bits, no other alphabet."""
    try:
        raw = base64.b64decode(text, validate=True)
    except (binascii.Error, ValueError):
        return None
    return raw if _b64(raw) == text else None
