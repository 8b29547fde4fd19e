"""What stands in the square code on a certificate, so that paper can be checked without any server?

A signed claim, one line of text with bars between its parts:

    SE1|log|certificate|part|verdict|date|released by|record digest|size|root|signature

The reader compares the words with the paper by eye and checks the signature with the shop's key. At most
331 bytes, so that it fits a QR code of version 13 (69 modules, error level M): with its margin of four
modules on each side 38.5 mm at 0.5 mm a module. The whole proof would need over 60 mm; it lies beside the PDF.

Record digest and root are cut to 16 bytes: finding another record for a given one takes 2^128 tries, and anyone
who writes both needs 2^64 tries to make them match. The full digests are on the page and in the proof file.
"""

from __future__ import annotations

import base64
import re
from dataclasses import dataclass

from ..basis.errors import OutOfRange, RecordBroken, Unreadable
from ..basis.sentences import say
from .checkpoint import Checkpoint
from .note import NoteKey
from .sign import bytes_hold, sign_bytes

CLAIM_MAX_BYTES = 331
_PREFIX = b"soundedge-claim-1\n"
_MARK = "SE1"
_DATE = re.compile(r"\d{4}-\d\d-\d\d\Z")
_SIZE = re.compile(r"(0|[1-9][0-9]{0,14})\Z")


@dataclass(frozen=True)
class Claim:
    """What a certificate claims, short enough for a square code. ``record`` and ``root`` hold 16 bytes."""

    origin: str
    certificate: str
    part: str
    verdict: str
    date: str
    released_by: str
    record: bytes
    size: int
    root: bytes

    @property
    def sentence(self) -> str:
        """The words to compare with the paper."""
        return (
            f"{self.origin} claims: certificate {self.certificate}, part {self.part}, {self.verdict.replace('_', ' ')} on "
            f"{self.date} by {self.released_by}; record {self.record.hex()}. Compare each of these with the paper."
        )


def make_claim(
    point: Checkpoint, seed: bytes, *, certificate: str, part: str, verdict: str, date: str, released_by: str, record: str
) -> str:
    """The claim's text, signed with the log's key.

    Parameters
    ----------
    point : Checkpoint
        The checkpoint that holds the release.
    seed : bytes
        The log key's private seed.
    date : str
        2031-05-04.
    record : str
        SHA-256 of the record, 64 hex digits.

    Raises
    ------
    Unreadable
        A part holds a bar or a line end.
    OutOfRange
        The whole is longer than 331 bytes.
    """
    parts = [_MARK, point.origin, certificate, part, verdict, date, released_by, _b64(bytes.fromhex(record)[:16]),
             str(point.size), _b64(point.root[:16])]
    for text in parts:
        if not text or "|" in text or not text.isprintable():
            raise Unreadable("claim", say("record.claim_part_form", text=text[:60]))
    said = "|".join(parts)
    whole = f"{said}|{_b64(sign_bytes(seed, _PREFIX + said.encode()))}"
    if len(whole.encode()) > CLAIM_MAX_BYTES:
        raise OutOfRange("claim", say("record.claim_too_long", n=len(whole.encode()), most=CLAIM_MAX_BYTES))
    return whole


def read_claim(text: str, keys: list[NoteKey]) -> Claim:
    """Check a claim read from a square code.

    Raises
    ------
    Unreadable
        It is not a claim.
    RecordBroken
        No given key of that log signed it.
    """
    wrong = Unreadable("claim", say("record.claim_form"))
    parts = text.split("|")
    if len(text) > 2 * CLAIM_MAX_BYTES or len(parts) != 11 or parts[0] != _MARK or not text.isprintable():
        raise wrong
    record, root, signature = (_bytes(parts[n]) for n in (7, 9, 10))
    if (record is None or root is None or signature is None or [len(record), len(root), len(signature)] != [16, 16, 64]
            or not _DATE.match(parts[5]) or not _SIZE.match(parts[8])):
        raise wrong
    said = text.rpartition("|")[0]
    if not any(key.name == parts[1] and bytes_hold(key.public, signature, _PREFIX + said.encode()) for key in keys):
        raise RecordBroken("claim", say("record.claim_key_unknown", signer=parts[1][:60]))
    return Claim(parts[1], parts[2], parts[3], parts[4], parts[5], parts[6], record, int(parts[8]), root)


def _b64(raw: bytes) -> str:
    return base64.urlsafe_b64encode(raw).decode().rstrip("=")


def _bytes(text: str) -> bytes | None:
    try:
        raw = base64.urlsafe_b64decode(text + "=" * (-len(text) % 4))
    except ValueError:
        return None
    return raw if _b64(raw) == text else None
