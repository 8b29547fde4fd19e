"""How is a key written down so that it outlives the machine it was made on?

    secret_text(name, seed)     one line, for the key file (mode 0600, outside data folder and backups)
    paper_copy(name, seed)      for an envelope in the cabinet; every line carries its own check (here of the seed 00 01 … 1f):

        Sound Edge key  kelderbeck-basin.example/ledger
        1  0001020304050607  26
        2  08090a0b0c0d0e0f  75
        3  1011121314151617  ab
        4  18191a1b1c1d1e1f  16
        Public fingerprint  cb39 f0f6 d246 b033 0680 73b7 28cf 5b70

A line typed in wrongly is named by its number. This room makes no random numbers: the seed is 32 bytes from
the operating system, drawn where the clock and the disk are.
"""

from __future__ import annotations

import hashlib
import re

from ..basis.errors import Missing, Unreadable
from ..basis.sentences import say
from .note import LOG, NoteKey, _b64, _bytes
from .sign import public_of

_TITLE = "Sound Edge key  "
_LINE = re.compile(r"([1-4])\s+([0-9a-f]{16})\s+([0-9a-f]{2})\Z")


def key_of(name: str, seed: bytes, type: int = LOG) -> NoteKey:
    """The public key of a seed of 32 bytes.

    Raises
    ------
    Unreadable
        The name holds a space or a plus.
    """
    return NoteKey(name, public_of(seed), type)


def secret_text(name: str, seed: bytes, type: int = LOG) -> str:
    """The private key as one line: ``PRIVATE+KEY+name+id+base64``, the form other log tools read too."""
    return f"PRIVATE+KEY+{name}+{key_of(name, seed, type).id.hex()}+{_b64(bytes([type]) + seed)}"


def read_secret(text: str) -> tuple[str, bytes, int]:
    """Name, seed and type of a private key's line.

    Raises
    ------
    Unreadable
        It is not one, or its id does not fit. The message never shows the key.
    """
    wrong = Unreadable("key", say("record.key_file_unreadable"))
    parts = text.strip().split("+", 4)
    if len(parts) != 5 or parts[:2] != ["PRIVATE", "KEY"]:
        raise wrong
    raw = _bytes(parts[4])
    if raw is None or len(raw) != 33 or raw[0] not in (1, 4):
        raise wrong
    if key_of(parts[2], raw[1:], raw[0]).id.hex() != parts[3]:
        raise wrong
    return parts[2], raw[1:], raw[0]


def paper_copy(name: str, seed: bytes) -> str:
    """The seed in four lines that a person can type in again."""
    lines = [f"{n + 1}  {seed[8 * n : 8 * n + 8].hex()}  {_check(n, seed)}" for n in range(4)]
    return "\n".join([_TITLE + name, *lines, f"Public fingerprint  {key_of(name, seed).fingerprint}"]) + "\n"


def read_paper_copy(text: str) -> tuple[str, bytes]:
    """Name and seed of a paper copy that was typed in.

    Raises
    ------
    Missing
        A line is not there.
    Unreadable
        A line's check does not fit, or the fingerprint is another.
    """
    name, parts, fingerprint = "", {}, ""
    for line in text.strip().splitlines():
        tidy = " ".join(line.split())
        found = _LINE.match(tidy.lower())
        if found:
            parts[int(found[1]) - 1] = (bytes.fromhex(found[2]), found[3])
        elif tidy.lower().startswith("sound edge key "):
            name = tidy[len("Sound Edge key "):]
        elif tidy.lower().startswith("public fingerprint "):
            fingerprint = tidy.lower()[len("public fingerprint "):]
    missing = [str(n + 1) for n in range(4) if n not in parts]
    if missing or not name:
        what = say("record.paper_line", number=missing[0]) if missing else say("record.paper_name_line")
        raise Missing("key", say("record.paper_copy_incomplete", what=what))
    seed = b"".join(parts[n][0] for n in range(4))
    for n in range(4):
        if parts[n][1] != _check(n, seed):
            raise Unreadable("key", say("record.paper_line_check_differs", line=n + 1))
    if fingerprint and fingerprint != key_of(name, seed).fingerprint:
        raise Unreadable("key", say("record.paper_fingerprint_differs"))
    return name, seed


def _check(n: int, seed: bytes) -> str:
    return hashlib.sha256(bytes([n]) + seed[8 * n : 8 * n + 8]).hexdigest()[:2]
